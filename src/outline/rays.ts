import type { Camera } from '../view/view.ts';

/** Unit-depth coordinates of an undistorted ray from a picture point: inverts Brown-Conrady by Newton's method. */
function undistort(c: Camera, u: number, v: number, out: Float64Array): void {
  const xd = (u - c.cxPx) / c.fPx;
  const yd = (v - c.cyPx) / c.fPx;
  let x = xd;
  let y = yd;
  for (let round = 0; round < 8; round++) {
    const r = x * x + y * y;
    const g = 1 + r * (c.k1 + r * c.k2);
    const dg = c.k1 + 2 * r * c.k2;
    const ex = x * g + 2 * c.p1 * x * y + c.p2 * (r + 2 * x * x) - xd;
    const ey = y * g + c.p1 * (r + 2 * y * y) + 2 * c.p2 * x * y - yd;
    const a = g + 2 * x * x * dg + 2 * c.p1 * y + 6 * c.p2 * x;
    const b = 2 * x * y * dg + 2 * c.p1 * x + 2 * c.p2 * y;
    const d = g + 2 * y * y * dg + 6 * c.p1 * y + 2 * c.p2 * x;
    const det = a * d - b * b;
    const dx = (d * ex - b * ey) / det;
    const dy = (a * ey - b * ex) / det;
    x -= dx;
    y -= dy;
    if (Math.abs(dx) + Math.abs(dy) < 1e-12) break;
  }
  out[0] = x;
  out[1] = y;
}

const ray = new Float64Array(2);

/** Where the ray through picture point (u, v) meets the plane z (mm, sheet frame); written to out[at], out[at + 1]. */
export function meetPlane(
  c: Camera,
  u: number,
  v: number,
  z: number,
  out: Float64Array,
  at = 0,
): void {
  undistort(c, u, v, ray);
  const m = c.rotation;
  const x = ray[0]!;
  const y = ray[1]!;
  const dx = m[0]! * x + m[3]! * y + m[6]!;
  const dy = m[1]! * x + m[4]! * y + m[7]!;
  const dz = m[2]! * x + m[5]! * y + m[8]!;
  const t = (z - c.centre[2]) / dz;
  out[at] = c.centre[0] + t * dx;
  out[at + 1] = c.centre[1] + t * dy;
}

/** Picture point of a place (mm, sheet frame); written to out[at], out[at + 1]. */
export function pictured(
  c: Camera,
  x: number,
  y: number,
  z: number,
  out: Float64Array,
  at = 0,
): void {
  const m = c.rotation;
  const px = x - c.centre[0];
  const py = y - c.centre[1];
  const pz = z - c.centre[2];
  const depth = m[6]! * px + m[7]! * py + m[8]! * pz;
  const a = (m[0]! * px + m[1]! * py + m[2]! * pz) / depth;
  const b = (m[3]! * px + m[4]! * py + m[5]! * pz) / depth;
  const r = a * a + b * b;
  const g = 1 + r * (c.k1 + r * c.k2);
  out[at] = c.cxPx + c.fPx * (a * g + 2 * c.p1 * a * b + c.p2 * (r + 2 * a * a));
  out[at + 1] = c.cyPx + c.fPx * (b * g + c.p1 * (r + 2 * b * b) + 2 * c.p2 * a * b);
}
