import { PDFDict, PDFDocument, PDFName, PDFRawStream, PDFRef } from '@cantoo/pdf-lib';
import type { ArtSheet } from '../artwork/artwork.ts';
import { MM_PER_POINT, type Point } from '../base/measure.ts';
import { IDENTITY, mapPoint, times, type Affine } from '../geometry/affine.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import { ARTWORK_LAYER, WORDS_LAYER, type PrintLoad, type PrintPlan } from './print-pdf.ts';
import type { Pdfjs } from './pdfjs.ts';
import { digestIn, dist, fault, linesOfOps, READ_BACK_MM, type Proof } from './read-back.ts';

/** One use of an artwork as it was read: what it is clipped to, and where the corners of its form lie. Page mm. */
interface Use {
  readonly clip: readonly Ring<'bed'>[];
  readonly corners: readonly Point<'bed'>[];
}

const ringsOf = (regions: readonly Region<'bed'>[]): readonly Ring<'bed'>[] =>
  regions.flatMap(({ outer, holes }) => [outer, ...holes]);

/**
 * Reads a print file back with pdf.js and holds it against its plan: page, digest, what every artwork is clipped to, where it
 * lies, and the areas of white and clear. What the artwork itself draws is left out before: a hundred uses of it would be walked
 * a hundred times.
 *
 * @throws Error (a fault of the program) when anything is missing or off by more than `READ_BACK_MM`
 */
export async function provePrint(
  file: string,
  plan: PrintPlan,
  sheets: readonly ArtSheet[],
  bytes: Uint8Array,
  pdfjs: Pdfjs,
): Promise<Proof> {
  const { bytes: light, objects } = await emptied(bytes);
  const uses = plan.loads.flatMap(({ pockets }) => pockets.flatMap(({ art }) => art?.sheet ?? []));
  const different = new Set(uses).size;
  if (objects !== different)
    throw fault(file, `it holds ${objects} artworks where ${different} are used`);
  const seen = await seeForms(pdfjs, light);
  if (seen.digest !== plan.digest) throw fault(file, `its digest reads ${seen.digest}`);
  if (seen.pages.length !== plan.loads.length)
    throw fault(file, `it has ${seen.pages.length} pages for ${plan.loads.length} loads`);
  let greatestMm = 0;
  const near = (off: number, what: string): void => {
    if (!(off <= READ_BACK_MM)) throw fault(file, `${what} is off by ${off} mm`);
    greatestMm = Math.max(greatestMm, off);
  };
  plan.loads.forEach((load, k) => {
    const page = seen.pages[k]!;
    const of = plan.loads.length > 1 ? ` of load ${k + 1}` : '';
    near(
      Math.max(Math.abs(page.widthMm - plan.widthMm), Math.abs(page.heightMm - plan.heightMm)),
      `the page${of}, ${page.widthMm.toFixed(3)} x ${page.heightMm.toFixed(3)} mm,`,
    );
    proveLoad(file, load, page, sheets, of, near);
  });
  const pockets = Math.max(0, ...plan.loads.map((load) => load.pockets.length));
  return { file, reader: 'pdf.js', pockets, greatestMm };
}

