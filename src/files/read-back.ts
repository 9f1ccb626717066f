import DxfParser from 'dxf-parser';
import { XMLParser, XMLValidator } from 'fast-xml-parser';
import svgpath from 'svgpath';
import { MM_PER_POINT, type Point } from '../base/measure.ts';
import { IDENTITY, type Affine } from '../geometry/affine.ts';
import { Nearest } from '../geometry/nearest.ts';
import type { Ring } from '../geometry/shape.ts';
import { boardRing, seatHoles } from '../plan/board-on-bed.ts';
import type { BedPlan, PlacedPocket } from '../plan/plan.ts';
import type { Drawing } from './drawing.ts';
import { CHORD_MM } from './dxf.ts';
import { splinePoints, withBulges, type Entity } from './lines-dxf.ts';
import { paintedOfEps } from './lines-eps.ts';
import { PdfMatrix } from './pdf-matrix.ts';
import type { Pdfjs } from './pdfjs.ts';

/** A file must say the plan's figures to this, mm; what differs more is not offered. */
export const READ_BACK_MM = 0.001;

/** Whose reader it was: a library's, or ours, which shares nothing with the writer but the plan. */
export type Reader =
  'dxf-parser' | 'svgpath' | 'pdf.js' | 'fast-png' | 'fast-xml-parser' | 'JSON' | 'own';

/** What a reader found in a file: bed frame, mm. */
export interface Seen {
  readonly reader: Reader;
  readonly widthMm: number;
  readonly heightMm: number;
  readonly digest: string | undefined;
  /** Closed rings by layer, in the order of the file. */
  readonly layers: ReadonlyMap<string, readonly Ring<'bed'>[]>;
  /** Open lines by layer, in the order of the file. */
  readonly open: ReadonlyMap<string, readonly (readonly Point<'bed'>[])[]>;
  /** Its lines have arcs or splines, and so other vertices than the plan. */
  readonly curved?: boolean;
}

/** The evidence that a file says the same as the plan. */
export interface Proof {
  readonly file: string;
  readonly reader: Reader;
  readonly pockets: number;
  /** Greatest distance between a vertex in the file and in the plan, mm, page edges included. */
  readonly greatestMm: number;
}

export const dist = (a: Point<'bed'>, b: Point<'bed'>): number => Math.hypot(a.x - b.x, a.y - b.y);

export function fault(file: string, what: string): Error {
  return new Error(`${file} does not say what the plan says: ${what}. It is not offered.`);
}

/**
 * Holds what was read from a file against the drawing it was written from: page, digest, layers, every closed ring,
 * and open line, vertex by vertex. Where the file has arcs or splines, every vertex of the plan must lie on them, and they
 * must leave the plan's chords by no more than those leave the curve that they stand for.
 *
 * @throws Error (a fault of the program) when anything is missing or off by more than `READ_BACK_MM`
 */
export function prove(file: string, drawing: Drawing, seen: Seen): Proof {
  if (seen.digest !== drawing.digest) throw fault(file, `its digest reads ${seen.digest}`);
  let greatestMm = Math.max(
    Math.abs(seen.widthMm - drawing.widthMm),
    Math.abs(seen.heightMm - drawing.heightMm),
  );
  if (!(greatestMm <= READ_BACK_MM)) {
    throw fault(file, `its page is ${seen.widthMm.toFixed(3)} x ${seen.heightMm.toFixed(3)} mm`);
  }
  const pockets = new Set<string>();
  for (const { name, closed, open, arcs } of drawing.layers) {
    const rings = seen.layers.get(name);
    if (!rings) throw fault(file, `layer ${name} is missing`);
    const kinds = [
      ['closed', closed.map(({ ring }) => ring), rings],
      ['open', open, seen.open.get(name) ?? []],
    ] as const;
    for (const [kind, wanted, found] of kinds) {
      if (found.length !== wanted.length) {
        throw fault(file, `layer ${name} has ${found.length} ${kind} lines, not ${wanted.length}`);
      }
      wanted.forEach((line, k) => {
        const there = found[k]!;
        const pocket = kind === 'closed' ? closed[k]!.pocket : undefined;
        if (seen.curved || arcs) {
          const off = offCurve(
            kind === 'closed' ? line : toAndFro(line),
            kind === 'closed' ? there : toAndFro(there),
          );
          if (!(off <= READ_BACK_MM))
            throw fault(file, `layer ${name}, pocket ${pocket ?? 'none'} is off by ${off} mm`);
          greatestMm = Math.max(greatestMm, off);
          return;
        }
        if (there.length !== line.length) {
          throw fault(
            file,
            `${kind} line ${k + 1} of layer ${name} has ${there.length} vertices, not ${line.length}`,
          );
        }
        for (let i = 0; i < line.length; i++) {
          const off = dist(there[i]!, line[i]!);
          if (!(off <= READ_BACK_MM)) {
            throw fault(file, `layer ${name}, pocket ${pocket ?? 'none'} is off by ${off} mm`);
          }
          greatestMm = Math.max(greatestMm, off);
        }
      });
    }
    for (const { pocket } of closed) if (pocket !== undefined) pockets.add(pocket);
  }
  return { file, reader: seen.reader, pockets: pockets.size, greatestMm };
}

