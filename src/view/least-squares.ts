/** Sums of a linearised problem: JᵀWJ (row-major, its upper triangle counts) and JᵀWr. */
export interface Normal {
  readonly size: number;
  readonly matrix: Float64Array;
  readonly gradient: Float64Array;
  /** Where each row of the matrix ends: from there on it holds nothing. */
  readonly ends: Int32Array;
}

/** @param ends of the rows, where they are known to end early */
export const emptyNormal = (
  size: number,
  ends: Int32Array = new Int32Array(size).fill(size),
): Normal => ({
  size,
  matrix: new Float64Array(size * size),
  gradient: new Float64Array(size),
  ends,
});

/** Normal equations of many parameters, and where some stand among them. */
export interface Mapped {
  readonly normal: Normal;
  readonly map: Int32Array;
}

/** Where the upper triangle of a matrix of n rows keeps an entry. */
export const placeIn = (n: number, a: number, b: number): number => (a < b ? a * n + b : b * n + a);

/** A sum of squares (with any robust loss inside) over `size` parameters. */
export interface Problem {
  readonly size: number;
  /** Where each row of its normal matrix ends; at `size` when left out. */
  readonly ends?: Int32Array;
  /** Adds JᵀWJ and JᵀWr at x into `into`; returns the cost, half the sum of losses. */
  linearise(x: Float64Array, into: Normal): number;
  /** The cost at x; Infinity where the model cannot be evaluated. */
  cost(x: Float64Array): number;
}

export interface Solution {
  readonly x: Float64Array;
  readonly cost: number;
  readonly steps: number;
  /** Whether the last step changed the cost by less than the tolerance. */
  readonly converged: boolean;
  /** The undamped normal equations at x. */
  readonly normal: Normal;
}

export interface Options {
  readonly steps?: number;
  /** Relative change of the cost below which the search ends. */
  readonly tolerance?: number;
  /** Damping to begin with, as a share of the diagonal; small for a start near the solution. */
  readonly damping?: number;
}

/**
 * Levenberg-Marquardt on normal equations, damped in each parameter's own scale.
 * Source: Marquardt, SIAM J. Appl. Math. 11 (1963); damping schedule after Nielsen, IMM-REP-1999-05 (both from memory).
 */
export function minimise(problem: Problem, start: Float64Array, options: Options = {}): Solution {
  const { steps = 100, tolerance = 1e-12 } = options;
  const n = problem.size;
  let x = start.slice();
  let damping = options.damping ?? 1e-3;
  let growth = 2;
  const normal = emptyNormal(n, problem.ends);
  const room = new Float64Array(n * n);
  let cost = problem.linearise(x, normal);
  let step = 0;
  let converged = false;
  for (; step < steps && !converged; step++) {
    const delta = solveNormal(normal, damping, room);
    const next = delta && x.map((v, k) => v - delta[k]!);
    const nextCost = next ? problem.cost(next) : Infinity;
    let predicted = 0;
    for (let k = 0; delta && k < n; k++) {
      predicted +=
        0.5 * delta[k]! * (damping * normal.matrix[k * n + k]! * delta[k]! + normal.gradient[k]!);
    }
    if (next && nextCost <= cost) {
      const gain = predicted > 0 ? (cost - nextCost) / predicted : 1;
      converged = cost - nextCost <= tolerance * (cost + Number.MIN_VALUE) && gain > 0.25;
      damping *= Math.max(1 / 3, 1 - (2 * gain - 1) ** 3);
      growth = 2;
      x = next;
      normal.matrix.fill(0);
      normal.gradient.fill(0);
      cost = problem.linearise(x, normal);
    } else {
      // At the bottom rounding decides whether a step that gains nothing rises or falls.
      if (delta && predicted <= tolerance * cost) converged = true;
      damping *= growth;
      growth *= 2;
      if (!(damping < 1e30)) break;
    }
  }
  return { x, cost, steps: step, converged, normal };
}