function proveLoad(
  file: string,
  { pockets, inks }: PrintLoad,
  page: SeenPage,
  sheets: readonly ArtSheet[],
  of: string,
  near: (off: number, what: string) => void,
): void {
  const hold = (found: Ring<'bed'>, wanted: Ring<'bed'>, what: string): void => {
    if (found.length !== wanted.length)
      throw fault(file, `${what} has ${found.length} vertices, not ${wanted.length}`);
    wanted.forEach((p, k) => near(dist(found[k]!, p), what));
  };
  const used = pockets.flatMap(({ id, clip, art }) => (art ? [{ id, clip, art }] : []));
  if (page.uses.length !== used.length)
    throw fault(file, `it shows artwork ${page.uses.length} times${of}, not ${used.length}`);
  used.forEach(({ id, clip, art }, k) => {
    const use = page.uses[k]!;
    const wanted = ringsOf(clip);
    if (use.clip.length !== wanted.length)
      throw fault(
        file,
        `pocket ${id}${of} is clipped by ${use.clip.length} lines, not ${wanted.length}`,
      );
    wanted.forEach((r, i) => hold(use.clip[i]!, r, `the clip of pocket ${id}${of}`));
    const { left, right, bottom, top } = sheets[art.sheet]!.reach;
    const corners = [
      [left, bottom],
      [right, bottom],
      [right, top],
      [left, top],
    ].map(([x, y]) => mapPoint<'bed'>(art.map, { x: x!, y: y! }));
    // A page that is turned begins at another corner.
    corners.forEach((p) =>
      near(Math.min(...use.corners.map((q) => dist(p, q))), `the artwork of pocket ${id}${of}`),
    );
  });
  const texts = pockets.flatMap(({ id, words }) => words.map((w) => ({ id, ...w })));
  if (page.texts.length !== texts.length)
    throw fault(file, `it shows ${page.texts.length} words${of}, not ${texts.length}`);
  texts.forEach(({ id, text, map }, k) => {
    const found = page.texts[k]!;
    if (found.text.normalize('NFKC') !== text.normalize('NFKC'))
      throw fault(file, `pocket ${id}${of} reads "${found.text}", not "${text}"`);
    // The foot's beginning, and a place one em along it and up: size and turn.
    for (const [x, y] of [
      [0, 0],
      [1, 0],
      [0, 1],
    ] as const)
      near(
        dist(mapPoint<'bed'>(found.map, { x, y }), mapPoint<'bed'>(map, { x, y })),
        `"${text}" in pocket ${id}${of}`,
      );
  });
  for (const { ink, areas } of inks) {
    const found = page.areas.get(ink.name) ?? [];
    const wanted = ringsOf(areas);
    if (found.length !== wanted.length)
      throw fault(file, `layer ${ink.name}${of} has ${found.length} areas, not ${wanted.length}`);
    wanted.forEach((r, i) => hold(found[i]!, r, `layer ${ink.name}${of}`));
  }
}

/** The same file with what its forms draw left out, and how many forms there are. */
export async function emptied(bytes: Uint8Array): Promise<{ bytes: Uint8Array; objects: number }> {
  const doc = await PDFDocument.load(bytes, { updateMetadata: false });
  const refs = new Set<PDFRef>();
  for (const page of doc.getPages()) {
    const objects = page.node.Resources()?.lookupMaybe(PDFName.of('XObject'), PDFDict);
    for (const [, ref] of objects?.entries() ?? []) if (ref instanceof PDFRef) refs.add(ref);
  }
  for (const ref of refs) {
    const form = doc.context.lookup(ref);
    if (!(form instanceof PDFRawStream)) throw new Error('an artwork is no stream');
    form.dict.set(PDFName.of('Resources'), doc.context.obj({}));
    const dict = form.dict.clone(doc.context);
    dict.delete(PDFName.of('Filter'));
    doc.context.assign(ref, PDFRawStream.of(dict, new Uint8Array()));
  }
  return { bytes: await doc.save({ useObjectStreams: false }), objects: refs.size };
}

type Bounds = readonly [number, number, number, number];

/** Words as they were read, and from the em of their font to the bed. */
interface SeenText {
  readonly text: string;
  readonly map: Affine;
}

export interface SeenPage {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly uses: readonly Use[];
  readonly texts: readonly SeenText[];
  /** What is filled on every other layer. */
  readonly areas: ReadonlyMap<string, readonly Ring<'bed'>[]>;
}

export interface SeenPrint {
  readonly digest: string | undefined;
  readonly pages: readonly SeenPage[];
}

/** Every page of a file whose forms were emptied, read with pdf.js, which takes the bytes away from their owner. */
export async function seeForms(pdfjs: Pdfjs, bytes: Uint8Array): Promise<SeenPrint> {
  const task = pdfjs.getDocument({ data: bytes, isEvalSupported: false, verbosity: 0 });
  try {
    const doc = await task.promise;
    const { info } = await doc.getMetadata();
    const config = await doc.getOptionalContentConfig();
    const layerOf = (id: string): string | undefined => config.getGroup(id)?.name as string;
    const pages: SeenPage[] = [];
    for (let k = 1; k <= doc.numPages; k++) {
      const page = await doc.getPage(k);
      pages.push(await seePrinted(pdfjs, page, layerOf));
      page.cleanup();
    }
    return { digest: digestIn((info as { Keywords?: string }).Keywords ?? ''), pages };
  } finally {
    await task.destroy();
  }
}