/** An open line as a closed one that runs back along itself. */
const toAndFro = (line: readonly Point<'bed'>[]): Ring<'bed'> => [
  ...line,
  ...line.slice(1, -1).reverse(),
];

/** Greatest distance of the plan's vertices from a curve, mm; what the curve leaves the chords by beyond `CHORD_MM` counts too. */
function offCurve(line: Ring<'bed'>, curve: Ring<'bed'>): number {
  const [toCurve, toLine] = [new Nearest([curve], 1), new Nearest([line], 1)];
  const greatest = (of: Ring<'bed'>, to: Nearest): number =>
    of.reduce((most, { x, y }) => Math.max(most, to.distance(x, y)), 0);
  return Math.max(greatest(line, toCurve), greatest(curve, toLine) - CHORD_MM);
}

export const digestIn = (text: string): string | undefined =>
  /[Dd]igest\W+([0-9a-f]{64})\b/.exec(text)?.[1];

/** Arcs and splines that were read become chords that leave them by at most this, mm. */
const FINE_MM = 0.0001;

/**
 * Reads a DXF with dxf-parser. The page is the ring on layer bed, else on layer board; the unit must be millimetres, but in R12 (AC1009), which
 * has no place to write one.
 */
export function seeDxf(bytes: Uint8Array, file: string): Seen {
  const text = new TextDecoder().decode(bytes);
  const found = new DxfParser().parseSync(text);
  if (!found) throw fault(file, 'the reader finds nothing in it');
  if (String(found.header.$ACADVER) !== 'AC1009' && found.header.$INSUNITS !== 4)
    throw fault(file, `its unit is ${String(found.header.$INSUNITS)}`);
  const layers = new Map<string, Ring<'bed'>[]>();
  const open = new Map<string, Ring<'bed'>[]>();
  for (const name of Object.keys(found.tables.layer.layers)) {
    layers.set(name, []);
    open.set(name, []);
  }
  let curved = false;
  for (const entity of found.entities as unknown as Entity[]) {
    const { type, layer = '', vertices = [], shape = false } = entity;
    if (type === 'LWPOLYLINE' || type === 'POLYLINE') {
      if (vertices.some(({ bulge }) => bulge)) curved = true;
      (shape ? layers : open).get(layer)?.push(withBulges(vertices, shape, FINE_MM));
    } else if (type === 'SPLINE') {
      curved = true;
      // It ends where it began.
      layers.get(layer)?.push(splinePoints(entity, FINE_MM).slice(0, -1));
    }
  }
  const bed = (layers.get('bed') ?? layers.get('board'))?.[0] ?? [];
  const [lowest, , highest] = bed;
  if (!lowest || !highest) throw fault(file, 'layer board has no bed');
  if (lowest.x !== 0 || lowest.y !== 0) throw fault(file, 'the bed does not begin at zero');
  return {
    reader: 'dxf-parser',
    widthMm: highest.x,
    heightMm: highest.y,
    digest: digestIn(text),
    layers,
    open,
    curved,
  };
}

interface XmlNode {
  readonly [tag: string]: unknown;
}
const attribute = (node: XmlNode, name: string): string | undefined => {
  const all = node[':@'] as Record<string, string> | undefined;
  return all?.[`@_${name}`];
};
const childrenOf = (node: XmlNode, tag: string): XmlNode[] => {
  const inner = node[tag];
  return Array.isArray(inner) ? (inner as XmlNode[]) : [];
};

