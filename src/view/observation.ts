import type { Normal } from './least-squares.ts';
import type { CalibrationSettings, ParameterPlaces, Source } from './view.ts';

/** One thing known besides the marks: a residual in units of its own standard deviation, with its derivatives. */
export interface Observation {
  readonly source: Source;
  /** Parameters it touches. */
  readonly at: readonly number[];
  /** Residual / sd at x; writes the derivatives in the order of `at` when `row` is given. */
  residual(x: ArrayLike<number>, row?: Float64Array): number;
}

/** A parameter known by itself. */
export const known = (source: Source, at: number, mean: number, sd: number): Observation => ({
  source,
  at: [at],
  residual(x, row) {
    if (row) row[0] = 1 / sd;
    return (x[at]! - mean) / sd;
  },
});

/** A positive parameter known to a share of itself: normal in its logarithm, so that a wide guess never reaches zero. */
export const knownShare = (
  source: Source,
  at: number,
  mean: number,
  share: number,
): Observation => ({
  source,
  at: [at],
  residual(x, row) {
    if (row) row[0] = 1 / (share * x[at]!);
    return x[at]! > 0 ? Math.log(x[at]! / mean) / share : Infinity;
  },
});

/** A weighted sum of parameters known by itself. */
export const knownSum = (
  source: Source,
  at: readonly number[],
  weights: readonly number[],
  mean: number,
  sd: number,
): Observation => ({
  source,
  at,
  residual(x, row) {
    let sum = -mean;
    at.forEach((a, k) => (sum += weights[k]! * x[a]!));
    if (row) weights.forEach((w, k) => (row[k] = w / sd));
    return sum / sd;
  },
});

/**
 * What is known of the sheet's growth since its spans were read. Damp moves both sides one way, across the grain twice as far
 * as along it: half their difference is a third of their mean.
 */
export function growthOf(
  { growthU = 0 }: CalibrationSettings,
  { growth }: ParameterPlaces,
): Observation[] {
  const sides = [growth, growth + 1];
  const u = Math.max(growthU, 1e-8);
  return [
    knownSum('sheet age', sides, [0.5, 0.5], 0, u),
    knownSum('sheet age', sides, [0.5, -0.5], 0, u / 3),
  ];
}

/** Room for the derivatives of one observation. */
let room = new Float64Array(64);

/** Adds an observation to the normal equations; returns its share of the cost. */
export function addObservation(o: Observation, x: ArrayLike<number>, into?: Normal): number {
  if (!into) return 0.5 * o.residual(x) ** 2;
  const { at } = o;
  if (room.length < at.length) room = new Float64Array(at.length);
  const row = room;
  const e = o.residual(x, row);
  const { matrix, gradient, size: n } = into;
  for (let a = 0; a < at.length; a++) {
    const i = at[a]!;
    gradient[i]! += row[a]! * e;
    for (let b = 0; b < at.length; b++) {
      const j = at[b]!;
      if (i <= j) matrix[i * n + j]! += row[a]! * row[b]!;
    }
  }
  return 0.5 * e * e;
}
