import type { Frame, Point } from '../base/measure.ts';
import { solveSmall } from './pieces.ts';
import type { Ring } from './shape.ts';

/** A measured closed curve: points in order, mm. */
export interface Measured<F extends Frame> {
  readonly points: Ring<F>;
  /** 1 where the curve has a corner, which stays where it is. */
  readonly corner: Uint8Array;
  /** Scatter (k = 1) of the points, mm. */
  readonly sigmaMm: number;
  /** Scatter of each point where it differs along the curve, mm. */
  readonly sigmas?: Float64Array;
}

/** Scatter of neighbouring points is not independent: one in so many is. */
export const INDEPENDENT = 6;
/** Scatter that reaches the tolerance this many times over is left as it is. */
const SCATTER = 4;
/** Variance in the middle of a polynomial of third degree through n points, times n (the asymptote of its hat matrix). */
const IN_THE_MIDDLE = 9 / 4;
/** Points are averaged over this much of the curve to either side at most, mm. */
const REACH_MM = 3;
/** With fewer points on a window nothing is averaged. */
const LEAST_POINTS = 7;
/** A polynomial that leaves the points by more than this many times their scatter hides what they show. */
const SHOWN = 1.3;

/**
 * The course that points take: where four times a point's scatter is more than the tolerance, the point is moved onto a
 * polynomial of third degree through its neighbours, as many as bring that scatter below the tolerance (one point in six
 * counts), fewer where the curve bends more than that allows, none beyond a corner. Elsewhere the points as they are.
 */
export function courseOf<F extends Frame>(measured: Measured<F>, toleranceMm: number): Measured<F> {
  const { points, corner, sigmaMm, sigmas } = measured;
  const n = points.length;
  const sigma = (k: number): number => sigmas?.[k] ?? sigmaMm;
  if (!points.some((_, k) => SCATTER * sigma(k) > toleranceMm)) return measured;
  const out: Point<F>[] = [...points];
  const rest = Float64Array.from(points, (_, k) => sigma(k));
  points.forEach((p, k) => {
    if (corner[k] || SCATTER * sigma(k) <= toleranceMm) return;
    const gain = (SCATTER * sigma(k)) / toleranceMm;
    let side = Math.ceil((IN_THE_MIDDLE * INDEPENDENT * gain * gain) / 2);
    for (; 2 * side + 1 >= LEAST_POINTS; side = Math.floor(side / 1.6)) {
      const us: number[] = [];
      const xs: number[] = [];
      const ys: number[] = [];
      let squares = 0;
      const add = (m: number, u: number): void => {
        us.push(u);
        xs.push(points[m]!.x);
        ys.push(points[m]!.y);
        squares += sigma(m) ** 2;
      };
      add(k, 0);
      for (const way of [1, -1]) {
        let u = 0;
        for (let c = 1, at = k; c <= side && c < n / 2; c++) {
          const next = (at + way + n) % n;
          u += Math.hypot(points[next]!.x - points[at]!.x, points[next]!.y - points[at]!.y);
          if (u > REACH_MM) break;
          add(next, way * u);
          at = next;
          if (corner[at]) break;
        }
      }
      const count = us.length;
      if (count < LEAST_POINTS) return;
      const wide = Math.max(...us.map(Math.abs));
      const scaled = us.map((u) => u / wide);
      const [fx, fy] = [localCubic(scaled, xs), localCubic(scaled, ys)];
      const left = scaled.reduce(
        (sum, u, i) => sum + (xs[i]! - valueOf(fx, u)) ** 2 + (ys[i]! - valueOf(fy, u)) ** 2,
        0,
      );
      // The scatter is across the curve: one coordinate of the two.
      if (left > SHOWN ** 2 * squares) continue;
      out[k] = { x: fx[0], y: fy[0] };
      const kept = Math.sqrt((IN_THE_MIDDLE * INDEPENDENT) / count);
      rest[k] = sigma(k) * Math.min(1, kept);
      return;
    }
    out[k] = p;
  });
  const median = Float64Array.from(rest).sort()[n >> 1]!;
  return { points: out, corner, sigmaMm: median, sigmas: rest };
}

export type Coefficients = readonly [number, number, number, number];

export const valueOf = ([a, b, c, d]: Coefficients, u: number): number =>
  a + u * (b + u * (c + u * d));

/** Least-squares polynomial of third degree in u (about -1 to 1); through `fixed` at u = 0 when given. Its slope has no bias from a changing bend. */
export function localCubic(
  us: readonly number[],
  vs: readonly number[],
  fixed?: number,
): Coefficients {
  const first = fixed === undefined ? 0 : 1;
  const m = 4 - first;
  const normal = new Float64Array(m * m);
  const right = new Float64Array(m);
  us.forEach((u, i) => {
    const powers = [1, u, u * u, u * u * u].slice(first);
    const v = vs[i]! - (fixed ?? 0);
    powers.forEach((p, r) => {
      right[r]! += p * v;
      powers.forEach((q, c) => (normal[r * m + c]! += p * q));
    });
  });
  const found = solveSmall(normal, right, m) ?? new Array<number>(m).fill(0);
  return (fixed === undefined ? found : [fixed, ...found]) as unknown as Coefficients;
}