/** Reads an SVG with an XML parser and a path parser. Layers are the groups' ids; y is turned up again. */
export function seeSvg(bytes: Uint8Array, file: string): Seen {
  const text = new TextDecoder().decode(bytes);
  const valid = XMLValidator.validate(text);
  if (valid !== true) throw fault(file, `it is not well-formed: ${valid.err.msg}`);
  const nodes = new XMLParser({
    ignoreAttributes: false,
    preserveOrder: true,
    parseAttributeValue: false,
  }).parse(text) as XmlNode[];
  const root = nodes.find((node) => 'svg' in node);
  if (!root) throw fault(file, 'it has no svg element');
  const millimetres = (name: string): number =>
    Number(/^([\d.]+)mm$/.exec(attribute(root, name) ?? '')?.[1]);
  const widthMm = millimetres('width');
  const heightMm = millimetres('height');
  if (attribute(root, 'viewBox') !== `0 0 ${widthMm} ${heightMm}`) {
    throw fault(file, `its view box is ${attribute(root, 'viewBox')}`);
  }
  const layers = new Map<string, Ring<'bed'>[]>();
  const open = new Map<string, Ring<'bed'>[]>();
  let curved = false;
  for (const node of childrenOf(root, 'svg')) {
    if (!('g' in node)) continue;
    const lines = childrenOf(node, 'g')
      .filter((child) => 'path' in child)
      .map((child) => linesOfPath(attribute(child, 'd') ?? '', heightMm, file));
    const name = attribute(node, 'id') ?? '';
    curved ||= lines.some((l) => l.curved);
    layers.set(
      name,
      lines.flatMap((l) => l.closed),
    );
    open.set(
      name,
      lines.flatMap((l) => l.open),
    );
  }
  const digest = /<digest[^>]*>([0-9a-f]{64})<\/digest>/.exec(text)?.[1];
  return { reader: 'svgpath', widthMm, heightMm, digest, layers, open, curved };
}

export interface Lines {
  readonly closed: Ring<'bed'>[];
  readonly open: Ring<'bed'>[];
}

function linesOfPath(
  d: string,
  heightMm: number,
  file: string,
): Lines & { readonly curved: boolean } {
  const lines: Lines = { closed: [], open: [] };
  let points: (Point<'bed'> & { bulge?: number })[] = [];
  let curved = false;
  const end = (closed: boolean): void => {
    if (points.length > 0)
      lines[closed ? 'closed' : 'open'].push(withBulges(points, closed, FINE_MM));
    points = [];
  };
  svgpath(d)
    .abs()
    .iterate((segment) => {
      const [command, ...n] = segment as [string, ...number[]];
      const to = { x: n[n.length - 2]!, y: heightMm - n[n.length - 1]! };
      if (command === 'M') {
        end(false);
        points = [to];
      } else if (command === 'L') points.push(to);
      else if (command === 'A' && n[0] === n[1] && n[3] === 0) {
        // The lesser arc of a circle over its chord (SVG 1.1, 8.3.8), as the tangent of a quarter of its angle.
        const from = points[points.length - 1]!;
        const quarter = Math.asin(Math.min(1, dist(from, to) / 2 / n[0]!)) / 2;
        from.bulge = (n[4] === 0 ? 1 : -1) * Math.tan(quarter);
        points.push(to);
        curved = true;
      } else if (command.toUpperCase() === 'Z') {
        // Its last piece may end where it began.
        if (dist(points[0]!, points[points.length - 1]!) < 1e-5) points.pop();
        end(true);
      } else throw fault(file, `it holds a path command ${command} that was not written`);
    });
  end(false);
  return { ...lines, curved };
}

/** Reads one page of a PDF, else the only one, with pdf.js: page box, layers (optional content groups), and the closed paths in each. */
export const seePdf = async (
  pdfjs: Pdfjs,
  bytes: Uint8Array,
  file: string,
  { page, pages } = { page: 1, pages: 1 },
): Promise<Seen> => (await seePages(pdfjs, bytes, file, pages, [page]))[0]!;

/** The same of several pages, or of every one. */
export async function seePages(
  pdfjs: Pdfjs,
  bytes: Uint8Array,
  file: string,
  pages: number,
  numbers = Array.from({ length: pages }, (_, k) => k + 1),
): Promise<Seen[]> {
  // pdf.js takes the buffer away from its caller, so it gets a copy.
  const task = pdfjs.getDocument({ data: bytes.slice(), isEvalSupported: false, verbosity: 0 });
  try {
    const doc = await task.promise;
    if (doc.numPages !== pages) throw fault(file, `it has ${doc.numPages} pages`);
    const seen: Seen[] = [];
    for (const number of numbers) seen.push(await seePage(pdfjs, doc, file, number));
    return seen;
  } finally {
    await task.destroy();
  }
}

