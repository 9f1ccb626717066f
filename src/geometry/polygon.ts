import type { Frame, Point } from '../base/measure.ts';
import type { Region, Ring } from './shape.ts';

/** Area of a ring, positive when it runs counter-clockwise in a y-up frame. */
export function signedArea<F extends Frame>(ring: Ring<F>): number {
  let sum = 0;
  for (let k = 0, n = ring.length; k < n; k++) {
    const p = ring[k]!;
    const q = ring[(k + 1) % n]!;
    sum += p.x * q.y - q.x * p.y;
  }
  return sum / 2;
}

/** Length of a closed ring. */
export function perimeter<F extends Frame>(ring: Ring<F>): number {
  let sum = 0;
  for (let k = 0, n = ring.length; k < n; k++) {
    const p = ring[k]!;
    const q = ring[(k + 1) % n]!;
    sum += Math.hypot(q.x - p.x, q.y - p.y);
  }
  return sum;
}

/** Centroid of the area that a ring encloses. */
export function centroid<F extends Frame>(ring: Ring<F>): Point<F> {
  // Relative to the first vertex, so that far rings lose no digits.
  const o = ring[0]!;
  let area = 0;
  let x = 0;
  let y = 0;
  for (let k = 1, n = ring.length; k + 1 < n; k++) {
    const px = ring[k]!.x - o.x;
    const py = ring[k]!.y - o.y;
    const qx = ring[k + 1]!.x - o.x;
    const qy = ring[k + 1]!.y - o.y;
    const cross = px * qy - qx * py;
    area += cross;
    x += (cross * (px + qx)) / 3;
    y += (cross * (py + qy)) / 3;
  }
  return { x: o.x + x / area, y: o.y + y / area };
}

/** Whether a point lies inside a ring (even-odd; a point on the ring may fall either way). */
export function inRing<F extends Frame>(ring: Ring<F>, p: Point<F>): boolean {
  let inside = false;
  for (let k = 0, n = ring.length; k < n; k++) {
    const a = ring[k]!;
    const b = ring[(k + 1) % n]!;
    if (a.y > p.y !== b.y > p.y && p.x < a.x + ((p.y - a.y) / (b.y - a.y)) * (b.x - a.x)) {
      inside = !inside;
    }
  }
  return inside;
}

/** Whether a point lies in a region: in its outer ring and in none of its holes. */
export const inRegion = <F extends Frame>(region: Region<F>, p: Point<F>): boolean =>
  inRing(region.outer, p) && !region.holes.some((hole) => inRing(hole, p));

/** Distance from a point to a segment. */
export function toSegment(
  px: number,
  py: number,
  ax: number,
  ay: number,
  bx: number,
  by: number,
): number {
  const dx = bx - ax;
  const dy = by - ay;
  const length = dx * dx + dy * dy;
  const t = length > 0 ? Math.max(0, Math.min(1, ((px - ax) * dx + (py - ay) * dy) / length)) : 0;
  return Math.hypot(px - ax - t * dx, py - ay - t * dy);
}

/** Unit normal at every vertex, to the right of the way along: outward from a counter-clockwise ring. */
export function outwardNormals<F extends Frame>(
  ring: Ring<F>,
): { nx: Float64Array; ny: Float64Array } {
  const n = ring.length;
  const nx = new Float64Array(n);
  const ny = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    const p = ring[(k + n - 1) % n]!;
    const q = ring[k]!;
    const r = ring[(k + 1) % n]!;
    const a = Math.hypot(q.x - p.x, q.y - p.y) || 1;
    const b = Math.hypot(r.x - q.x, r.y - q.y) || 1;
    const dx = (q.x - p.x) / a + (r.x - q.x) / b;
    const dy = (q.y - p.y) / a + (r.y - q.y) / b;
    const length = Math.hypot(dx, dy) || 1;
    nx[k] = dy / length;
    ny[k] = -dx / length;
  }
  return { nx, ny };
}
