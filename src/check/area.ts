import { regionArea } from '../geometry/measure.ts';
import type { Outline } from '../outline/outline.ts';
import { EDGE_CORRELATION_MM } from './touch.ts';

/**
 * The area that an outline encloses, holes taken away, and its standard uncertainty, mm².
 *
 * Each mode moves the area by ∮ d·n ds (d its displacement, n the outward normal); noise of the edge adds up over lengths
 * that are independent of each other. What the outline's `u` holds beyond both (the fitted curve) is taken as edge noise.
 * Source of the polygon's derivative: the surveyor's formula, differentiated.
 */
export function areaOf(outline: Outline): { valueMm2: number; u: number } {
  const rings = [outline.region.outer, ...outline.region.holes];
  const byMode = new Float64Array(outline.modes.length);
  let noise = 0;
  let first = 0;
  rings.forEach((ring, r) => {
    const n = ring.length;
    for (let k = 0; k < n; k++) {
      const before = ring[(k + n - 1) % n]!;
      const after = ring[(k + 1) % n]!;
      // Half of the two chords, turned outward: counter-clockwise outside, clockwise round holes.
      const gx = (after.y - before.y) / 2;
      const gy = (before.x - after.x) / 2;
      const length = Math.hypot(gx, gy);
      let shared = 0;
      outline.modes.forEach(({ dx, dy }, m) => {
        const moved = gx * dx[first + k]! + gy * dy[first + k]!;
        byMode[m]! += moved;
        shared += moved * moved;
      });
      const own = length > 0 ? Math.max(0, outline.u[r]![k]! ** 2 - shared / (length * length)) : 0;
      // A vertex stands for `length` of edge; `EDGE_CORRELATION_MM` of it moves as one.
      noise += own * length * EDGE_CORRELATION_MM;
    }
    first += n;
  });
  return {
    valueMm2: regionArea(outline.region),
    u: Math.sqrt(byMode.reduce((sum, v) => sum + v * v, noise)),
  };
}