async function seePage(
  pdfjs: Pdfjs,
  doc: Awaited<ReturnType<Pdfjs['getDocument']>['promise']>,
  file: string,
  number: number,
): Promise<Seen> {
  const page = await doc.getPage(number);
  const [x0, y0, x1, y1] = page.view as [number, number, number, number];
  if (x0 !== 0 || y0 !== 0 || page.rotate !== 0 || page.userUnit !== 1) {
    throw fault(file, 'its page does not begin at zero, is turned, or has another unit');
  }
  const config = await doc.getOptionalContentConfig();
  const { info } = await doc.getMetadata();
  const list = await page.getOperatorList();
  const layers = new Map<string, Ring<'bed'>[]>();
  const open = new Map<string, Ring<'bed'>[]>();
  const { OPS } = pdfjs;
  const matrix = new PdfMatrix(OPS, IDENTITY);
  let name: string | undefined;
  list.fnArray.forEach((fn: number, k: number) => {
    const args = list.argsArray[k] as unknown[];
    if (matrix.follow(fn, args)) return;
    if (fn === OPS.beginMarkedContentProps) {
      const [tag, group] = args as [string, { id?: string } | null];
      name =
        tag === 'OC' ? (config.getGroup(group?.id ?? '')?.name as string | undefined) : undefined;
      if (name !== undefined && !layers.has(name)) {
        layers.set(name, []);
        open.set(name, []);
      }
    } else if (fn === OPS.endMarkedContent) name = undefined;
    else if (fn === OPS.constructPath && name !== undefined) {
      const [ops] = args as [number[], number[]];
      // pdf.js ends a list of a thousand operators wherever it is: a path may go on in the next.
      const begun = ops[0] === OPS.moveTo ? undefined : open.get(name)!.pop();
      const lines = linesOfOps(pdfjs, args as [number[], number[]], matrix.now, file, begun);
      layers.get(name)!.push(...lines.closed);
      open.get(name)!.push(...lines.open);
    }
  });
  const words = (info as { Keywords?: string }).Keywords ?? '';
  return {
    reader: 'pdf.js',
    widthMm: x1 * MM_PER_POINT,
    heightMm: y1 * MM_PER_POINT,
    digest: digestIn(words),
    layers,
    open,
  };
}

/** The paths of one `constructPath` of pdf.js 4, in mm of the page; the first goes on from `begun` where that is given. */
export function linesOfOps(
  { OPS }: Pdfjs,
  [ops, numbers]: [number[], number[]],
  m: Affine,
  file: string,
  begun: Ring<'bed'> = [],
): Lines {
  const lines: Lines = { closed: [], open: [] };
  let points: Point<'bed'>[] = [...begun];
  let at = 0;
  const place = (x: number, y: number): Point<'bed'> => ({
    x: (m[0] * x + m[2] * y + m[4]) * MM_PER_POINT,
    y: (m[1] * x + m[3] * y + m[5]) * MM_PER_POINT,
  });
  const next = (): Point<'bed'> => place(numbers[at++]!, numbers[at++]!);
  for (const op of ops) {
    if (op === OPS.moveTo) {
      if (points.length > 0) lines.open.push(points);
      points = [next()];
    } else if (op === OPS.lineTo) points.push(next());
    else if (op === OPS.closePath) {
      lines.closed.push(points);
      points = [];
    } else if (op === OPS.rectangle) {
      const [x, y, w, h] = numbers.slice(at, at + 4) as [number, number, number, number];
      at += 4;
      lines.closed.push(
        [
          [x, y],
          [x + w, y],
          [x + w, y + h],
          [x, y + h],
        ].map(([u, v]) => place(u!, v!)),
      );
    } else throw fault(file, `it holds a path operator ${op} that was not written`);
  }
  if (points.length > 0) lines.open.push(points);
  return lines;
}

/**
 * Reads an EPS with the match check's own reader, which was written for other programs' files and shares no code with the
 * writer: no PostScript interpreter runs in a page. Ghostscript reads the same files in the tests.
 */