/**
 * Upper factor U of D (N + damping·diag N) D = U Uᵀ with D scaling the diagonal of N to 1; undefined when that is not positive
 * definite.
 *
 * Cholesky's method from the last row up: what several photos share stands first and each one's own parameters after it, so
 * that the own are eliminated first, each photo by itself (Schur's complement), and U ends where N does.
 *
 * @param upper room for U, empty or with a factor of a matrix that ends alike
 * Source: envelope methods, George and Liu, Computer Solution of Large Sparse Positive Definite Systems (1981, from memory).
 */
function factor(
  { size: n, matrix, ends }: Normal,
  damping: number,
  upper: Float64Array = new Float64Array(n * n),
): { upper: Float64Array; scale: Float64Array } | undefined {
  const scale = Float64Array.from({ length: n }, (_, k) => 1 / Math.sqrt(matrix[k * n + k]! || 1));
  for (let j = n - 1; j >= 0; j--) {
    const row = j * n;
    const after = j + 1;
    const length = ends[j]! - after;
    const pivot =
      matrix[row + j]! * scale[j]! * scale[j]! +
      damping -
      along(upper, row + after, row + after, length);
    if (!(pivot > 1e-15)) return undefined;
    upper[row + j] = Math.sqrt(pivot);
    const share = 1 / upper[row + j]!;
    for (let i = 0; i < j; i++) {
      if (ends[i]! <= j) continue;
      const sum = along(upper, i * n + after, row + after, length);
      upper[i * n + j] = (matrix[i * n + j]! * scale[i]! * scale[j]! - sum) * share;
    }
  }
  return { upper, scale };
}

/** Sum of the products of two stretches of a matrix; four sums side by side keep a processor busy. */
function along(m: Float64Array, a: number, b: number, length: number): number {
  let s0 = 0;
  let s1 = 0;
  let s2 = 0;
  let s3 = 0;
  const even = a + length - 3;
  for (; a < even; a += 4, b += 4) {
    s0 += m[a]! * m[b]!;
    s1 += m[a + 1]! * m[b + 1]!;
    s2 += m[a + 2]! * m[b + 2]!;
    s3 += m[a + 3]! * m[b + 3]!;
  }
  for (; a < even + 3; a++, b++) s0 += m[a]! * m[b]!;
  return s0 + s1 + (s2 + s3);
}

/**
 * Solves (N + damping·diag N) d = gradient, N by its upper triangle; undefined when it is not positive definite.
 *
 * @param room for the factor, where it is needed again and again
 */
export function solveNormal(
  normal: Normal,
  damping = 0,
  room?: Float64Array,
): Float64Array | undefined {
  const { size: n, gradient, ends } = normal;
  const found = factor(normal, damping, room);
  if (!found) return undefined;
  const { upper, scale } = found;
  const d = halfSolved(
    normal,
    upper,
    gradient.map((g, k) => g * scale[k]!),
  );
  for (let i = 0; i < n; i++) {
    d[i]! /= upper[i * n + i]!;
    const v = d[i]!;
    for (let k = i + 1; k < ends[i]!; k++) d[k]! -= upper[i * n + k]! * v;
  }
  return d.map((v, k) => v * scale[k]!);
}

/** The solution d of U d = right, in its place. */
function halfSolved(
  { size: n, ends }: Normal,
  upper: Float64Array,
  right: Float64Array,
): Float64Array {
  for (let i = n - 1; i >= 0; i--) {
    let sum = right[i]!;
    for (let k = i + 1; k < ends[i]!; k++) sum -= upper[i * n + k]! * right[k]!;
    right[i] = sum / upper[i * n + i]!;
  }
  return right;
}

/** A sum of some parameters, each times its weight. */
export interface Sum {
  readonly at: readonly number[];
  readonly weights: ArrayLike<number>;
}

/**
 * The covariance of sums of parameters, row by row: all that is asked of the inverse, which is not computed. Throws when the normal
 * matrix is not positive definite.
 */
export function covarianceOfSums(normal: Normal, sums: readonly Sum[]): number[][] {
  const found = factor(normal, 0);
  if (!found) throw new Error('normal matrix is not positive definite');
  const { upper, scale } = found;
  const halves = sums.map(({ at, weights }) => {
    const right = new Float64Array(normal.size);
    at.forEach((i, a) => (right[i]! += weights[a]! * scale[i]!));
    return halfSolved(normal, upper, right);
  });
  return halves.map((a) => halves.map((b) => a.reduce((sum, v, k) => sum + v * b[k]!, 0)));
}

