import { EigenvalueDecomposition, Matrix, solve } from 'ml-matrix';
import type { Point } from '../base/measure.ts';
import type { RayVertex } from '../geometry/radial.ts';
import {
  eyeOf,
  isScanner,
  pictureOf,
  pictureOfMany,
  sheetOfPicture,
  sheetOfPictureMany,
} from '../view/model.ts';
import { AT_CENTRE } from '../view/projection.ts';
import type { Mode, View } from '../view/view.ts';
import type { LinearPlane } from './linear.ts';
import { modelsOf, place, sample, SAMPLE_STEP } from './profile.ts';
import { seenPlanes, type Heights } from './uncertainty.ts';
import {
  courseOf,
  densified,
  EVENED,
  FACES,
  needAlong,
  type Course,
  type Displaced,
} from './wall-course.ts';

/** Of a narrower wall the two edges are no two in a profile; a rim is sought so far about where it belongs, px. */
const LEAST_WALL_PX = 7;
const REACH_PX = 3;
/** A place every so many pixels along it. */
const EVERY = 4;
/** A rim counts whose step is so many times what the model leaves of its profile. */
const CLEAR = 8;

/** Both edges of a wall that faces the camera, one over the other, and the direction in which it faces. */
export interface WallPlace {
  readonly rim: Point<'picture'>;
  readonly foot: Point<'picture'>;
  /** Unit normal, away from the material, sheet frame. */
  readonly nx: number;
  readonly ny: number;
}

export interface Wall {
  readonly places: readonly WallPlace[];
  readonly heights: Pick<Heights, 'thicknessIndex' | 'belowFaceMm' | 'at'>;
}

/** By what all feet of a blank may be misplaced outwards, and towards one side (k = 1), px: their shadows, or a rounded rim. */
const COMMON_PX = 0.5;
const SIDEWAYS_PX = 0.25;
/** A place is never believed better than this, px; neighbours err together: so many count as one. */
const LEAST_PX = 0.15;
const TOGETHER = 25;
/** Fewer places tell nothing. */
const LEAST_PLACES = 20;
/** Standard deviations beyond which a place counts less (Huber), and rounds of weighing. */
const HUBER = 2;
const ROUNDS = 10;

/**
 * Straight walls stand over their feet: where both the rim and the foot of a wall are seen, the picture tells once more from
 * where it was taken. What was unknown of the view (its modes, 0 ± 1 each) is adjusted to that, linearised; what of it remains
 * unknown is less. A misplaced camera shifts all rims of a blank one way over their feet; what shadows at the feet do alike is
 * left open.
 *
 * @param walls of the blanks whose walls are straight
 * @returns the view; its frame has moved with the camera: see `heldAt`
 */
export function plumbed(view: View, walls: readonly Wall[]): View {
  const count = walls.reduce((sum, w) => sum + w.places.length, 0);
  if (isScanner(view.eye) || count < LEAST_PLACES) return view;
  const known = view.modes.length;
  const size = known + 3 * walls.length;
  const here = walls.map((w) => offPlumb(view, w, view.values));
  const moved = view.modes.map(({ delta }) => {
    const values = view.values.map((v, k) => v + delta[k]!);
    return walls.map((w) => offPlumb(view, w, values));
  });
  const off: number[] = [];
  const rows: Float64Array[] = [];
  walls.forEach(({ places }, b) =>
    places.forEach(({ nx, ny }, p) => {
      const row = Float64Array.from({ length: size }, (_, j) =>
        j < known ? moved[j]![b]![p]! - here[b]![p]! : 0,
      );
      const own = [COMMON_PX, SIDEWAYS_PX * nx, SIDEWAYS_PX * ny];
      own.forEach((px, j) => (row[known + 3 * b + j] = px * view.mmPerPx));
      rows.push(row);
      off.push(here[b]![p]!);
    }),
  );
  const { z, normal } = settled(rows, off, LEAST_PX * view.mmPerPx);
  // The symmetric square root of the covariance keeps every mode nearest to its source.
  const { eigenvectorMatrix: axes, realEigenvalues } = new EigenvalueDecomposition(normal, {
    assumeSymmetric: true,
  });
  const shrunk = Matrix.diag(realEigenvalues.map((v) => 1 / Math.sqrt(v)));
  const root = axes.mmul(shrunk).mmul(axes.transpose());
  const sum = (weight: (mode: number) => number): Float64Array =>
    view.values.map((_, k) => view.modes.reduce((s, { delta }, j) => s + weight(j) * delta[k]!, 0));
  const change = sum((j) => z[j]!);
  const values = view.values.map((v, k) => v + change[k]!);
  const modes = Array.from({ length: size }, (_, c): Mode => ({
    source: view.modes[c]?.source ?? 'edge bias',
    delta: sum((j) => root.get(j, c)),
  }));
  const eye = eyeOf(view, values);
  if (isScanner(eye)) return view;
  // Turns are counted from the view's own rotation.
  values.fill(0, 0, AT_CENTRE);
  return { ...view, eye, values, modes, foot: { x: eye.centre[0], y: eye.centre[1] } };
}

