import type { Point } from '../../base/measure.ts';
import type { Camera } from '../../view/view.ts';

/**
 * Where a point over the sheet comes to lie in the picture. For drawing only; measuring has its own in view.
 *
 * @param p sheet frame, mm, z out of the sheet
 * @returns picture px
 * Source: Brown-Conrady in OpenCV's order k1 k2 p1 p2 (OpenCV documentation, camera calibration).
 */
export function project(camera: Camera, x: number, y: number, z: number): Point<'picture'> {
  const { rotation: r, centre, fPx, cxPx, cyPx, k1, k2, p1, p2 } = camera;
  const [dx, dy, dz] = [x - centre[0], y - centre[1], z - centre[2]];
  const zc = r[6]! * dx + r[7]! * dy + r[8]! * dz;
  const a = (r[0]! * dx + r[1]! * dy + r[2]! * dz) / zc;
  const b = (r[3]! * dx + r[4]! * dy + r[5]! * dz) / zc;
  const q = a * a + b * b;
  const radial = 1 + q * (k1 + q * k2);
  return {
    x: fPx * (a * radial + 2 * p1 * a * b + p2 * (q + 2 * a * a)) + cxPx,
    y: fPx * (b * radial + p1 * (q + 2 * b * b) + 2 * p2 * a * b) + cyPx,
  };
}
