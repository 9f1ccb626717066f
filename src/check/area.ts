import type { Point } from '../base/measure.ts';
import { flattenRegion } from '../geometry/curve.ts';
import { regionArea } from '../geometry/measure.ts';
import type { Outline } from '../outline/outline.ts';
import type { Source } from '../view/view.ts';
import { EDGE_CORRELATION_MM, ringsOf } from './touch.ts';

/** A figure of an outline with its standard uncertainty (k = 1), in the unit that its name says, and what most of that comes from. */
export interface Fact {
  readonly value: number;
  readonly u: number;
  readonly source: Source;
}

/** How a figure changes when a vertex moves by (1, 0) and by (0, 1), mm; from the vertex and its neighbours on the ring. */
export type Pull = (
  before: Point<'sheet'>,
  at: Point<'sheet'>,
  after: Point<'sheet'>,
) => readonly [x: number, y: number];

/** The area's: half of the two chords, turned outward (the surveyor's formula, differentiated). */
export const areaPull: Pull = (p, _, q) => [(q.y - p.y) / 2, (p.x - q.x) / 2];

/** Chords this near to the curve leave nothing out that counts, mm. */
export const FINE_MM = 1e-4;

/**
 * The standard uncertainty of a figure that every vertex has a part in. Modes move all of them at once; what the outline's
 * `u` holds beyond them is noise, which moves `EDGE_CORRELATION_MM` of the edge as one and is independent from there on, and
 * the curve fit, taken likewise.
 *
 * @param rings those that take part
 */
export function uOf(
  outline: Outline,
  pull: Pull,
  rings: (ring: number) => boolean = () => true,
): { u: number; source: Source } {
  const byMode = new Float64Array(outline.modes.length);
  let edge = 0;
  let fit = 0;
  let first = 0;
  ringsOf(outline).forEach((ring, r) => {
    const n = ring.length;
    let [block, blockMm, edgeV, fitV] = [0, 0, 0, 0];
    for (let k = 0; rings(r) && k < n; k++) {
      const before = ring[(k + n - 1) % n]!;
      const after = ring[(k + 1) % n]!;
      const [gx, gy] = pull(before, ring[k]!, after);
      const chord = Math.hypot(after.x - before.x, after.y - before.y) || 1;
      const [nx, ny] = [(after.y - before.y) / chord, (before.x - after.x) / chord];
      let shared = 0;
      outline.modes.forEach(({ dx, dy }, m) => {
        const [x, y] = [dx[first + k]!, dy[first + k]!];
        byMode[m]! += gx * x + gy * y;
        shared += (nx * x + ny * y) ** 2;
      });
      const own = Math.max(0, outline.u[r]![k]! ** 2 - shared);
      const noise = Math.min(own, outline.edgeU[r]![k]! ** 2);
      edgeV = Math.max(edgeV, noise);
      fitV = Math.max(fitV, own - noise);
      block += gx * nx + gy * ny;
      blockMm += chord / 2;
      if (blockMm >= EDGE_CORRELATION_MM || k === n - 1) {
        // Along a side without vertices the edge is independent all the same.
        const times = block * block * Math.min(1, EDGE_CORRELATION_MM / blockMm);
        edge += times * edgeV;
        fit += times * fitV;
        [block, blockMm, edgeV, fitV] = [0, 0, 0, 0];
      }
    }
    first += n;
  });
  const bySource = new Map<Source, number>([
    ['edge', edge],
    ['curve fit', fit],
  ]);
  outline.modes.forEach(({ source }, m) =>
    bySource.set(source, (bySource.get(source) ?? 0) + byMode[m]! ** 2),
  );
  const shares = [...bySource].sort(([, p], [, q]) => q - p);
  return { u: Math.sqrt(shares.reduce((sum, [, v]) => sum + v, 0)), source: shares[0]![0] };
}

/** The area that an outline encloses, holes taken away, mm². */
export const areaOf = (outline: Outline): Fact => ({
  value: regionArea(flattenRegion(outline.curves, FINE_MM)),
  ...uOf(outline, areaPull),
});