type Page = Awaited<ReturnType<Awaited<ReturnType<Pdfjs['getDocument']>['promise']>['getPage']>>;

async function seePrinted(
  pdfjs: Pdfjs,
  page: Page,
  layerOf: (id: string) => string | undefined,
): Promise<SeenPage> {
  const [x0, y0, x1, y1] = page.view as [number, number, number, number];
  if (x0 !== 0 || y0 !== 0 || page.rotate !== 0 || page.userUnit !== 1)
    throw new Error('the page does not begin at zero, is turned, or has another unit');
  const list = await page.getOperatorList();
  const { OPS } = pdfjs;
  const uses: Use[] = [];
  const texts: { text: string; map: Affine }[] = [];
  const areas = new Map<string, Ring<'bed'>[]>();
  const MM: Affine = [MM_PER_POINT, 0, 0, MM_PER_POINT, 0, 0];
  let [matrix, clip]: [Affine, readonly Ring<'bed'>[]] = [IDENTITY, []];
  const saved: [Affine, readonly Ring<'bed'>[]][] = [];
  let layer: string | undefined;
  let box: Bounds | undefined;
  let lines: Ring<'bed'>[] = [];
  let open: Ring<'bed'> | undefined;
  let [text, size, begun]: [Affine, number, boolean] = [IDENTITY, 1, false];
  list.fnArray.forEach((fn: number, k: number) => {
    const args = list.argsArray[k] as unknown[];
    if (fn === OPS.save) saved.push([matrix, clip]);
    else if (fn === OPS.restore) [matrix, clip] = saved.pop() ?? [matrix, clip];
    else if (fn === OPS.transform) matrix = times(matrix, args as unknown as Affine);
    else if (fn === OPS.beginMarkedContentProps) {
      const [tag, group] = args as [string, { id?: string } | null];
      layer = tag === 'OC' ? layerOf(group?.id ?? '') : undefined;
    } else if (fn === OPS.endMarkedContent) layer = undefined;
    else if (fn === OPS.beginText) [text, begun] = [IDENTITY, false];
    else if (fn === OPS.setFont) size = args[1] as number;
    else if (fn === OPS.setTextMatrix) text = args as unknown as Affine;
    else if (fn === OPS.showText && layer === WORDS_LAYER) {
      const shown = (args[0] as unknown[]).flatMap((g) =>
        typeof g === 'object' && g !== null ? [(g as { unicode: string }).unicode] : [],
      );
      if (begun) texts.at(-1)!.text += shown.join('');
      else {
        const map = times(times(MM, matrix), times(text, [size, 0, 0, size, 0, 0]));
        texts.push({ text: shown.join(''), map });
      }
      begun = true;
    } else if (fn === OPS.constructPath) {
      const path = args as [number[], number[]];
      // pdf.js ends a list of a thousand operators wherever it is: a path may go on in the next.
      const from = path[0][0] === OPS.moveTo ? undefined : open;
      const read = linesOfOps(pdfjs, path, matrix, 'print.pdf', from);
      for (const ring of read.closed) lines.push(ring);
      open = read.open.at(-1);
    } else if (fn === OPS.clip || fn === OPS.eoClip) clip = lines;
    else if (fn === OPS.endPath) lines = [];
    else if (fn === OPS.fill || fn === OPS.eoFill) {
      if (layer !== undefined && layer !== ARTWORK_LAYER)
        areas.set(layer, [...(areas.get(layer) ?? []), ...lines]);
      lines = [];
    } else if (fn === OPS.beginGroup) ({ bbox: box } = args[0] as { bbox: Bounds });
    else if (fn === OPS.paintFormXObjectBegin) {
      // The bounds of a form that is a transparency group are told where the group begins.
      const [own, bounds] = args as [Affine | null, Bounds | null];
      if (bounds) box = bounds;
      const m = own ? times(matrix, own) : matrix;
      if (!box) throw new Error('a form has no bounds');
      const [left, bottom, right, top] = box;
      uses.push({
        clip,
        corners: [
          [left, bottom],
          [right, bottom],
          [right, top],
          [left, top],
        ].map(([x, y]) => mapPoint<'bed'>(times(MM, m), { x: x!, y: y! })),
      });
    }
  });
  return {
    widthMm: x1 * MM_PER_POINT,
    heightMm: y1 * MM_PER_POINT,
    uses,
    texts,
    areas,
  };
}
