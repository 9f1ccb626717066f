import { Matrix, solve } from 'ml-matrix';
import { faceJacobian, facePoints, rigidMotions, times } from './modes.ts';
import type { Observation } from './observation.ts';
import type { Remedy, View } from './view.ts';

/** Something that could still be learnt: what the operator would do, and the observations that it would bring. */
export interface Candidate {
  readonly what: Remedy['what'];
  readonly observations: readonly Observation[];
}

/** A remedy that leaves more than this share of U is not worth a walk. */
const WORTH = 0.97;

/**
 * What each candidate would make of the face's U, the best first; what would hardly help is left out.
 *
 * Observations with rows A, in units of their standard deviations, change the covariance P to P − P Aᵀ (1 + A P Aᵀ)⁻¹ A P
 * (Woodbury's identity), whatever their values turn out to be; U is that of `faceUncertainty` at the first thickness.
 *
 * @param face `shapeRows` of a view, over all parameters of the adjustment; @param x their values
 * @param p covariance of all parameters, row-major
 */
export function remediesOf(
  face: readonly Float64Array[],
  x: Float64Array,
  p: Float64Array,
  candidates: readonly Candidate[],
): readonly Remedy[] {
  const n = x.length;
  const answers = face.map((row) => times(p, row));
  const now = greatest(face.map((row, r) => dot(row, answers[r]!)));
  return candidates
    .flatMap(({ what, observations }) => {
      if (observations.length === 0) return [];
      const rows = observations.map((o) => {
        const row = new Float64Array(o.at.length);
        o.residual(x, row);
        return { at: o.at, row };
      });
      // A P Aᵀ and A P Dᵀ: only the few columns that a row touches count.
      const gain = Matrix.eye(rows.length);
      rows.forEach((a, i) =>
        rows.forEach((b, j) => {
          let sum = 0;
          a.at.forEach((ka, x) =>
            b.at.forEach((kb, y) => (sum += a.row[x]! * b.row[y]! * p[ka * n + kb]!)),
          );
          gain.set(i, j, gain.get(i, j) + sum);
        }),
      );
      const seen = new Matrix(rows.length, face.length);
      rows.forEach(({ at, row }, i) =>
        answers.forEach((answer, r) => {
          let sum = 0;
          at.forEach((k, x) => (sum += row[x]! * answer[k]!));
          seen.set(i, r, sum);
        }),
      );
      const taken = solve(gain, seen);
      const left = face.map((row, r) => {
        let less = 0;
        for (let i = 0; i < rows.length; i++) less += seen.get(i, r) * taken.get(i, r);
        return Math.max(0, dot(row, answers[r]!) - less);
      });
      const uMm = greatest(left);
      return uMm < WORTH * now ? [{ what, uMm }] : [];
    })
    .sort((a, b) => a.uMm - b.uMm);
}

/** Derivatives of the first face's shape over the stage: its motion as a whole taken out. */
export function shapeRows(view: View): Float64Array[] {
  const face = faceJacobian(view, 0);
  for (const motion of rigidMotions(facePoints(view))) {
    const along = new Float64Array(view.values.length);
    face.forEach((row, r) => row.forEach((v, k) => (along[k]! += v * motion[r]!)));
    face.forEach((row, r) => along.forEach((v, k) => (row[k]! -= v * motion[r]!)));
  }
  return face;
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < a.length; k++) sum += a[k]! * b[k]!;
  return sum;
}

/** Expanded (k = 2), of the point that is known worst, from the variances of x and y in turn. */
function greatest(variances: readonly number[]): number {
  let most = 0;
  for (let r = 0; r < variances.length; r += 2)
    most = Math.max(most, variances[r]! + variances[r + 1]!);
  return 2 * Math.sqrt(most);
}
