import type { Point } from '../../base/measure.ts';
import type { Answer } from '../../after/delivery.ts';
import type { MeasuredPocket } from '../../after/board.ts';
import { offsetsTo } from '../../geometry/lay.ts';
import { outwardNormals, perimeter, signedArea } from '../../geometry/measure.ts';
import { Nearest } from '../../geometry/nearest.ts';
import type { Ring } from '../../geometry/shape.ts';
import { at, polyline, type Fit } from '../parts/draw.ts';
import type { Mark } from '../parts/State.svelte';

/** Ratios that gaps are drawn at. */
const RATIOS = [50, 20, 10, 5, 2] as const;
/** A gap is drawn about so wide, CSS px. */
const GAP_PX = 26;
/** Farther from the planned wall than this a piece is not drawn: its place would be far from where it is, mm. */
const REACH_MM = 1.5;

/** How broad a shape is on the whole, mm: that of a long rectangle with its area and perimeter. */
export const breadth = (ring: Ring<'bed'>): number => (2 * signedArea(ring)) / perimeter(ring);

/** How much larger than the pocket its gaps are drawn, so that one of this width is seen, and none closes a narrow pocket. */
export const ratioFor = (gapMm: number, f: Fit, pocket: Ring<'bed'>): number =>
  RATIOS.find((r) => r * gapMm * f.scale <= GAP_PX && r * gapMm <= 0.35 * breadth(pocket)) ?? 1;

/** A measured wall with its distance from the plan enlarged; `shiftMm` moves it outward first. */
export function wallPath(
  f: Fit,
  { kept: { opening }, wallMm }: MeasuredPocket,
  ratio: number,
  shiftMm: (vertex: number) => number = () => 0,
): string {
  const ring = opening.outer;
  const { nx, ny } = outwardNormals(ring);
  const points = ring.map((p, k) => {
    const by = (ratio - 1) * wallMm[k]! + ratio * shiftMm(k);
    return at(f, { x: p.x + by * nx[k]!, y: p.y + by * ny[k]! });
  });
  return polyline(points, true);
}

/** The edge of a piece in its pocket, its distance from the planned wall enlarged by as much; broken where it lies far from it. */
export function piecePath(f: Fit, ring: Ring<'bed'>, planned: Ring<'bed'>, ratio: number): string {
  const off = offsetsTo(ring, new Nearest([planned], 1));
  const { nx, ny } = outwardNormals(ring);
  const lines: Point<'bed'>[][] = [[]];
  [...ring, ring[0]!].forEach((p, i) => {
    const k = i % ring.length;
    if (Math.abs(off[k]!) > REACH_MM) {
      if (lines.at(-1)!.length > 0) lines.push([]);
      return;
    }
    const by = (1 - ratio) * off[k]!;
    lines.at(-1)!.push({ x: p.x + by * nx[k]!, y: p.y + by * ny[k]! });
  });
  return lines
    .filter((line) => line.length > 1)
    .map((line) =>
      polyline(
        line.map((p) => at(f, p)),
        false,
      ),
    )
    .join('');
}

export const markOf = (answer: Answer | undefined): Mark =>
  answer === undefined
    ? 'not yet'
    : answer === 'proven'
      ? 'settled'
      : answer === 'not proven'
        ? 'open'
        : 'contradicts';

/** In a word or two. */
export const ANSWERS: Readonly<Record<Answer, string>> = {
  proven: 'goes in',
  'not proven': 'not proven',
  'proven not': 'does not go in',
  'face down': 'lies face down',
  other: 'another item',
};
