import { PDFDict, PDFDocument, PDFName, PDFRawStream, PDFRef } from '@cantoo/pdf-lib';
import type { ArtSheet } from '../artwork/artwork.ts';
import { MM_PER_POINT, type Point } from '../base/measure.ts';
import { IDENTITY, mapPoint, times, type Affine } from '../geometry/affine.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import { ARTWORK_LAYER, type PrintPlan } from './print-pdf.ts';
import type { Pdfjs } from './pdfjs.ts';
import { digestIn, dist, fault, linesOfOps, READ_BACK_MM, type Proof } from './read-back.ts';

/** One use of an artwork as it was read: what it is clipped to, and where the corners of its form lie. Bed mm. */
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
  const used = plan.pockets.filter(({ sheet, clip }) => sheet !== undefined && clip.length > 0);
  const different = new Set(used.map(({ sheet }) => sheet)).size;
  if (objects !== different)
    throw fault(file, `it holds ${objects} artworks where ${different} are used`);
  const seen = await see(pdfjs, light);
  if (seen.digest !== plan.digest) throw fault(file, `its digest reads ${seen.digest}`);
  let greatestMm = Math.max(
    Math.abs(seen.widthMm - plan.widthMm),
    Math.abs(seen.heightMm - plan.heightMm),
  );
  const hold = (found: Ring<'bed'>, wanted: Ring<'bed'>, what: string): void => {
    if (found.length !== wanted.length)
      throw fault(file, `${what} has ${found.length} vertices, not ${wanted.length}`);
    wanted.forEach((p, k) => {
      const off = dist(found[k]!, p);
      if (!(off <= READ_BACK_MM)) throw fault(file, `${what} is off by ${off} mm`);
      greatestMm = Math.max(greatestMm, off);
    });
  };
  if (!(greatestMm <= READ_BACK_MM))
    throw fault(file, `its page is ${seen.widthMm.toFixed(3)} x ${seen.heightMm.toFixed(3)} mm`);
  if (seen.uses.length !== used.length)
    throw fault(file, `it shows artwork ${seen.uses.length} times, not ${used.length}`);
  used.forEach(({ id, clip, sheet, map }, k) => {
    const use = seen.uses[k]!;
    const wanted = ringsOf(clip);
    if (use.clip.length !== wanted.length)
      throw fault(
        file,
        `pocket ${id} is clipped by ${use.clip.length} lines, not ${wanted.length}`,
      );
    wanted.forEach((r, i) => hold(use.clip[i]!, r, `the clip of pocket ${id}`));
    const { left, right, bottom, top } = sheets[sheet!]!.reach;
    const corners = [
      [left, bottom],
      [right, bottom],
      [right, top],
      [left, top],
    ].map(([x, y]) => mapPoint<'bed'>(map!, { x: x!, y: y! }));
    // A page that is turned begins at another corner.
    corners.forEach((p) => {
      const off = Math.min(...use.corners.map((q) => dist(p, q)));
      if (!(off <= READ_BACK_MM))
        throw fault(file, `the artwork of pocket ${id} is off by ${off} mm`);
      greatestMm = Math.max(greatestMm, off);
    });
  });
  for (const { ink, areas } of plan.inks) {
    const found = seen.areas.get(ink.name) ?? [];
    const wanted = ringsOf(areas);
    if (found.length !== wanted.length)
      throw fault(file, `layer ${ink.name} has ${found.length} areas, not ${wanted.length}`);
    wanted.forEach((r, i) => hold(found[i]!, r, `layer ${ink.name}`));
  }
  return { file, reader: 'pdf.js', pockets: used.length, greatestMm };
}

/** The same file with what the artwork draws left out, and how many artworks there are. */
async function emptied(bytes: Uint8Array): Promise<{ bytes: Uint8Array; objects: number }> {
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

interface SeenPrint {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly digest: string | undefined;
  readonly uses: readonly Use[];
  /** What is filled on every other layer. */
  readonly areas: ReadonlyMap<string, readonly Ring<'bed'>[]>;
}

async function see(pdfjs: Pdfjs, bytes: Uint8Array): Promise<SeenPrint> {
  const task = pdfjs.getDocument({ data: bytes, isEvalSupported: false, verbosity: 0 });
  try {
    const doc = await task.promise;
    const page = await doc.getPage(1);
    const [x0, y0, x1, y1] = page.view as [number, number, number, number];
    if (x0 !== 0 || y0 !== 0 || page.rotate !== 0 || page.userUnit !== 1)
      throw new Error('the page does not begin at zero, is turned, or has another unit');
    const config = await doc.getOptionalContentConfig();
    const { info } = await doc.getMetadata();
    const list = await page.getOperatorList();
    const { OPS } = pdfjs;
    const uses: Use[] = [];
    const areas = new Map<string, Ring<'bed'>[]>();
    let [matrix, clip]: [Affine, readonly Ring<'bed'>[]] = [IDENTITY, []];
    const saved: [Affine, readonly Ring<'bed'>[]][] = [];
    let layer: string | undefined;
    let box: Bounds | undefined;
    let lines: Ring<'bed'>[] = [];
    list.fnArray.forEach((fn: number, k: number) => {
      const args = list.argsArray[k] as unknown[];
      if (fn === OPS.save) saved.push([matrix, clip]);
      else if (fn === OPS.restore) [matrix, clip] = saved.pop() ?? [matrix, clip];
      else if (fn === OPS.transform) matrix = times(matrix, args as unknown as Affine);
      else if (fn === OPS.beginMarkedContentProps) {
        const [tag, group] = args as [string, { id?: string } | null];
        layer = tag === 'OC' ? (config.getGroup(group?.id ?? '')?.name as string) : undefined;
      } else if (fn === OPS.endMarkedContent) layer = undefined;
      else if (fn === OPS.constructPath)
        lines.push(...linesOfOps(pdfjs, args as [number[], number[]], matrix, 'print.pdf').closed);
      else if (fn === OPS.clip || fn === OPS.eoClip) clip = lines;
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
          ].map(([x, y]) => {
            const p = mapPoint<'bed'>(m, { x: x!, y: y! });
            return { x: p.x * MM_PER_POINT, y: p.y * MM_PER_POINT };
          }),
        });
      }
    });
    return {
      widthMm: x1 * MM_PER_POINT,
      heightMm: y1 * MM_PER_POINT,
      digest: digestIn((info as { Keywords?: string }).Keywords ?? ''),
      uses,
      areas,
    };
  } finally {
    await task.destroy();
  }
}
