import { EigenvalueDecomposition, Matrix } from 'ml-matrix';
import type { Point } from '../base/measure.ts';
import type { Normal } from './least-squares.ts';
import {
  eyeOf,
  heightOf,
  isScanner,
  pictureOfMany,
  sheetOfPicture,
  sheetOfPictureMany,
} from './model.ts';
import type { Observation } from './observation.ts';
import { CAMERA_SIZE } from './projection.ts';
import type { Mode, Source, View } from './view.ts';

/** Modes whose share of a source's face displacement (variance) is less are left out. */
const LEAST_SHARE = 1e-6;
/** A face moved as a whole costs nothing; its own motion weighs this much in what counts as negligible. */
const RIGID_WEIGHT = 0.1;

/**
 * The covariance of the adjustment, split by where it comes from: with N the normal matrix, P its inverse and N_g the part
 * that source g brought in, g's share is P N_g P, and the shares add up to P.
 *
 * Each share is turned to its principal axes as seen on the faces (stage points at every thickness), and what moves no face
 * is left out.
 *
 * @param seen rows by which the faces are watched, `watchedFaces` over all parameters; @param x the solution
 * @param p P at the solution, row-major; @param data the marks' part of N, upper triangle
 */
export function modesOf(
  seen: readonly Float64Array[],
  x: Float64Array,
  p: Float64Array,
  data: Normal,
  observations: readonly Observation[],
): Mode[] {
  // P Dᵀ: how every parameter answers to what a face does.
  const answers = seen.map((row) => times(p, row));
  const modes = principalOfAll(
    'marks',
    answers.map((a) => timesNormal(data, a)),
    answers,
    p,
  );
  const bySource = new Map<Source, Observation[]>();
  for (const o of observations) {
    const known = bySource.get(o.source);
    if (known) known.push(o);
    else bySource.set(o.source, [o]);
  }
  for (const [source, told] of bySource) modes.push(...principal(source, told, x, answers, p));
  return modes;
}

/** A symmetric matrix by a column; zeros of the column cost nothing. */
export function times(matrix: Float64Array, column: Float64Array): Float64Array {
  const n = column.length;
  const out = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const v = column[i]!;
    if (v !== 0) for (let j = 0, at = i * n; j < n; j++, at++) out[j]! += v * matrix[at]!;
  }
  return out;
}

/** The same, the matrix by its upper triangle. */
function timesNormal({ size: n, matrix, ends }: Normal, column: Float64Array): Float64Array {
  const out = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const v = column[i]!;
    let sum = v * matrix[i * n + i]!;
    for (let j = i + 1, at = i * n + j; j < ends[i]!; j++, at++) {
      sum += matrix[at]! * column[j]!;
      out[j]! += matrix[at]! * v;
    }
    out[i]! += sum;
  }
  return out;
}

/** Places on the stage at which faces are watched, sheet mm: an ellipse over two fifths of the sheet, and its middle. */
export function facePoints(view: View, count = 8): Point<'sheet'>[] {
  if (isScanner(view.eye)) return glassPoints(view, count);
  const { widthMm: w, heightMm: h } = view.sheet;
  const points = [{ x: w / 2, y: h / 2 }];
  for (let k = 0; k < count; k++) {
    const t = (2 * Math.PI * k) / count;
    points.push({ x: w / 2 + 0.37 * w * Math.cos(t), y: h / 2 + 0.37 * h * Math.sin(t) });
  }
  return points;
}

/** The same for a scan: blanks lie anywhere on the glass, an ellipse over four fifths of the picture. */
function glassPoints({ eye, widthPx: w, heightPx: h }: View, count: number): Point<'sheet'>[] {
  const at = (u: number, v: number): Point<'sheet'> => sheetOfPicture(eye, { x: u, y: v }, 0);
  const points = [at((w - 1) / 2, (h - 1) / 2)];
  for (let k = 0; k < count; k++) {
    const t = (2 * Math.PI * k) / count;
    points.push(at((w - 1) / 2 + 0.4 * w * Math.cos(t), (h - 1) / 2 + 0.4 * h * Math.sin(t)));
  }
  return points;
}

