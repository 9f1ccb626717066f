import { native, scoped, type Vision } from './cv.ts';

/** Row-major 3 x 3, maps (x, y, 1). */
export type Homography = Float64Array;

/**
 * The homography that takes `from` to `to` (x, y interleaved), by RANSAC with `tolerance` in units of `to`.
 * 32-bit inside: a start, not a result. undefined when the points fix none.
 */
export function homography(
  vision: Vision,
  from: Float64Array,
  to: Float64Array,
  tolerance: number,
): { h: Homography; inlier: Uint8Array } | undefined {
  const { cv } = vision;
  const n = from.length / 2;
  if (n < 4) return undefined;
  return scoped((keep) =>
    native(vision, 'findHomography', () => {
      const a = keep(cv.matFromArray(n, 1, cv.CV_64FC2, from as unknown as number[]));
      const b = keep(cv.matFromArray(n, 1, cv.CV_64FC2, to as unknown as number[]));
      const mask = keep(new cv.Mat());
      const h = keep(cv.findHomography(a, b, cv.RANSAC, tolerance, mask));
      if (h.rows !== 3) return undefined;
      return { h: Float64Array.from(h.data64F), inlier: Uint8Array.from(mask.data) };
    }),
  );
}

/** Applies a homography to one point. */
export function mapped(h: Homography, x: number, y: number): { x: number; y: number } {
  const w = h[6]! * x + h[7]! * y + h[8]!;
  return { x: (h[0]! * x + h[1]! * y + h[2]!) / w, y: (h[3]! * x + h[4]! * y + h[5]!) / w };
}
