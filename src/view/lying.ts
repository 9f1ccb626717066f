import { Matrix, solve } from 'ml-matrix';

/** Heights of riders as the pictures alone give them, mm, and what is known of the heights that they may lie on. */
export interface Lying {
  readonly heightsMm: readonly number[];
  /** Of the heights, mm²; row by row. */
  readonly covariance: readonly (readonly number[])[];
  /** Which sightings are of one rider: entry by entry its number, from 0. */
  readonly riderOf: readonly number[];
  /** Of blanks, then of blocks beside them, mm. */
  readonly facesMm: readonly number[];
  /** How many of them are blocks'. */
  readonly blocks: number;
  /** Standard uncertainty of each face's height, and of what lies between a rider and its face, mm. */
  readonly faceU: number;
  readonly betweenU: number;
}

/** Where one rider lies. */
export interface Under {
  /** Index of the face. */
  readonly face: number;
  /** Standard uncertainty of the height that comes of not knowing which face it is, mm. */
  readonly orElseU: number;
}

/** More combinations than these are not tried: each rider then lies on the height next to its own. */
const TRIED = 4096;

/**
 * On which height each rider lies: of all combinations the one that explains the pictures' heights best, all riders at once
 * (least d' C⁻¹ d, C with what the riders share: a focal length that is off lifts all of them alike). A block was entered
 * because a rider lies on it, so combinations that use more of the blocks go before others. What explains the heights nearly
 * as well counts by its likelihood, as an uncertainty of the height.
 *
 * @returns sighting by sighting
 */
export function facesUnder(lying: Lying): Under[] {
  const { heightsMm, riderOf, facesMm, blocks } = lying;
  const riders = Math.max(-1, ...riderOf) + 1;
  const faces = facesMm.length;
  if (faces < 2 || riders === 0) return heightsMm.map(() => ({ face: 0, orElseU: 0 }));
  if (faces ** riders > TRIED)
    return heightsMm.map((z) => {
      const order = facesMm
        .map((h, k) => [Math.abs(z - h), k] as const)
        .sort((a, b) => a[0] - b[0]);
      return { face: order[0]![1], orElseU: 0 };
    });
  const all = Array.from({ length: faces ** riders }, (_, code) => {
    const of = Array.from({ length: riders }, (_, r) => Math.floor(code / faces ** r) % faces);
    return { of, used: new Set(of.filter((k) => k >= faces - blocks)).size };
  });
  const most = Math.max(...all.map(({ used }) => used));
  const tried = all
    .filter(({ used }) => used === most)
    .map(({ of }) => {
      const under = riderOf.map((r) => of[r]!);
      return { under, misfit: misfitOf(lying, under) };
    });
  const best = tried.reduce((a, b) => (b.misfit < a.misfit ? b : a));
  const weights = tried.map(({ misfit }) => Math.exp((best.misfit - misfit) / 2));
  const sum = weights.reduce((a, b) => a + b);
  return best.under.map((face, s) => {
    const off = tried.map(({ under }) => (facesMm[under[s]!]! - facesMm[face]!) ** 2);
    return { face, orElseU: Math.sqrt(off.reduce((t, d, k) => t + d * weights[k]!, 0) / sum) };
  });
}

/** d' C⁻¹ d, no unit. */
function misfitOf(
  { heightsMm, covariance, riderOf, facesMm, faceU, betweenU }: Lying,
  under: readonly number[],
): number {
  const d = Matrix.columnVector(heightsMm.map((z, k) => z - facesMm[under[k]!]!));
  const c = new Matrix(
    heightsMm.map((_, a) =>
      heightsMm.map(
        (_, b) =>
          covariance[a]![b]! +
          (under[a] === under[b] ? faceU ** 2 : 0) +
          (riderOf[a] === riderOf[b] ? betweenU ** 2 : 0) +
          (a === b ? 1e-9 : 0),
      ),
    ),
  );
  return d.transpose().mmul(solve(c, d)).get(0, 0);
}