/** Derivatives of places on a face (x, then y of each), seen at fixed picture places, by every parameter. */
export function faceJacobian(
  view: View,
  thicknessIndex: number,
  points: readonly Point<'sheet'>[] = facePoints(view),
): Float64Array[] {
  const height = heightOf(view, thicknessIndex);
  const flat = Float64Array.from(points.flatMap((q) => [q.x, q.y]));
  const places = pictureOfMany(view.eye, flat, height);
  const rows = Array.from(flat, () => new Float64Array(view.values.length));
  const touched = [
    ...Array(isScanner(view.eye) ? view.places.print : CAMERA_SIZE).keys(),
    ...view.bow.sd.map((_, k) => view.places.bow + k),
    view.places.faces + thicknessIndex,
  ];
  const x = view.values.slice();
  for (const k of touched) {
    const step = (isScanner(view.eye) ? undefined : STEPS[k]) ?? 1e-3;
    x[k] = view.values[k]! + step;
    const up = sheetOfPictureMany(eyeOf(view, x), places, heightOf(view, thicknessIndex, x));
    x[k] = view.values[k]! - step;
    const down = sheetOfPictureMany(eyeOf(view, x), places, heightOf(view, thicknessIndex, x));
    x[k] = view.values[k]!;
    up.forEach((v, r) => (rows[r]![k] = (v - down[r]!) / (2 * step)));
  }
  return rows;
}

/** Steps of the numeric derivatives by the camera's parameters: turns, mm, px, distortion. */
const STEPS = [1e-6, 1e-6, 1e-6, 1e-3, 1e-3, 1e-3, 1e-2, 1e-2, 1e-2, 1e-5, 1e-5, 1e-6, 1e-6];

/** The rows D by which faces are watched: every stage point at every thickness, the faces' motion as a whole made small. */
export function watchedFaces(view: View): Float64Array[] {
  const rigid = rigidMotions(facePoints(view));
  return view.settings.thicknessMm.flatMap((_, t) => {
    const face = faceJacobian(view, t);
    for (let k = 0; k < view.values.length; k++) {
      for (const motion of rigid) {
        let along = 0;
        face.forEach((row, r) => (along += row[k]! * motion[r]!));
        face.forEach((row, r) => (row[k]! -= (1 - RIGID_WEIGHT) * along * motion[r]!));
      }
    }
    return face;
  });
}

/** Orthonormal displacements of points by a shift along x, along y, and a turn. */
export function rigidMotions(points: readonly Point<'sheet'>[]): Float64Array[] {
  const n = points.length;
  const cx = points.reduce((s, q) => s + q.x, 0) / n;
  const cy = points.reduce((s, q) => s + q.y, 0) / n;
  const spread = Math.sqrt(points.reduce((s, q) => s + (q.x - cx) ** 2 + (q.y - cy) ** 2, 0));
  const motion = (f: (q: Point<'sheet'>) => readonly [number, number]): Float64Array =>
    Float64Array.from(points.flatMap((q) => [...f(q)]));
  return [
    motion(() => [1 / Math.sqrt(n), 0]),
    motion(() => [0, 1 / Math.sqrt(n)]),
    motion((q) => [-(q.y - cy) / spread, (q.x - cx) / spread]),
  ];
}

/**
 * Principal axes of D P N_g P Dᵀ, largest first, as moves of the parameters: m = P N_g P Dᵀ e / sqrt(lambda), so that D m mᵀ Dᵀ
 * summed gives back the source's share.
 *
 * @param products N_g P Dᵀ; @param answers P Dᵀ
 */
function principalOfAll(
  source: Source,
  products: readonly Float64Array[],
  answers: readonly Float64Array[],
  p: Float64Array,
): Mode[] {
  return axesOf(answers.map((a) => Float64Array.from(products, (b) => dot(a, b)))).map(
    ({ lambda, axis }) => {
      const sum = new Float64Array(answers[0]!.length);
      products.forEach((column, r) => addTo(sum, column, axis[r]! / Math.sqrt(lambda)));
      return { source, delta: times(p, sum) };
    },
  );
}

/**
 * The same where N_g = JᵀJ, J the rows of a source's observations. With A = D P Jᵀ the axes are those of A Aᵀ or, where there
 * are fewer observations than places watched, of AᵀA, which has the same lambdas: m = P Jᵀ v, v its unit axes.
 */
function principal(
  source: Source,
  observations: readonly Observation[],
  x: Float64Array,
  answers: readonly Float64Array[],
  p: Float64Array,
): Mode[] {
  const rows = observations.map((o) => {
    const row = new Float64Array(o.at.length);
    o.residual(x, row);
    return row;
  });
  const told = (a: Float64Array): Float64Array =>
    Float64Array.from(observations, ({ at }, o) => {
      let sum = 0;
      for (let k = 0; k < at.length; k++) sum += rows[o]![k]! * a[at[k]!]!;
      return sum;
    });
  // A, row by row of D; and its transpose.
  const seen = answers.map(told);
  const few = observations.length < answers.length;
  const columns = few ? observations.map((_, o) => Float64Array.from(seen, (a) => a[o]!)) : seen;
  return axesOf(columns.map((a) => Float64Array.from(columns, (b) => dot(a, b)))).map(
    ({ lambda, axis }) => {
      const weights = few ? axis : new Float64Array(observations.length);
      if (!few) seen.forEach((a, r) => addTo(weights, a, axis[r]! / Math.sqrt(lambda)));
      const sum = new Float64Array(answers[0]!.length);
      observations.forEach(({ at }, o) => {
        at.forEach((a, k) => (sum[a]! += weights[o]! * rows[o]![k]!));
      });
      return { source, delta: times(p, sum) };
    },
  );
}

