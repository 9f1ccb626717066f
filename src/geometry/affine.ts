import type { Frame, Point } from '../base/measure.ts';

/** x' = a x + c y + e, y' = b x + d y + f: the six numbers in the order of PDF and SVG (ISO 32000-1, 8.3.3). */
export type Affine = readonly [a: number, b: number, c: number, d: number, e: number, f: number];

export const IDENTITY: Affine = [1, 0, 0, 1, 0, 0];

/** First `n`, then `m`. */
export const times = (m: Affine, n: Affine): Affine => [
  m[0] * n[0] + m[2] * n[1],
  m[1] * n[0] + m[3] * n[1],
  m[0] * n[2] + m[2] * n[3],
  m[1] * n[2] + m[3] * n[3],
  m[0] * n[4] + m[2] * n[5] + m[4],
  m[1] * n[4] + m[3] * n[5] + m[5],
];

export const mapPoint = <F extends Frame>(m: Affine, p: Point<F>): Point<F> => ({
  x: m[0] * p.x + m[2] * p.y + m[4],
  y: m[1] * p.x + m[3] * p.y + m[5],
});

/** Area of what a unit square becomes; negative where it is mirrored. */
export const determinant = (m: Affine): number => m[0] * m[3] - m[1] * m[2];

/** The map back. */
export function inverse(m: Affine): Affine {
  const det = determinant(m);
  const [a, b, c, d] = [m[3] / det, -m[1] / det, -m[2] / det, m[0] / det];
  return [a, b, c, d, -a * m[4] - c * m[5], -b * m[4] - d * m[5]];
}

/**
 * The map that brings points nearest to others in the sense of least squares.
 *
 * @param affine six free numbers; else four: turn, one scale, shift (mirrored first where `mirrored`)
 * @returns undefined where the points do not settle it: fewer than two (three for affine), or all in one place or line
 */
export function fitAffine<F extends Frame>(
  from: readonly Point<F>[],
  to: readonly Point<NoInfer<F>>[],
  { affine = false, mirrored = false } = {},
): Affine | undefined {
  const n = from.length;
  if (n < (affine ? 3 : 2)) return undefined;
  const mean = (points: readonly Point<F>[]): Point<F> => ({
    x: points.reduce((s, p) => s + p.x, 0) / n,
    y: points.reduce((s, p) => s + p.y, 0) / n,
  });
  const [p0, q0] = [mean(from), mean(to)];
  let [xx, xy, yy, xu, yu, xv, yv] = [0, 0, 0, 0, 0, 0, 0];
  for (let k = 0; k < n; k++) {
    const x = from[k]!.x - p0.x;
    const y = from[k]!.y - p0.y;
    const u = to[k]!.x - q0.x;
    const v = to[k]!.y - q0.y;
    xx += x * x;
    xy += x * y;
    yy += y * y;
    xu += x * u;
    yu += y * u;
    xv += x * v;
    yv += y * v;
  }
  let linear: readonly [number, number, number, number];
  if (affine) {
    const det = xx * yy - xy * xy;
    if (!(det > 1e-9 * (xx + yy) ** 2)) return undefined;
    linear = [
      (xu * yy - yu * xy) / det,
      (xv * yy - yv * xy) / det,
      (yu * xx - xu * xy) / det,
      (yv * xx - xv * xy) / det,
    ];
  } else {
    const sum = xx + yy;
    if (!(sum > 0)) return undefined;
    const sign = mirrored ? -1 : 1;
    // Of the matrix [a, -s b; b, s a]: s is -1 where the second axis is turned over.
    const a = (xu + sign * yv) / sum;
    const b = (xv - sign * yu) / sum;
    linear = [a, b, -sign * b, sign * a];
  }
  const [a, b, c, d] = linear;
  return [a, b, c, d, q0.x - a * p0.x - c * p0.y, q0.y - b * p0.x - d * p0.y];
}
