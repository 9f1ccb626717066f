import type { PictureMeta } from '../picture/picture.ts';
import { Refusal } from '../base/reason.ts';
import type { Point } from '../base/measure.ts';
import type { Photographed } from './adjust.ts';
import { multiplied } from './projection.ts';
import type { FoundMarks, Mark, PhotoView } from './view.ts';

/** Quarter turns counter-clockwise from the stored picture to the upright one, by EXIF orientation; mirrored ones have none. */
const QUARTERS: Readonly<Record<number, number>> = { 1: 0, 8: 1, 3: 2, 6: 3 };

export const isMirrored = (orientation: number): boolean => QUARTERS[orientation] === undefined;

/** @throws Refusal `picture-mirrored` */
export function quartersOf({ orientation }: Pick<PictureMeta, 'orientation'>): number {
  const quarters = QUARTERS[orientation];
  if (quarters === undefined) throw new Refusal('picture-mirrored', { orientation });
  return quarters;
}

/** A place after quarter turns counter-clockwise of a picture (width and height before the turns), pixel centres at integers. */
export function turnedPlace(
  x: number,
  y: number,
  quarters: number,
  widthPx: number,
  heightPx: number,
): [number, number] {
  let [u, v, w, h] = [x, y, widthPx, heightPx];
  for (let k = 0; k < (quarters & 3); k++) [u, v, w, h] = [v, w - 1 - u, h, w];
  return [u, v];
}

/** How a direction of the picture turns: rows of the 2 x 2 matrix. Seen where y runs down, counter-clockwise takes (x, y) to (y, -x). */
const turning = (quarters: number): readonly [number, number] =>
  [
    [1, 0],
    [0, 1],
    [-1, 0],
    [0, -1],
  ][quarters & 3] as [number, number];

/** How f cx cy k1 k2 p1 p2 change with quarter turns counter-clockwise, as a matrix; the centre's shift is apart. */
export function lensTurn(quarters: number): number[][] {
  const [c, s] = turning(quarters);
  const rows: number[][] = Array.from({ length: 7 }, (_, i) =>
    Array.from({ length: 7 }, (__, j) => (i === j ? 1 : 0)),
  );
  rows[1]![1] = c;
  rows[1]![2] = s;
  rows[2]![1] = -s;
  rows[2]![2] = c;
  // (p2, p1) turns as a place does.
  rows[6]![6] = c;
  rows[6]![5] = s;
  rows[5]![6] = -s;
  rows[5]![5] = c;
  return rows;
}

/** Marks of an upright picture in the picture as its file stores it. @throws Refusal `picture-mirrored` */
export function storedFound(found: FoundMarks, meta: PictureMeta): FoundMarks {
  const quarters = quartersOf(meta);
  if (quarters === 0) return found;
  const { storedWidthPx: w, storedHeightPx: h } = meta;
  const [width, height] = quarters & 1 ? [h, w] : [w, h];
  const turned = <M extends Mark<'sheet'> | Mark<'rider'>>(m: M): M => {
    const [x, y] = turnedPlace(m.picture.x, m.picture.y, 4 - quarters, width, height);
    return { ...m, picture: { x, y } };
  };
  return {
    ...found,
    marks: found.marks.map(turned),
    riders: found.riders.map((r) => ({ ...r, marks: r.marks.map(turned) })),
  };
}

/** A photo as its file stores it: those that one camera took upright and on its side then share one lens. */
export function storedPhoto({ found, meta }: Photographed): Photographed {
  return {
    found: storedFound(found, meta),
    meta: { ...meta, orientation: 1 },
    widthPx: meta.storedWidthPx,
    heightPx: meta.storedHeightPx,
  };
}

/** The view of a picture as stored, as one of the upright picture: the camera turned about its own axis. */
export function uprightView(view: PhotoView, meta: Pick<PictureMeta, 'orientation'>): PhotoView {
  const quarters = quartersOf(meta);
  if (quarters === 0) return view;
  const { widthPx: w, heightPx: h, eye } = view;
  const [c, s] = turning(quarters);
  const about = [c, s, 0, -s, c, 0, 0, 0, 1];
  const lens = lensTurn(quarters);
  const centre = turnedPlace(eye.cxPx, eye.cyPx, quarters, w, h);
  const place = (p: Point<'picture'>): Point<'picture'> => {
    const [x, y] = turnedPlace(p.x, p.y, quarters, w, h);
    return { x, y };
  };
  /** A change of the camera's parameters: its turn, counted in the camera's own axes, and its lens. */
  const change = (delta: Float64Array): Float64Array => {
    const out = delta.slice();
    out[0] = c * delta[0]! + s * delta[1]!;
    out[1] = c * delta[1]! - s * delta[0]!;
    lens.forEach((row, i) => {
      out[6 + i] = row.reduce((sum, t, k) => sum + t * delta[6 + k]!, 0);
    });
    return out;
  };
  const values = change(view.values);
  [values[7], values[8]] = centre;
  return {
    ...view,
    widthPx: quarters & 1 ? h : w,
    heightPx: quarters & 1 ? w : h,
    eye: {
      ...eye,
      cxPx: centre[0],
      cyPx: centre[1],
      p1: values[11]!,
      p2: values[12]!,
      rotation: Array.from(multiplied(about, eye.rotation)),
    },
    values,
    modes: view.modes.map((m) => ({ ...m, delta: change(m.delta) })),
    residuals: view.residuals.map((r) => ({
      ...r,
      at: place(r.at),
      dx: c * r.dx + s * r.dy,
      dy: c * r.dy - s * r.dx,
    })),
    riders: view.riders.map((r) => ({ ...r, corners: r.corners.map(place) })),
  };
}
