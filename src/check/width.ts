import type { Point } from '../base/measure.ts';
import { smallestRectangle, support } from '../geometry/measure.ts';
import type { Outline } from '../outline/outline.ts';
import type { Source } from '../view/view.ts';
import type { Dimension } from './check.ts';

/** Vertices this close to a jaw are in contact with it, mm. */
const CONTACT_DEPTH_MM = 0.01;
/** Noise of the edge is independent from one such length to the next: about six pixels at 0.1 mm/px. */
export const EDGE_CORRELATION_MM = 0.6;

interface Contact {
  readonly reachMm: number;
  readonly touch: Point<'sheet'>;
  /** Mean displacement along `n` that one mode gives the vertices in contact. */
  readonly shift: (mode: { readonly dx: Float64Array; readonly dy: Float64Array }) => number;
  /** Variance of the place of the jaw from noise of the edge that is not shared. */
  readonly edgeVariance: number;
  /** Variance that the outline's own `u` holds beyond its modes and its edge noise: the fitted curve. */
  readonly fitVariance: number;
}

/** One jaw against a ring (0 the outer one, 1 and on the holes) on its side towards `directionRad`. */
function contact(outline: Outline, ringIndex: number, directionRad: number): Contact {
  const rings = [outline.region.outer, ...outline.region.holes];
  const ring = rings[ringIndex]!;
  // Modes list the vertices of all rings one after the other.
  const first = rings.slice(0, ringIndex).reduce((sum, { length }) => sum + length, 0);
  const count = ring.length;
  const n = { x: Math.cos(directionRad), y: Math.sin(directionRad) };
  const { reachMm, index } = support(ring, directionRad);
  const touching: number[] = [];
  let [low, high] = [Infinity, -Infinity];
  let [sx, sy] = [0, 0];
  for (let k = 0; k < count; k++) {
    const p = ring[k]!;
    if (n.x * p.x + n.y * p.y < reachMm - CONTACT_DEPTH_MM) continue;
    touching.push(k);
    const along = -n.y * p.x + n.x * p.y;
    low = Math.min(low, along);
    high = Math.max(high, along);
    sx += p.x;
    sy += p.y;
  }
  const mean = (value: (k: number) => number): number =>
    touching.reduce((sum, k) => sum + value(k), 0) / touching.length;
  const independent = Math.max(1, Math.min(touching.length, (high - low) / EDGE_CORRELATION_MM));
  const edgeU = outline.edgeU[ringIndex]!;
  const u = outline.u[ringIndex]!;
  return {
    reachMm,
    touch:
      touching.length > 1 ? { x: sx / touching.length, y: sy / touching.length } : ring[index]!,
    shift: ({ dx, dy }) => mean((k) => n.x * dx[first + k]! + n.y * dy[first + k]!),
    edgeVariance: mean((k) => edgeU[k]! ** 2) / independent,
    fitVariance: mean((k) => {
      const before = ring[(k + count - 1) % count]!;
      const after = ring[(k + 1) % count]!;
      const length = Math.hypot(after.x - before.x, after.y - before.y) || 1;
      const [nx, ny] = [(after.y - before.y) / length, (before.x - after.x) / length];
      let shared = edgeU[k]! ** 2;
      for (const { dx, dy } of outline.modes)
        shared += (nx * dx[first + k]! + ny * dy[first + k]!) ** 2;
      return Math.max(0, u[k]! ** 2 - shared);
    }),
  };
}

/**
 * The outline's width as two parallel jaws read it that close along `directionRad`: the distance between its support
 * lines. Its uncertainty comes from the outline's modes at the two places of contact, so what moves both jaws alike
 * cancels, plus the noise of the edge averaged over each contact. Shares are shares of variance (JCGM 100, 5.1.2).
 */
export const width = (outline: Outline, directionRad: number): Dimension =>
  between(outline, 0, directionRad);

/**
 * A hole as the inside jaws of a caliper read it across `directionRad`, in the same way as `width`.
 *
 * @param hole its place in `region.holes`
 */
export const holeWidth = (outline: Outline, hole: number, directionRad: number): Dimension => ({
  ...between(outline, hole + 1, directionRad),
  kind: 'hole',
});

function between(outline: Outline, ringIndex: number, directionRad: number): Dimension {
  const a = contact(outline, ringIndex, directionRad);
  const b = contact(outline, ringIndex, directionRad + Math.PI);
  const variance = new Map<Source, number>();
  const add = (source: Source, value: number): void => {
    if (value > 0) variance.set(source, (variance.get(source) ?? 0) + value);
  };
  for (const mode of outline.modes) add(mode.source, (a.shift(mode) + b.shift(mode)) ** 2);
  add('edge', a.edgeVariance + b.edgeVariance);
  add('curve fit', a.fitVariance + b.fitVariance);
  const total = [...variance.values()].reduce((sum, v) => sum + v, 0);
  return {
    kind: 'width',
    directionRad,
    valueMm: a.reachMm + b.reachMm,
    u: Math.sqrt(total),
    touches: [a.touch, b.touch],
    budget: [...variance]
      .sort(([, p], [, q]) => q - p)
      .map(([source, v]) => ({ source, u: Math.sqrt(v), share: v / total })),
  };
}

/**
 * The two sizes that are asked for first: the sides of the smallest rectangle round the outline. The one nearer to the
 * sheet's x axis comes first.
 */
export function mainWidths(outline: Outline): [Dimension, Dimension] {
  const { longDirectionRad } = smallestRectangle(outline.region.outer);
  const across = (longDirectionRad + Math.PI / 2) % Math.PI;
  const along =
    Math.abs(Math.cos(longDirectionRad)) >= Math.SQRT1_2 - 1e-9
      ? [longDirectionRad, across]
      : [across, longDirectionRad];
  return [width(outline, along[0]!), width(outline, along[1]!)];
}