/** Unknowns known to 0 ± 1 each, adjusted so that off + rows · z is small (Huber's loss): them, and their normal matrix. */
function settled(
  rows: readonly Float64Array[],
  off: readonly number[],
  least: number,
): { z: Float64Array; normal: Matrix } {
  const size = rows[0]!.length;
  let z = new Float64Array(size);
  let normal = Matrix.eye(size, size);
  let sigma = Infinity;
  for (let round = 0; round < ROUNDS; round++) {
    const rest = rows.map((row, k) => row.reduce((s, v, j) => s + v * z[j]!, off[k]!));
    const sizes = rest.map(Math.abs).sort((a, b) => a - b);
    sigma = Math.max(least, sizes[sizes.length >> 1]! / MEDIAN_OF_NORMAL);
    normal = Matrix.eye(size, size);
    const right = new Float64Array(size);
    rows.forEach((row, k) => {
      const weight = Math.min(1, (HUBER * sigma) / Math.abs(rest[k]!)) / (TOGETHER * sigma ** 2);
      for (let i = 0; i < size; i++) {
        right[i]! -= weight * row[i]! * off[k]!;
        for (let j = 0; j < size; j++)
          normal.set(i, j, normal.get(i, j) + weight * row[i]! * row[j]!);
      }
    });
    z = Float64Array.from(solve(normal, Matrix.columnVector([...right])).to1DArray());
  }
  return { z, normal };
}

/** Median of the absolute value of a standard normal. */
const MEDIAN_OF_NORMAL = 0.6745;

/**
 * Places along the walls that face the camera at which their rims are seen; their feet are the silhouette's.
 *
 * @param rings of a blank behind its silhouette, mm
 * @param planes heights of the walls' ends
 */
export function wallPlaces(
  rings: readonly RayVertex<'sheet'>[][],
  shown: Displaced,
  luma: LinearPlane,
  view: View,
  [nearMm, farMm]: readonly [near: number, far: number],
): WallPlace[] {
  const { mmPerPx } = shown;
  const { samples, innerPx, places, ramp } = modelsOf(view.blurPx, REACH_PX);
  const at = new Float64Array(2 * samples);
  const profile = new Float64Array(samples);
  const rests = new Float64Array(places.length);
  /** How far a rim lies outside a course at point k, px. */
  const rimAt = (c: Course, k: number): number | undefined => {
    for (let s = 0; s < samples; s++) {
      const o = (s * SAMPLE_STEP - innerPx) * mmPerPx;
      at[2 * s] = c.x[k]! + o * c.nx[k]!;
      at[2 * s + 1] = c.y[k]! + o * c.ny[k]!;
    }
    pictureOfMany(view.eye, at, farMm, at);
    needAlong(luma, at);
    profile.forEach((_, s) => (profile[s] = sample(luma, at[2 * s]!, at[2 * s + 1]!)));
    const power = profile.reduce((sum, v) => sum + v * v, 0);
    const found = place(profile, power, ramp, places, rests);
    const left = Math.sqrt(Math.max(0, found.rest) / samples);
    const step = Math.max(...profile) - Math.min(...profile);
    return step < CLEAR * left || Math.abs(found.at) > REACH_PX - 0.25 ? undefined : found.at;
  };
  const coarse = rings.map((ring) => ring.filter((_, k) => k % 6 === 0));
  return rings.flatMap((ring) => {
    const dense = densified(ring, mmPerPx);
    if (dense.of.length < 8 * EVENED) return [];
    const c = courseOf(dense.x, dense.y, EVENED, coarse, shown);
    const out: WallPlace[] = [];
    for (let k = 0; k < c.n; k += EVERY) {
      if (c.shows[k] !== FACES || c.wallPx[k]! < LEAST_WALL_PX) continue;
      if (ring[dense.of[k]!]!.hiddenAfter) continue;
      const rimPx = rimAt(c, k);
      if (rimPx === undefined) continue;
      const [x, y, nx, ny] = [c.x[k]!, c.y[k]!, c.nx[k]!, c.ny[k]!];
      const off = rimPx * mmPerPx;
      out.push({
        rim: pictureOf(view.eye, x + off * nx, y + off * ny, farMm),
        foot: pictureOf(view.eye, x, y, nearMm),
        nx,
        ny,
      });
    }
    return out;
  });
}

/** How far each rim lies outside its foot by a vector of parameters, mm along the wall's normal. */
function offPlumb(view: View, { places, heights }: Wall, values: Float64Array): Float64Array {
  const [near, far] = seenPlanes(view, heights, values);
  const eye = eyeOf(view, values);
  const of = (end: 'rim' | 'foot', heightMm: number): Float64Array =>
    sheetOfPictureMany(
      eye,
      Float64Array.from(places.flatMap((p) => [p[end].x, p[end].y])),
      heightMm,
    );
  const [rims, feet] = [of('rim', far), of('foot', near)];
  return Float64Array.from(
    places,
    ({ nx, ny }, k) =>
      nx * (rims[2 * k]! - feet[2 * k]!) + ny * (rims[2 * k + 1]! - feet[2 * k + 1]!),
  );
}

/** The view, its frame shifted so that a blank's face lies where it lay in another view of the same picture. */
export function heldAt(view: View, other: View, heights: Wall['heights']): View {
  if (isScanner(view.eye) || view === other) return view;
  const [near, far] = seenPlanes(other, heights);
  const middle = pictureOf(other.eye, heights.at.x, heights.at.y, near);
  const was = sheetOfPicture(other.eye, middle, far);
  const is = sheetOfPicture(view.eye, middle, seenPlanes(view, heights)[1]);
  const [x, y, z] = view.eye.centre;
  const centre = [x + was.x - is.x, y + was.y - is.y, z] as const;
  const values = view.values.slice();
  values.set(centre, AT_CENTRE);
  return {
    ...view,
    eye: { ...view.eye, centre },
    values,
    foot: { x: centre[0], y: centre[1] },
  };
}
