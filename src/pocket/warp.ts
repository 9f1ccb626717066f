import { smallestRectangle } from '../geometry/measure.ts';
import type { Ring } from '../geometry/shape.ts';

/*
 * A blank that rocks is bowed, by no more than what goes below the corner that lifts: pressed down at one end, a piece bowed by s
 * lifts its other end by up to 2 s; lying hollow it bridges s.
 */

/** Standard uncertainty of the height of its edge, mm: anywhere from where it was entered to what the corner lifts by (GUM 4.3.7). */
export const warpU = (rockMm: number): number => rockMm / Math.sqrt(3);

/**
 * By how much a bowed piece reaches farther to one side when it is pressed flat, mm: an arc over a chord L with the sagitta s
 * is longer than the chord by 8 s² / (3 L), to the fourth order of s / L; half of it on each side. Its longer side bows.
 */
export function flattenedMm(ring: Ring<'blank'>, rockMm: number): number {
  const { longMm } = smallestRectangle(ring);
  return longMm > 0 ? (4 * rockMm ** 2) / (3 * longMm) : 0;
}
