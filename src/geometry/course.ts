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
  let [us, xs, ys] = roomFor(0);
  const rest = Float64Array.from(points, (_, k) => sigma(k));
  points.forEach((p, k) => {
    if (corner[k] || SCATTER * sigma(k) <= toleranceMm) return;
    const gain = (SCATTER * sigma(k)) / toleranceMm;
    let side = Math.ceil((IN_THE_MIDDLE * INDEPENDENT * gain * gain) / 2);
    for (; 2 * side + 1 >= LEAST_POINTS; side = Math.floor(side / 1.6)) {
      if (us.length < 2 * side + 1) [us, xs, ys] = roomFor(2 * side + 1);
      let count = 0;
      let squares = 0;
      const add = (m: number, u: number): void => {
        us[count] = u;
        xs[count] = points[m]!.x;
        ys[count++] = points[m]!.y;
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
      if (count < LEAST_POINTS) return;
      let wide = 0;
      for (let i = 0; i < count; i++) wide = Math.max(wide, Math.abs(us[i]!));
      for (let i = 0; i < count; i++) us[i]! /= wide;
      const scaled = us.subarray(0, count);
      const [fx, fy] = [localCubic(scaled, xs), localCubic(scaled, ys)];
      let left = 0;
      for (let i = 0; i < count; i++) {
        const dx = xs[i]! - valueOf(fx, us[i]!);
        const dy = ys[i]! - valueOf(fy, us[i]!);
        left = left + dx ** 2 + dy ** 2;
      }
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

const roomFor = (count: number): [Float64Array, Float64Array, Float64Array] => [
  new Float64Array(count),
  new Float64Array(count),
  new Float64Array(count),
];

/**
 * Least-squares polynomial of third degree in u (about -1 to 1); through `fixed` at u = 0 when given. Its slope has no bias from
 * a changing bend. Of `vs` as many count as there are `us`.
 */
export function localCubic(
  us: ArrayLike<number>,
  vs: ArrayLike<number>,
  fixed?: number,
): Coefficients {
  const first = fixed === undefined ? 0 : 1;
  const m = 4 - first;
  const normal = new Float64Array(m * m);
  const right = new Float64Array(m);
  const powers = new Float64Array(4).fill(1);
  for (let i = 0; i < us.length; i++) {
    const u = us[i]!;
    powers[1] = u;
    powers[2] = u * u;
    powers[3] = u * u * u;
    const v = vs[i]! - (fixed ?? 0);
    for (let r = 0; r < m; r++) {
      const p = powers[first + r]!;
      right[r]! += p * v;
      for (let c = 0; c < m; c++) normal[r * m + c]! += p * powers[first + c]!;
    }
  }
  const found = solveSmall(normal, right, m) ?? new Array<number>(m).fill(0);
  return (fixed === undefined ? found : [fixed, ...found]) as unknown as Coefficients;
}
