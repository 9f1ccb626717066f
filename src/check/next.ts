import { inverse, Matrix } from 'ml-matrix';
import { outwardNormals } from '../geometry/measure.ts';
import type { Outline } from '../outline/outline.ts';
import type { Dimension, Feature } from './check.ts';
import { measure } from './feature.ts';
import { mainDirections } from './width.ts';

/** A reading that was made, and is believed: what it measured, and what it is worth (k = 1, mm). */
export interface Known {
  readonly dimension: Pick<Dimension, 'shifts' | 'ownVariance'>;
  readonly ownU: number;
  /** Of the instrument, shared by all its readings. */
  readonly sharedU: number;
}

/** The reading that would tell most, and what would be left of the doubt of the outer edge (U, k = 2, 95 % of it, mm). */
export interface NextCheck {
  readonly feature: Feature;
  readonly dimension: Dimension;
  readonly nowU: number;
  readonly thenU: number;
}

/** The doubt is looked at in this many places of the outer ring. */
const PLACES = 120;
/** A reading that would leave more than this share of the doubt is not worth a walk. */
const WORTH = 0.9;

/**
 * Covariance of the outline's modes (independent, of variance 1 each) once some readings are known:
 * P = (1 + Gᵀ R⁻¹ G)⁻¹, with a row of shifts per reading in G, and in R what each reading does not share with the modes,
 * the instrument's own error in every pair. Source: linear least squares with prior (JCGM 102; any textbook).
 */
export function modeCovariance(count: number, known: readonly Known[]): Matrix {
  const p = Matrix.eye(count);
  if (known.length === 0 || count === 0) return p;
  const g = new Matrix(known.map((k) => Array.from(k.dimension.shifts)));
  const r = new Matrix(known.length, known.length);
  known.forEach((a, i) =>
    known.forEach((b, j) =>
      r.set(i, j, a.sharedU * b.sharedU + (i === j ? a.ownU ** 2 + a.dimension.ownVariance : 0)),
    ),
  );
  // Woodbury: only as many equations as there are readings.
  const gain = inverse(r.add(g.mmul(g.transpose())));
  return p.sub(g.transpose().mmul(gain).mmul(g));
}

/** What could be read next: across every 15 degrees from the main sides, and the thickness where it bears on the outline. */
function candidates(outline: Outline): Feature[] {
  const [along] = mainDirections(outline);
  const turned = (rad: number): number => (outline.mirrored ? Math.PI - rad : rad);
  const across = Array.from({ length: 12 }, (_, k): Feature =>
    k === 0 || k === 6
      ? { kind: 'main', side: k === 0 ? 'width' : 'height' }
      : { kind: 'across', directionRad: turned(along + (k * Math.PI) / 12) },
  );
  return outline.modes.some((m) => m.heightMm) ? [...across, { kind: 'thickness' }] : across;
}

/** Across the blank at 45 degrees to the sheet's sides: what shows an outline that is skewed along with the sheet. */
export const slantedCheck = ({ mirrored }: Outline): Feature => ({
  kind: 'across',
  directionRad: mirrored ? (3 * Math.PI) / 4 : Math.PI / 4,
});

/**
 * Across the blank in the direction, of those every 15 degrees from its main sides, that lies farthest from all read so far:
 * what checks an outline that its readings have corrected.
 *
 * @param readRad directions in which the blank was read, in the sheet's frame
 */
export function otherDirection(outline: Outline, readRad: readonly number[]): Feature {
  const [along] = mainDirections(outline);
  const apart = (a: number, b: number): number => {
    const turn = Math.abs(a - b) % Math.PI;
    return Math.min(turn, Math.PI - turn);
  };
  const room = (rad: number): number => Math.min(...readRad.map((r) => apart(rad, r)));
  const best = Array.from({ length: 12 }, (_, k) => along + (k * Math.PI) / 12).reduce((a, b) =>
    room(b) > room(a) + 1e-9 ? b : a,
  );
  return { kind: 'across', directionRad: outline.mirrored ? Math.PI - best : best };
}

/**
 * The reading that would shrink the doubt that remains along the outer edge most, by mean variance, whatever its value
 * turns out to be; nothing where none would help.
 *
 * @param instrument what one more reading would be worth (k = 1, mm)
 */
export function nextCheck(
  outline: Outline,
  known: readonly Known[],
  instrument: { readonly sharedU: number; readonly eachU: number },
): NextCheck | undefined {
  const ring = outline.region.outer;
  const count = outline.modes.length;
  if (count === 0) return undefined;
  const { nx, ny } = outwardNormals(ring);
  const stride = Math.max(1, Math.floor(ring.length / PLACES));
  const places = ring.map((_, k) => k).filter((k) => k % stride === 0);
  const rows = new Matrix(
    places.map((k) => outline.modes.map(({ dx, dy }) => nx[k]! * dx[k]! + ny[k]! * dy[k]!)),
  );
  const p = modeCovariance(count, known);
  const taken = rows.mmul(p);
  // What readings cannot lessen: the edge's own noise and the curve fit.
  const own = places.map((k, i) => {
    const shared = rows.getRow(i).reduce((sum, w) => sum + w * w, 0);
    return Math.max(0, outline.u[0]![k]! ** 2 - shared);
  });
  const now = places.map(
    (_, i) => own[i]! + rows.getRow(i).reduce((sum, w, m) => sum + w * taken.get(i, m), 0),
  );
  const mean = (of: readonly number[]): number => of.reduce((a, b) => a + b, 0) / of.length;
  const most = (of: readonly number[]): number =>
    2 * Math.sqrt([...of].sort((a, b) => a - b)[Math.ceil(0.95 * of.length) - 1]!);
  let best: NextCheck | undefined;
  let least = WORTH ** 2 * mean(now);
  for (const feature of candidates(outline)) {
    const dimension = measure(outline, feature);
    const g = Array.from(dimension.shifts);
    const pg = p.mmul(Matrix.columnVector(g)).getColumn(0);
    const s =
      g.reduce((sum, v, m) => sum + v * pg[m]!, 0) +
      dimension.ownVariance +
      instrument.eachU ** 2 +
      instrument.sharedU ** 2;
    const then = places.map((_, i) => {
      const seen = rows.getRow(i).reduce((sum, w, m) => sum + w * pg[m]!, 0);
      return now[i]! - seen ** 2 / s;
    });
    if (mean(then) >= least) continue;
    least = mean(then);
    best = { feature, dimension, nowU: most(now), thenU: most(then) };
  }
  return best;
}
