/** Sums of a linearised problem: JᵀWJ (row-major, its upper triangle counts) and JᵀWr. */
export interface Normal {
  readonly size: number;
  readonly matrix: Float64Array;
  readonly gradient: Float64Array;
}

export const emptyNormal = (size: number): Normal => ({
  size,
  matrix: new Float64Array(size * size),
  gradient: new Float64Array(size),
});

/** A sum of squares (with any robust loss inside) over `size` parameters. */
export interface Problem {
  readonly size: number;
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
  let normal = emptyNormal(n);
  let cost = problem.linearise(x, normal);
  let step = 0;
  let converged = false;
  for (; step < steps && !converged; step++) {
    const delta = solveNormal(normal, damping);
    const next = delta && x.map((v, k) => v - delta[k]!);
    const nextCost = next ? problem.cost(next) : Infinity;
    if (delta && next && nextCost <= cost) {
      let predicted = 0;
      for (let k = 0; k < n; k++) {
        predicted +=
          0.5 * delta[k]! * (damping * normal.matrix[k * n + k]! * delta[k]! + normal.gradient[k]!);
      }
      const gain = predicted > 0 ? (cost - nextCost) / predicted : 1;
      converged = cost - nextCost <= tolerance * (cost + Number.MIN_VALUE) && gain > 0.25;
      damping *= Math.max(1 / 3, 1 - (2 * gain - 1) ** 3);
      growth = 2;
      x = next;
      normal = emptyNormal(n);
      cost = problem.linearise(x, normal);
    } else {
      // At the bottom rounding alone decides whether a step of no length rises or falls.
      if (delta && delta.every((d, k) => Math.abs(d) <= 1e-14 * Math.abs(x[k]!))) converged = true;
      damping *= growth;
      growth *= 2;
      if (!(damping < 1e30)) break;
    }
  }
  return { x, cost, steps: step, converged, normal };
}

/**
 * Lower Cholesky factor of D (N + damping·diag N) D with D scaling the diagonal of N to 1; undefined when that is not positive
 * definite. Plain loops over typed arrays: a tenth of the time of a general matrix class at the 120 parameters of a view.
 */
function factor(
  { size: n, matrix }: Normal,
  damping: number,
): { lower: Float64Array; scale: Float64Array } | undefined {
  const scale = Float64Array.from({ length: n }, (_, k) => 1 / Math.sqrt(matrix[k * n + k]! || 1));
  const lower = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = matrix[j * n + i]! * scale[i]! * scale[j]!;
      if (i === j) sum += damping;
      for (let k = 0, a = i * n, b = j * n; k < j; k++, a++, b++) sum -= lower[a]! * lower[b]!;
      if (i > j) lower[i * n + j] = sum / lower[j * n + j]!;
      else if (sum > 1e-15) lower[i * n + i] = Math.sqrt(sum);
      else return undefined;
    }
  }
  return { lower, scale };
}

/** Solves (N + damping·diag N) d = gradient, N by its upper triangle; undefined when it is not positive definite. */
export function solveNormal(normal: Normal, damping = 0): Float64Array | undefined {
  const { size: n, gradient } = normal;
  const found = factor(normal, damping);
  if (!found) return undefined;
  const { lower, scale } = found;
  const d = gradient.map((g, k) => g * scale[k]!);
  for (let i = 0; i < n; i++) {
    let sum = d[i]!;
    for (let k = 0; k < i; k++) sum -= lower[i * n + k]! * d[k]!;
    d[i] = sum / lower[i * n + i]!;
  }
  for (let i = n - 1; i >= 0; i--) {
    let sum = d[i]!;
    for (let k = i + 1; k < n; k++) sum -= lower[k * n + i]! * d[k]!;
    d[i] = sum / lower[i * n + i]!;
  }
  return d.map((v, k) => v * scale[k]!);
}

/** The inverse of a normal matrix: the covariance of the parameters. Throws when it is not positive definite. */
export function covarianceOf(normal: Normal): Float64Array {
  const { size: n } = normal;
  const found = factor(normal, 0);
  if (!found) throw new Error('normal matrix is not positive definite');
  const { lower, scale } = found;
  // Inverse of the factor, row by row; then its products.
  const inverse = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    const row = inverse.subarray(i * n, i * n + n);
    row[i] = 1;
    for (let k = 0; k < i; k++) {
      const l = lower[i * n + k]!;
      for (let j = 0, at = k * n; j <= k; j++, at++) row[j]! -= l * inverse[at]!;
    }
    const pivot = lower[i * n + i]!;
    for (let j = 0; j <= i; j++) row[j]! /= pivot;
  }
  const out = new Float64Array(n * n);
  for (let k = 0; k < n; k++) {
    for (let i = 0; i <= k; i++) {
      const v = inverse[k * n + i]!;
      for (let j = 0, at = i * n, b = k * n; j <= i; j++, at++, b++) out[at]! += v * inverse[b]!;
    }
  }
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      const v = out[i * n + j]! * scale[i]! * scale[j]!;
      out[i * n + j] = v;
      out[j * n + i] = v;
    }
  }
  return out;
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