export function seeEps(bytes: Uint8Array, file: string): Seen {
  const { page, painted } = paintedOfEps(bytes);
  const text = new TextDecoder('latin1').decode(bytes);
  const names = [...text.matchAll(/^% layer (.*)$/gm)].map(([, name]) => name!);
  const linesOf = (closed: boolean): Map<string, Ring<'bed'>[]> => {
    const lines = new Map<string, Ring<'bed'>[]>(names.map((name) => [name, []]));
    for (const piece of painted) {
      if (piece.closed !== closed) continue;
      const there = lines.get(piece.layer ?? '');
      if (!there) throw fault(file, 'a line lies in no layer');
      there.push(piece.points);
    }
    return lines;
  };
  const whole = /^%%BoundingBox: 0 0 (\d+) (\d+)$/m.exec(text)?.slice(1).map(Number) ?? [0, 0];
  const holds = [page.widthMm, page.heightMm].every(
    (v, k) => Math.ceil(v / MM_PER_POINT - 1e-4) === whole[k],
  );
  if (!holds) throw fault(file, 'its box in whole points is not the least that holds the bed');
  return {
    reader: 'own',
    ...page,
    digest: digestIn(text),
    layers: linesOf(true),
    open: linesOf(false),
  };
}

/** Reads plan.json with the engine's own JSON reader and holds it against the plan. */
export function provePlanJson(file: string, plan: BedPlan, bytes: Uint8Array): Proof {
  const value = JSON.parse(new TextDecoder().decode(bytes)) as {
    bed_mm: [number, number];
    pockets: {
      id: string;
      outline: string;
      place: { x: number; y: number; turn_deg: number; mirrored: boolean };
      pocket: [number, number][][];
      cut: [number, number][][];
      print: [number, number][][];
      bleed: [number, number][][];
      relief?: [number, number][][];
      notch?: [number, number][][];
      mouth?: [number, number][][];
      eject?: [number, number][][];
    }[];
    board_mm?: { edge: [number, number][]; holes: { wall: [number, number][] }[] };
    digest: string;
  };
  const ring = (r: [number, number][]): Ring<'bed'> => r.map(([x, y]) => ({ x, y }));
  const names = ['pocket', 'cut', 'print', 'bleed', 'notch', 'mouth', 'eject'] as const;
  const lines = value.pockets.flatMap((p) => (p.relief ?? []).map(ring));
  const seen: Seen = {
    reader: 'JSON',
    widthMm: value.bed_mm[0],
    heightMm: value.bed_mm[1],
    digest: value.digest,
    layers: new Map([
      ...names.map(
        (name) => [name, value.pockets.flatMap((p) => (p[name] ?? []).map(ring))] as const,
      ),
      ['relief', []],
      [
        'board',
        value.board_mm
          ? [value.board_mm.edge, ...value.board_mm.holes.map(({ wall }) => wall)].map(ring)
          : [],
      ],
    ]),
    open: new Map([['relief', lines]]),
  };
  const regionsOf = {
    pocket: (p: PlacedPocket) => p.wall,
    cut: (p: PlacedPocket) => p.cut,
    print: (p: PlacedPocket) => [p.print],
    bleed: (p: PlacedPocket) => p.bleed,
    notch: (p: PlacedPocket) => p.notches,
    mouth: (p: PlacedPocket) => p.mouth,
    eject: (p: PlacedPocket) => p.eject,
  };
  const closed = (name: (typeof names)[number]) =>
    plan.pockets.flatMap((p) =>
      regionsOf[name](p).flatMap((region) =>
        [region.outer, ...region.holes].map((r) => ({ pocket: p.id, ring: r })),
      ),
    );
  const places = plan.pockets.map((p, k) => {
    const q = value.pockets[k];
    const same =
      q?.id === p.id &&
      q.outline === p.outlineId &&
      q.place.turn_deg === p.place.turnDeg &&
      q.place.mirrored === p.place.mirrored;
    if (!same) throw fault(file, `pocket ${p.id} is another one`);
    return Math.hypot(q.place.x - p.place.x, q.place.y - p.place.y);
  });
  const off = Math.max(0, ...places);
  if (!(off <= READ_BACK_MM)) throw fault(file, `a place is off by ${off} mm`);
  const proof = prove(
    file,
    {
      title: '',
      notes: [],
      jobNumber: plan.jobNumber,
      widthMm: plan.bed.widthMm,
      heightMm: plan.bed.depthMm,
      digest: plan.digest,
      layers: [
        ...names.map((name) => ({
          name,
          what: '',
          open: [],
          lettering: [],
          closed: closed(name),
        })),
        {
          name: 'relief',
          what: '',
          closed: [],
          lettering: [],
          open: plan.pockets.flatMap((p) => p.relief),
        },
        {
          name: 'board',
          what: '',
          open: [],
          lettering: [],
          closed: plan.bed.board
            ? [boardRing(plan.bed), ...seatHoles(plan.bed).map((h) => h.ring)].map((r) => ({
                ring: r,
              }))
            : [],
        },
      ],
    },
    seen,
  );
  return { ...proof, greatestMm: Math.max(proof.greatestMm, off) };
}
