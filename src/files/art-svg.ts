import {
  PDFDict,
  PDFDocument,
  PDFName,
  type PDFContext,
  type PDFObject,
  type PDFRef,
} from '@cantoo/pdf-lib';
import svgpath from 'svgpath';
import { Refusal } from '../base/reason.ts';
import { IDENTITY, mapPoint, times, type Affine } from '../geometry/affine.ts';
import { elementsOf, type Element } from './svg-tree.ts';

/**
 * Resolves an SVG to groups, paths, pictures, gradients, patterns, clips and masks alone ("Micro SVG", documentation of usvg);
 * throws where it cannot be read. Passed in: the library loads differently by surroundings.
 */
export type ResolveSvg = (bytes: Uint8Array) => Promise<string>;

/** CSS px to points: 96 and 72 to the inch (CSS Values and Units 3, 6.2). */
const POINTS_PER_PX = 72 / 96;

/** Names of what is on the page and would be lost or changed, each once. */
function lostOf(root: Element): string[] {
  const lost = new Set<string>();
  const visit = (e: Element, hidden: boolean, font: string): void => {
    const style = e.attributes.get('style') ?? '';
    const said = (name: string): string | undefined =>
      new RegExp(`(?:^|;)\\s*${name}\\s*:\\s*([^;]+)`).exec(style)?.[1] ?? e.attributes.get(name);
    if (hidden || said('display')?.trim() === 'none') return;
    const family = said('font-family')?.replace(/["']/g, '').trim() ?? font;
    const words = e.text.trim();
    if ((e.name === 'text' || e.name === 'tspan' || e.name === 'textPath') && words !== '')
      lost.add(`words in the font ${family === '' ? 'that the viewer chooses' : family}`);
    if (e.name === 'foreignObject') lost.add('a part that is no SVG (foreignObject)');
    const href = e.attributes.get('href');
    if (e.name === 'image' && href !== undefined && !href.startsWith('data:'))
      lost.add(`a picture that is in another file (${href.slice(-40)})`);
    for (const child of e.children) visit(child, false, family);
  };
  visit(root, false, '');
  return [...lost];
}

/**
 * An SVG as a PDF of one page of its own size, every path a path. Colours are taken as sRGB, as SVG has them.
 *
 * @throws Refusal `artwork-damaged`, and `svg-cannot` with the names of what would be lost: words (whose letters are not in the
 *   file), filters, pictures in other files, gradients that repeat
 */
export async function pageOfSvg(
  bytes: Uint8Array,
  file: string,
  resolve: ResolveSvg,
): Promise<Uint8Array> {
  let root: Element;
  try {
    const lost = lostOf(elementsOf(new TextDecoder().decode(bytes)));
    if (lost.length > 0) throw new Refusal('svg-cannot', { file, what: lost.join('; ') });
    root = elementsOf(await resolve(bytes));
  } catch (error) {
    if (error instanceof Refusal) throw error;
    throw new Refusal('artwork-damaged', { file, why: (error as Error).message ?? String(error) });
  }
  const { widthPx, heightPx, map } = viewOf(root);
  const doc = await PDFDocument.create();
  const [w, h] = [widthPx * POINTS_PER_PX, heightPx * POINTS_PER_PX];
  const page = doc.addPage([w, h]);
  // The flip to y up.
  const base = times([POINTS_PER_PX, 0, 0, -POINTS_PER_PX, 0, h], map);
  const canvas = new Canvas(doc, definitionsOf(root), file, base, [0, 0, w, h]);
  canvas.add(`${base.map(number).join(' ')} cm`);
  await canvas.draw(root.children);
  const { lines, resources } = canvas;
  page.node.set(PDFName.of('Resources'), resources);
  page.node.set(PDFName.Contents, doc.context.register(doc.context.flateStream(lines.join('\n'))));
  return doc.save({ useObjectStreams: false });
}

/** The size of a resolved SVG, CSS px, and how its own units lie in it (SVG 1.1, 7.8). */
function viewOf(root: Element): { widthPx: number; heightPx: number; map: Affine } {
  const [widthPx, heightPx] = [figureOf(root, 'width', 0), figureOf(root, 'height', 0)];
  const view = (root.attributes.get('viewBox') ?? '')
    .trim()
    .split(/[\s,]+/)
    .map(Number);
  if (view.length !== 4 || !view.every(Number.isFinite))
    return { widthPx, heightPx, map: IDENTITY };
  const [x, y, w, h] = view as [number, number, number, number];
  const said = root.attributes.get('preserveAspectRatio') ?? 'xMidYMid meet';
  const [kx, ky] = [widthPx / w, heightPx / h];
  if (said.startsWith('none')) return { widthPx, heightPx, map: [kx, 0, 0, ky, -x * kx, -y * ky] };
  const k = said.includes('slice') ? Math.max(kx, ky) : Math.min(kx, ky);
  const share = (of: string): number => (of === 'Min' ? 0 : of === 'Max' ? 1 : 0.5);
  const [, alongX = 'Mid', alongY = 'Mid'] = /x(M..)Y(M..)/.exec(said) ?? [];
  const map: Affine = [
    k,
    0,
    0,
    k,
    share(alongX) * (widthPx - k * w) - k * x,
    share(alongY) * (heightPx - k * h) - k * y,
  ];
  return { widthPx, heightPx, map };
}

function definitionsOf(root: Element): ReadonlyMap<string, Element> {
  const found = new Map<string, Element>();
  const visit = (e: Element): void => {
    const id = e.attributes.get('id');
    if (id !== undefined) found.set(id, e);
    e.children.forEach(visit);
  };
  visit(root);
  return found;
}

type Bounds = readonly [left: number, bottom: number, right: number, top: number];

const number = (v: number): string => {
  const text = v.toFixed(6).replace(/\.?0+$/, '');
  return text === '-0' ? '0' : text;
};
const figureOf = (e: Element, name: string, otherwise: number): number => {
  const v = Number.parseFloat(e.attributes.get(name) ?? '');
  return Number.isFinite(v) ? v : otherwise;
};

/** A `transform` attribute as one map. */
function mapOf(text: string | undefined): Affine {
  if (text === undefined || text.trim() === '') return IDENTITY;
  const [, inner] = /^\s*matrix\(([^)]*)\)\s*$/.exec(text) ?? [];
  if (inner)
    return inner
      .trim()
      .split(/[\s,]+/)
      .map(Number) as unknown as Affine;
  const out: number[] = [];
  svgpath('M0 0L1 0L0 1')
    .transform(text)
    .abs()
    .iterate((s) => void out.push(Number(s[1]), Number(s[2])));
  const [e, f, x1, y1, x2, y2] = out as [number, number, number, number, number, number];
  return [x1 - e, y1 - f, x2 - e, y2 - f, e, f];
}

/** The operators of a path, and the box of its outline (curves by their extremes). */
function pathOf(d: string): { operators: string[]; box: Bounds } {
  const operators: string[] = [];
  let [left, bottom, right, top] = [Infinity, Infinity, -Infinity, -Infinity];
  let [x, y] = [0, 0];
  let [x0, y0] = [0, 0];
  const reach = (px: number, py: number): void => {
    left = Math.min(left, px);
    right = Math.max(right, px);
    bottom = Math.min(bottom, py);
    top = Math.max(top, py);
  };
  const curve = (p: readonly number[]): void => {
    const [x1, y1, x2, y2, x3, y3] = p as [number, number, number, number, number, number];
    const at = (t: number, a: number, b: number, c: number, e: number): number =>
      (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t * t * c + t ** 3 * e;
    for (const [a, b, c, e] of [
      [x, x1, x2, x3],
      [y, y1, y2, y3],
    ] as const) {
      // Where the derivative, a square, is nothing.
      const [k2, k1, k0] = [e - 3 * c + 3 * b - a, 2 * (c - 2 * b + a), b - a];
      const root = Math.sqrt(k1 * k1 - 4 * k2 * k0);
      const turns =
        Math.abs(k2) < 1e-12 ? [-k0 / k1] : [(-k1 + root) / (2 * k2), (-k1 - root) / (2 * k2)];
      for (const t of turns) if (t > 0 && t < 1) reach(at(t, x, x1, x2, x3), at(t, y, y1, y2, y3));
    }
    operators.push(`${p.map(number).join(' ')} c`);
    [x, y] = [x3, y3];
    reach(x, y);
  };
  svgpath(d)
    .abs()
    .unshort()
    .unarc()
    .iterate((segment) => {
      const [kind, ...p] = segment as [string, ...number[]];
      if (kind === 'Z' || kind === 'z') {
        operators.push('h');
        [x, y] = [x0, y0];
      } else if (kind === 'C') curve(p);
      else if (kind === 'Q') {
        const [qx, qy, ex, ey] = p as [number, number, number, number];
        const third = (a: number, b: number): number => a + (2 / 3) * (b - a);
        curve([third(x, qx), third(y, qy), third(ex, qx), third(ey, qy), ex, ey]);
      } else {
        [x, y] = kind === 'H' ? [p[0]!, y] : kind === 'V' ? [x, p[0]!] : [p[0]!, p[1]!];
        if (kind === 'M') [x0, y0] = [x, y];
        operators.push(`${number(x)} ${number(y)} ${kind === 'M' ? 'm' : 'l'}`);
        reach(x, y);
      }
    });
  return { operators, box: [left, bottom, right, top] };
}

const idIn = (text: string | undefined): string | undefined =>
  /url\(\s*["']?#([^"')]+)["']?\s*\)/.exec(text ?? '')?.[1];

/** Names of blend modes in PDF (ISO 32000-1, 11.3.5): as in CSS, without the hyphens. */
const blendName = (css: string): string =>
  css
    .split('-')
    .map((part) => part[0]!.toUpperCase() + part.slice(1))
    .join('');

/** What is drawn into one page or form: operators, and the resources that they name. */
class Canvas {
  readonly lines: string[] = [];
  readonly resources: PDFDict;
  /** From where it is drawn to the space of the page or form. */
  #ctm: Affine;
  readonly #context: PDFContext;

  constructor(
    readonly doc: PDFDocument,
    readonly definitions: ReadonlyMap<string, Element>,
    readonly file: string,
    ctm: Affine,
    /** Of the page or form, in its own space. */
    readonly box: Bounds,
    /** Colours are lightness alone: what is drawn is a mask. */
    readonly grey = false,
  ) {
    this.#context = doc.context;
    this.#ctm = ctm;
    this.resources = doc.context.obj({}) as PDFDict;
  }

  add(...lines: string[]): void {
    this.lines.push(...lines);
  }

  #cannot(what: string): never {
    throw new Refusal('svg-cannot', { file: this.file, what });
  }

  /** Puts something among the resources; its name. */
  #resource(kind: string, letter: string, what: PDFObject): string {
    const key = PDFName.of(kind);
    let dict = this.resources.lookupMaybe(key, PDFDict);
    if (!dict) {
      dict = this.#context.obj({}) as PDFDict;
      this.resources.set(key, dict);
    }
    const name = `${letter}${dict.keys().length}`;
    dict.set(PDFName.of(name), what);
    return `/${name}`;
  }

  #state(entries: Readonly<Record<string, unknown>>): void {
    this.add(`${this.#resource('ExtGState', 'G', this.#context.obj(entries as never))} gs`);
  }

  /** Draws in a space of its own, and comes back. */
  async #within(map: Affine, work: () => Promise<void>): Promise<void> {
    const before = this.#ctm;
    this.add('q');
    if (map !== IDENTITY) {
      this.add(`${map.map(number).join(' ')} cm`);
      this.#ctm = times(before, map);
    }
    await work();
    this.add('Q');
    this.#ctm = before;
  }

  /** A form that draws elements in the space that is in force, as a transparency group. */
  async #form(elements: readonly Element[], grey: boolean, isolated = true): Promise<PDFRef> {
    // The form's space is the one it is used in; patterns in it count from there.
    const box = this.#boxHere();
    const own = new Canvas(this.doc, this.definitions, this.file, IDENTITY, box, grey);
    await own.draw(elements);
    return this.#formOf(own, isolated);
  }

  #formOf(own: Canvas, isolated: boolean): PDFRef {
    const CS = own.grey ? 'DeviceGray' : 'DeviceRGB';
    return this.#context.register(
      this.#context.flateStream(own.lines.join('\n'), {
        Type: 'XObject',
        Subtype: 'Form',
        FormType: 1,
        BBox: [...own.box],
        Resources: own.resources,
        Group: { Type: 'Group', S: 'Transparency', CS, I: isolated, K: false },
      }),
    );
  }

  /** The box of the page or form as it is seen from the space in force. */
  #boxHere(): Bounds {
    const [a, b, c, d, e, f] = this.#ctm;
    const det = a * d - b * c;
    if (Math.abs(det) < 1e-12) return this.box;
    const back: Affine = [
      d / det,
      -b / det,
      -c / det,
      a / det,
      (c * f - d * e) / det,
      (b * e - a * f) / det,
    ];
    return boxThrough(back, this.box);
  }

  async draw(elements: readonly Element[]): Promise<void> {
    for (const e of elements) {
      if (e.attributes.get('visibility') === 'hidden') continue;
      if (e.name === 'g') await this.#group(e);
      else if (e.name === 'path')
        await this.#within(mapOf(e.attributes.get('transform')), () => this.#path(e));
      else if (e.name === 'image')
        await this.#within(mapOf(e.attributes.get('transform')), () => this.#image(e));
      else if (e.name !== 'defs') this.#cannot(`an element ${e.name}`);
    }
  }

  async #group(e: Element): Promise<void> {
    if (e.attributes.has('filter') && e.attributes.get('filter') !== 'none')
      this.#cannot('a filter (blur, shadow or another effect of pixels)');
    const style = e.attributes.get('style') ?? '';
    const [, blend = 'normal'] = /mix-blend-mode\s*:\s*([a-z-]+)/.exec(style) ?? [];
    const isolated = /isolation\s*:\s*isolate/.test(style);
    const opacity = figureOf(e, 'opacity', 1);
    await this.#within(mapOf(e.attributes.get('transform')), async () => {
      await this.#clip(e);
      const mask = this.#defined(e.attributes.get('mask'));
      if (!mask && opacity === 1 && blend === 'normal' && !isolated) {
        await this.draw(e.children);
        return;
      }
      const form = await this.#form(e.children, this.grey);
      if (mask) await this.#mask(mask, e);
      this.#state({ ca: opacity, CA: opacity, BM: blendName(blend) });
      this.add(`${this.#resource('XObject', 'X', form)} Do`);
    });
  }

  #defined(reference: string | undefined): Element | undefined {
    const id = idIn(reference);
    return id === undefined ? undefined : this.definitions.get(id);
  }

  /** From the unit square to a box, where a definition counts in shares of what it is used for. */
  #shares(definition: Element, attribute: string, otherwise: string, box: () => Bounds): Affine {
    const units = definition.attributes.get(attribute) ?? otherwise;
    if (units !== 'objectBoundingBox') return IDENTITY;
    const [left, bottom, right, top] = box();
    return [right - left, 0, 0, top - bottom, left, bottom];
  }

  /** Clips what follows; several shapes, or one that is itself clipped, as a mask, which holds their union exactly. */
  async #clip(e: Element): Promise<void> {
    const clip = this.#defined(e.attributes.get('clip-path'));
    if (!clip) return;
    const map = times(
      mapOf(clip.attributes.get('transform')),
      this.#shares(clip, 'clipPathUnits', 'userSpaceOnUse', () => boundsOf(e.children)),
    );
    const shapes = clip.children.filter((c) => c.attributes.get('visibility') !== 'hidden');
    const [only] = shapes;
    if (!only) {
      // Nothing is inside of no shape.
      this.add('0 0 m W n');
      return;
    }
    const nested = this.#defined(clip.attributes.get('clip-path'));
    if (
      shapes.length === 1 &&
      !nested &&
      only.name === 'path' &&
      !only.attributes.has('clip-path')
    ) {
      const { operators } = pathOf(
        svgpath(only.attributes.get('d') ?? '')
          .matrix([...times(map, mapOf(only.attributes.get('transform')))])
          .toString(),
      );
      const rule = only.attributes.get('clip-rule') ?? only.attributes.get('fill-rule');
      this.add(...operators, rule === 'evenodd' ? 'W* n' : 'W n');
      return;
    }
    const white = (shape: Element): Element => ({
      ...shape,
      attributes: new Map([
        ...shape.attributes,
        ['fill', '#ffffff'],
        ['fill-rule', shape.attributes.get('clip-rule') ?? 'nonzero'],
      ]),
      children: shape.children.map(white),
    });
    const around: Element = {
      name: 'g',
      text: '',
      attributes: new Map([
        ['transform', `matrix(${map.join(' ')})`],
        ...(nested ? ([['clip-path', clip.attributes.get('clip-path')!]] as const) : []),
      ]),
      children: shapes.map(white),
    };
    this.#softMask(await this.#form([around], true), 'Luminosity');
  }

  #softMask(form: PDFRef, kind: 'Luminosity' | 'Alpha'): void {
    this.#state({ SMask: { Type: 'Mask', S: kind, G: form } });
  }

  async #mask(mask: Element, used: Element): Promise<void> {
    if (this.#defined(mask.attributes.get('mask'))) this.#cannot('a mask that is masked itself');
    const bounds = (): Bounds => boundsOf(used.children);
    const content = this.#shares(mask, 'maskContentUnits', 'userSpaceOnUse', bounds);
    const frame = this.#shares(mask, 'maskUnits', 'objectBoundingBox', bounds);
    const [x, y] = [figureOf(mask, 'x', -0.1), figureOf(mask, 'y', -0.1)];
    const [w, h] = [figureOf(mask, 'width', 1.2), figureOf(mask, 'height', 1.2)];
    const alpha = mask.attributes.get('mask-type') === 'alpha';
    const own = new Canvas(
      this.doc,
      this.definitions,
      this.file,
      IDENTITY,
      this.#boxHere(),
      !alpha,
    );
    const corners = pathOf(
      svgpath(`M${x} ${y}h${w}v${h}h${-w}z`)
        .matrix([...frame])
        .toString(),
    );
    own.add(...corners.operators, 'W n');
    const g: Element = {
      name: 'g',
      text: '',
      attributes: new Map([['transform', `matrix(${content.join(' ')})`]]),
      children: mask.children,
    };
    await own.draw([g]);
    this.#softMask(this.#formOf(own, true), alpha ? 'Alpha' : 'Luminosity');
  }

  async #path(e: Element): Promise<void> {
    const { operators, box } = pathOf(e.attributes.get('d') ?? '');
    if (operators.length === 0) return;
    const rule = e.attributes.get('fill-rule') === 'evenodd' ? 'f*' : 'f';
    const fill = async (): Promise<void> =>
      this.#paint(
        e.attributes.get('fill') ?? '#000000',
        figureOf(e, 'fill-opacity', 1),
        false,
        box,
        [...operators, rule],
      );
    const stroke = async (): Promise<void> => {
      const dashes = (e.attributes.get('stroke-dasharray') ?? '').split(/[\s,]+/).map(Number);
      const solid = dashes.some((v) => !Number.isFinite(v)) || dashes.every((v) => v === 0);
      const cap =
        { butt: 0, round: 1, square: 2 }[e.attributes.get('stroke-linecap') ?? 'butt'] ?? 0;
      const join =
        { miter: 0, round: 1, bevel: 2 }[e.attributes.get('stroke-linejoin') ?? 'miter'] ?? 0;
      await this.#paint(
        e.attributes.get('stroke') ?? 'none',
        figureOf(e, 'stroke-opacity', 1),
        true,
        box,
        [
          `${number(figureOf(e, 'stroke-width', 1))} w ${cap} J ${join} j ${number(figureOf(e, 'stroke-miterlimit', 4))} M`,
          `[${solid ? '' : dashes.map(number).join(' ')}] ${number(figureOf(e, 'stroke-dashoffset', 0))} d`,
          ...operators,
          'S',
        ],
      );
    };
    const both = e.attributes.get('paint-order')?.startsWith('stroke')
      ? [stroke, fill]
      : [fill, stroke];
    for (const paint of both) await paint();
  }

  async #paint(
    paint: string,
    opacity: number,
    stroked: boolean,
    box: Bounds,
    lines: readonly string[],
  ): Promise<void> {
    if (paint === 'none' || opacity === 0) return;
    await this.#within(IDENTITY, async () => {
      if (opacity < 1) this.#state(stroked ? { CA: opacity } : { ca: opacity });
      const server = this.#defined(paint);
      if (server) {
        const pattern = await this.#server(server, box);
        this.add(stroked ? `/Pattern CS ${pattern} SCN` : `/Pattern cs ${pattern} scn`);
      } else this.add(`${this.#colour(paint).map(number).join(' ')} ${this.#operator(stroked)}`);
      this.add(...lines);
    });
  }

  #operator = (stroked: boolean): string =>
    this.grey ? (stroked ? 'G' : 'g') : stroked ? 'RG' : 'rg';

  #colour(text: string): number[] {
    const [, hex] = /^#([0-9a-f]{6})/i.exec(text) ?? [];
    if (!hex) this.#cannot(`a colour "${text}"`);
    const [r, g, b] = [0, 2, 4].map((k) => parseInt(hex!.slice(k, k + 2), 16) / 255) as [
      number,
      number,
      number,
    ];
    // Lightness as SVG counts it in masks (SVG 2 by way of CSS Masking 1, 8.1).
    return this.grey ? [0.2125 * r + 0.7154 * g + 0.0721 * b] : [r, g, b];
  }

  /** A gradient or pattern as a pattern of this page or form; what fades is masked besides. */
  async #server(e: Element, box: Bounds): Promise<string> {
    if (e.name === 'pattern') return this.#tiles(e, box);
    const map = times(
      this.#shares(e, 'gradientUnits', 'objectBoundingBox', () => box),
      mapOf(e.attributes.get('gradientTransform')),
    );
    if ((e.attributes.get('spreadMethod') ?? 'pad') !== 'pad')
      this.#cannot('a gradient that repeats past its ends');
    const stops = e.children.filter((c) => c.name === 'stop');
    if (stops.some((s) => figureOf(s, 'stop-opacity', 1) < 1)) {
      const own = new Canvas(
        this.doc,
        this.definitions,
        this.file,
        IDENTITY,
        this.#boxHere(),
        true,
      );
      const fading = this.#shading(e, stops, (s) => [figureOf(s, 'stop-opacity', 1)], 'DeviceGray');
      own.add(`${map.map(number).join(' ')} cm`, `${own.#resource('Shading', 'S', fading)} sh`);
      this.#softMask(this.#formOf(own, true), 'Luminosity');
    }
    const space = this.grey ? 'DeviceGray' : 'DeviceRGB';
    const shading = this.#shading(
      e,
      stops,
      (s) => this.#colour(s.attributes.get('stop-color') ?? '#000000'),
      space,
    );
    const Matrix = [...times(this.#ctm, map)];
    const pattern = this.#context.obj({
      Type: 'Pattern',
      PatternType: 2,
      Matrix,
      Shading: shading,
    });
    return this.#resource('Pattern', 'P', this.#context.register(pattern));
  }

  #shading(
    e: Element,
    stops: readonly Element[],
    valueOf: (stop: Element) => number[],
    space: string,
  ): PDFRef {
    const at = (name: string, otherwise = 0): number => figureOf(e, name, otherwise);
    const radial = e.name === 'radialGradient';
    const Coords = radial
      ? [at('fx', at('cx')), at('fy', at('cy')), 0, at('cx'), at('cy'), at('r')]
      : [at('x1'), at('y1'), at('x2'), at('y2')];
    const places = stops.map((s) => Math.min(1, Math.max(0, figureOf(s, 'offset', 0))));
    // The ends reach to 0 and 1 in the colour they have.
    const known = [
      { at: 0, value: valueOf(stops[0]!) },
      ...stops.map((s, k) => ({ at: places[k]!, value: valueOf(s) })),
      { at: 1, value: valueOf(stops.at(-1)!) },
    ];
    const spans = known
      .slice(1)
      .flatMap((to, k) => (to.at > known[k]!.at ? [[known[k]!, to]] : []));
    const between = spans.map(([from, to]) => ({
      FunctionType: 2,
      Domain: [0, 1],
      C0: from!.value,
      C1: to!.value,
      N: 1,
    }));
    const Function =
      between.length === 1
        ? between[0]!
        : {
            FunctionType: 3,
            Domain: [0, 1],
            Functions: between,
            Bounds: spans.slice(1).map(([from]) => from!.at),
            Encode: spans.flatMap(() => [0, 1]),
          };
    return this.#context.register(
      this.#context.obj({
        ShadingType: radial ? 3 : 2,
        ColorSpace: space,
        Coords,
        Function,
        Extend: [true, true],
      } as never),
    );
  }

  async #tiles(e: Element, box: Bounds): Promise<string> {
    if (e.attributes.has('viewBox')) this.#cannot('a pattern with a view of its own (viewBox)');
    const own = mapOf(e.attributes.get('patternTransform'));
    const frame = this.#shares(e, 'patternUnits', 'objectBoundingBox', () => box);
    const content = this.#shares(e, 'patternContentUnits', 'userSpaceOnUse', () => box);
    const [x, y] = [figureOf(e, 'x', 0), figureOf(e, 'y', 0)];
    const [left, bottom, right, top] = boxThrough(frame, [
      x,
      y,
      x + figureOf(e, 'width', 0),
      y + figureOf(e, 'height', 0),
    ]);
    const tile = new Canvas(
      this.doc,
      this.definitions,
      this.file,
      IDENTITY,
      [left, bottom, right, top],
      this.grey,
    );
    const g: Element = {
      name: 'g',
      text: '',
      attributes: new Map([['transform', `matrix(${content.join(' ')})`]]),
      children: e.children,
    };
    await tile.draw([g]);
    const stream = this.#context.flateStream(tile.lines.join('\n'), {
      Type: 'Pattern',
      PatternType: 1,
      PaintType: 1,
      TilingType: 1,
      BBox: [...tile.box],
      XStep: right - left,
      YStep: top - bottom,
      Resources: tile.resources,
      Matrix: [...times(this.#ctm, own)],
    });
    return this.#resource('Pattern', 'P', this.#context.register(stream));
  }

  async #image(e: Element): Promise<void> {
    const href = e.attributes.get('href') ?? '';
    const [, kind, data] = /^data:image\/(png|jpe?g);base64,([\s\S]*)$/i.exec(href) ?? [];
    if (!kind || !data)
      this.#cannot(
        `a picture of the kind ${/^data:([^;,]*)/.exec(href)?.[1] ?? 'that is elsewhere'}`,
      );
    const bytes = Uint8Array.from(atob(data!.replace(/\s/g, '')), (c) => c.charCodeAt(0));
    const image =
      kind!.toLowerCase() === 'png'
        ? await this.doc.embedPng(bytes)
        : await this.doc.embedJpg(bytes);
    await image.embed();
    const [x, y] = [figureOf(e, 'x', 0), figureOf(e, 'y', 0)];
    const [w, h] = [figureOf(e, 'width', image.width), figureOf(e, 'height', image.height)];
    const fits = e.attributes.get('preserveAspectRatio') ?? 'xMidYMid';
    if (fits !== 'none' && !/^xMidYMid( meet)?$/.test(fits))
      this.#cannot(`a picture cut to its frame (${fits})`);
    const k = Math.min(w / image.width, h / image.height);
    const [iw, ih] = fits === 'none' ? [w, h] : [k * image.width, k * image.height];
    const [left, bottom] = [x + (w - iw) / 2, y + (h - ih) / 2];
    // Pictures stand upright in a space whose y goes up; here it goes down.
    const map: Affine = [iw, 0, 0, -ih, left, bottom + ih];
    this.add(`${map.map(number).join(' ')} cm ${this.#resource('XObject', 'I', image.ref)} Do`);
  }
}