/** The inverse of a normal matrix: the covariance of the parameters. Throws when it is not positive definite. */
export function covarianceOf(normal: Normal): Float64Array {
  const { size: n, ends } = normal;
  const found = factor(normal, 0);
  if (!found) throw new Error('normal matrix is not positive definite');
  const { upper, scale } = found;
  // Inverse of the factor, from the last row up; a row reaches as far as any that it draws on. Then its products.
  const inverse = new Float64Array(n * n);
  const reach = ends.slice();
  for (let i = n - 1; i >= 0; i--) {
    const row = i * n;
    for (let k = i + 1; k < ends[i]!; k++) {
      const v = upper[row + k]!;
      if (v === 0) continue;
      addTo(inverse, row + k, inverse, k * n + k, reach[k]! - k, -v);
      if (reach[k]! > reach[i]!) reach[i] = reach[k]!;
    }
    const share = 1 / upper[row + i]!;
    inverse[row + i] = 1;
    for (let j = i; j < reach[i]!; j++) inverse[row + j]! *= share;
  }
  const out = new Float64Array(n * n);
  for (let k = 0; k < n; k++) {
    for (let i = k; i < reach[k]!; i++) {
      const v = inverse[k * n + i]!;
      if (v !== 0) addTo(out, i * n + i, inverse, k * n + i, reach[k]! - i, v);
    }
  }
  for (let i = 0; i < n; i++) {
    for (let j = i; j < n; j++) {
      const v = out[i * n + j]! * scale[i]! * scale[j]!;
      out[i * n + j] = v;
      out[j * n + i] = v;
    }
  }
  return out;
}

/** to[at ...] += by · from[begin ...], so many numbers. */
function addTo(
  to: Float64Array,
  at: number,
  from: Float64Array,
  begin: number,
  length: number,
  by: number,
): void {
  for (const end = at + length; at < end; at++, begin++) to[at]! += by * from[begin]!;
}

/** A plain fit: parameters, their standard deviations from the residuals seen, and the sum of squares. */
export interface Fit {
  readonly parameters: Float64Array;
  readonly standardDeviations: Float64Array;
  readonly sumOfSquares: number;
  readonly steps: number;
}

/**
 * Unweighted nonlinear least squares with a numeric Jacobian (central differences).
 *
 * @param residuals of any number, the same at every call
 */
export function leastSquares(
  residuals: (b: readonly number[]) => readonly number[],
  start: readonly number[],
  options: Options = {},
): Fit {
  const n = start.length;
  const problem: Problem = {
    size: n,
    cost: (x) => half(residuals([...x])),
    linearise(x, into) {
      const b = [...x];
      const r = residuals(b);
      const columns = b.map((v, k) => {
        const h = Math.cbrt(Number.EPSILON) * Math.max(Math.abs(v), 1e-8);
        const up = residuals(b.with(k, v + h));
        const down = residuals(b.with(k, v - h));
        return r.map((_, m) => (up[m]! - down[m]!) / (2 * h));
      });
      for (let i = 0; i < n; i++) {
        r.forEach((v, m) => (into.gradient[i]! += columns[i]![m]! * v));
        for (let j = i; j < n; j++) {
          r.forEach((_, m) => (into.matrix[i * n + j]! += columns[i]![m]! * columns[j]![m]!));
        }
      }
      return half(r);
    },
  };
  const { x, cost, steps, normal } = minimise(problem, Float64Array.from(start), {
    steps: 500,
    damping: 1,
    ...options,
  });
  const freedom = residuals([...x]).length - n;
  const variance = (2 * cost) / freedom;
  const covariance = covarianceOf(normal);
  return {
    parameters: x,
    standardDeviations: x.map((_, k) => Math.sqrt(variance * covariance[k * n + k]!)),
    sumOfSquares: 2 * cost,
    steps,
  };
}

const half = (r: readonly number[]): number => {
  let s = 0;
  for (const v of r) s += v * v;
  return Number.isFinite(s) ? s / 2 : Infinity;
};
