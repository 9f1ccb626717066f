import { Matrix, solve } from 'ml-matrix';
import type { Frame, Point } from '../base/measure.ts';

export interface Circle<F extends Frame> {
  readonly centre: Point<F>;
  readonly radiusMm: number;
  /** Greatest distance of a point from the circle, mm. */
  readonly deviationMm: number;
  /**
   * How centre x, centre y and radius move when a point moves outward along its own radius by 1 mm: three rows of one
   * weight per point.
   */
  readonly weights: readonly [Float64Array, Float64Array, Float64Array];
}

/**
 * The circle with the least sum of squared distances to the points (geometric fit, by Gauss and Newton from the algebraic
 * one); undefined where fewer than three points, or points on a line, determine none.
 * Source: Gander, Golub, Strebel, BIT 34 (1994), 558-578.
 */
export function fitCircle<F extends Frame>(points: readonly Point<F>[]): Circle<F> | undefined {
  const n = points.length;
  if (n < 3) return undefined;
  const mx = points.reduce((sum, p) => sum + p.x, 0) / n;
  const my = points.reduce((sum, p) => sum + p.y, 0) / n;
  const at = points.map((p) => ({ x: p.x - mx, y: p.y - my }));
  const size = Math.sqrt(at.reduce((sum, p) => sum + p.x * p.x + p.y * p.y, 0) / n);
  if (!(size > 0)) return undefined;
  // Algebraic start: x² + y² = 2 a x + 2 b y + c.
  const start = normal(
    at.map(({ x, y }) => [2 * x, 2 * y, 1]),
    at.map(({ x, y }) => x * x + y * y),
    size,
  );
  if (!start) return undefined;
  let [a, b] = [start[0]!, start[1]!];
  let r = Math.sqrt(Math.max(0, start[2]! + a * a + b * b));
  let rows: number[][] = [];
  for (let step = 0; step < 50; step++) {
    const away = at.map(({ x, y }) => Math.hypot(x - a, y - b) || 1e-12);
    rows = at.map(({ x, y }, k) => [(x - a) / away[k]!, (y - b) / away[k]!, 1]);
    const by = normal(
      rows,
      away.map((d) => d - r),
      1,
    );
    if (!by) return undefined;
    a += by[0]!;
    b += by[1]!;
    r += by[2]!;
    if (Math.hypot(...by) < 1e-12 * size) break;
  }
  if (!Number.isFinite(a + b + r) || r > 1e3 * size) return undefined;
  const gain = solve(normalMatrix(rows), new Matrix(rows).transpose());
  const deviationMm = Math.max(...at.map(({ x, y }) => Math.abs(Math.hypot(x - a, y - b) - r)));
  const row = (k: number): Float64Array => Float64Array.from(gain.getRow(k));
  return {
    centre: { x: a + mx, y: b + my },
    radiusMm: r,
    deviationMm,
    weights: [row(0), row(1), row(2)],
  };
}

const normalMatrix = (rows: readonly number[][]): Matrix => {
  const m = new Matrix(rows as number[][]);
  return m.transpose().mmul(m);
};

/** Least squares by the normal equations of three columns; undefined where they do not determine it. */
function normal(
  rows: readonly number[][],
  right: readonly number[],
  scale: number,
): readonly number[] | undefined {
  // Columns of about one size keep the small system well conditioned.
  const scaled = rows.map(([x, y, one]) => [x! / scale, y! / scale, one!]);
  const m = new Matrix(scaled);
  const square = m.transpose().mmul(m);
  const [p, q] = [square.get(0, 0), square.get(1, 1)];
  const spread = p * q - square.get(0, 1) ** 2;
  if (!(spread > 1e-12 * (p + q) ** 2)) return undefined;
  const found = solve(square, m.transpose().mmul(Matrix.columnVector(right as number[])));
  return [found.get(0, 0) / scale, found.get(1, 0) / scale, found.get(2, 0)];
}