function boxThrough(map: Affine, [left, bottom, right, top]: Bounds): Bounds {
  const points = [
    [left, bottom],
    [right, bottom],
    [right, top],
    [left, top],
  ].map(([x, y]) => mapPoint<'bed'>(map, { x: x!, y: y! }));
  const [xs, ys] = [points.map((p) => p.x), points.map((p) => p.y)];
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}

/** The box of elements, strokes left aside, as `objectBoundingBox` means it (SVG 1.1, 7.11). */
function boundsOf(elements: readonly Element[]): Bounds {
  return elements
    .map((e): Bounds => {
      const [x, y] = [figureOf(e, 'x', 0), figureOf(e, 'y', 0)];
      const own =
        e.name === 'path'
          ? pathOf(e.attributes.get('d') ?? '').box
          : e.name === 'image'
            ? ([x, y, x + figureOf(e, 'width', 0), y + figureOf(e, 'height', 0)] as const)
            : boundsOf(e.children);
      return boxThrough(mapOf(e.attributes.get('transform')), own);
    })
    .reduce(
      (a, b) => [
        Math.min(a[0], b[0]),
        Math.min(a[1], b[1]),
        Math.max(a[2], b[2]),
        Math.max(a[3], b[3]),
      ],
      [Infinity, Infinity, -Infinity, -Infinity] as Bounds,
    );
}