/** The eigenvalues of a symmetric matrix that are not negligible, largest first, and their unit eigenvectors. */
function axesOf(symmetric: readonly Float64Array[]): { lambda: number; axis: Float64Array }[] {
  const eigen = new EigenvalueDecomposition(new Matrix(symmetric.map((row) => [...row])), {
    assumeSymmetric: true,
  });
  const lambdas = eigen.realEigenvalues;
  const total = lambdas.reduce((s, v) => s + Math.max(0, v), 0);
  const axes = [];
  for (let m = lambdas.length - 1; m >= 0; m--) {
    const lambda = lambdas[m]!;
    if (!(lambda > LEAST_SHARE * total)) continue;
    const axis = Float64Array.from(symmetric, (_, r) => eigen.eigenvectorMatrix.get(r, m));
    axes.push({ lambda, axis });
  }
  return axes;
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < a.length; k++) sum += a[k]! * b[k]!;
  return sum;
}

function addTo(to: Float64Array, from: Float64Array, by: number): void {
  for (let k = 0; k < to.length; k++) to[k]! += by * from[k]!;
}

/** How places on a face move with each mode, their motion as a whole taken out, mm: x, then y of each place. */
function shapeMoves(
  view: View,
  thicknessIndex: number,
  points: readonly Point<'sheet'>[],
): { source: Source; moved: Float64Array }[] {
  const face = faceJacobian(view, thicknessIndex, points);
  const rigid = rigidMotions(points);
  return view.modes.map(({ source, delta }) => {
    const moved = Float64Array.from(face, (row) => {
      let sum = 0;
      for (let i = 0; i < delta.length; i++) sum += row[i]! * delta[i]!;
      return sum;
    });
    for (const motion of rigid) {
      const along = moved.reduce((s, v, r) => s + v * motion[r]!, 0);
      motion.forEach((m, r) => (moved[r]! -= along * m));
    }
    return { source, moved };
  });
}

/**
 * Expanded uncertainty (k = 2) of the face's shape over the stage, mm: the greatest over the watched points, the face's
 * motion as a whole taken out.
 */
export function faceUncertainty(
  view: View,
  thicknessIndex: number,
): { uMm: number; bySource: Map<Source, number> } {
  const points = facePoints(view);
  const variance = new Float64Array(2 * points.length);
  const bySource = new Map<Source, number>();
  for (const { source, moved } of shapeMoves(view, thicknessIndex, points)) {
    let all = 0;
    moved.forEach((v, r) => {
      variance[r]! += v * v;
      all += v * v;
    });
    bySource.set(source, (bySource.get(source) ?? 0) + all);
  }
  let greatest = 0;
  for (let r = 0; r < variance.length; r += 2) {
    greatest = Math.max(greatest, variance[r]! + variance[r + 1]!);
  }
  return { uMm: 2 * Math.sqrt(greatest), bySource };
}

/** A place with its error ellipse: standard deviations along its axes, and the direction of the longer one. */
export interface ErrorEllipse {
  readonly at: Point<'sheet'>;
  readonly longMm: number;
  readonly shortMm: number;
  /** Radians from x, counter-clockwise, sheet frame. */
  readonly directionRad: number;
}

/**
 * Error ellipses (k = 1) of places on a face against each other: a map of how well the face's shape is known.
 * Source: the axes are the eigenvalues of the place's 2 x 2 covariance (any text on surveying's adjustment).
 */
export function errorEllipses(
  view: View,
  thicknessIndex: number,
  points: readonly Point<'sheet'>[],
): ErrorEllipse[] {
  const sums = points.map(() => ({ xx: 0, xy: 0, yy: 0 }));
  for (const { moved } of shapeMoves(view, thicknessIndex, points)) {
    sums.forEach((s, k) => {
      const [x, y] = [moved[2 * k]!, moved[2 * k + 1]!];
      s.xx += x * x;
      s.xy += x * y;
      s.yy += y * y;
    });
  }
  return points.map((at, k) => {
    const { xx, xy, yy } = sums[k]!;
    const middle = (xx + yy) / 2;
    const half = Math.hypot((xx - yy) / 2, xy);
    return {
      at,
      longMm: Math.sqrt(middle + half),
      shortMm: Math.sqrt(Math.max(0, middle - half)),
      directionRad: 0.5 * Math.atan2(2 * xy, xx - yy),
    };
  });
}
