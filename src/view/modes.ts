import { EigenvalueDecomposition, Matrix } from 'ml-matrix';
import type { Point } from '../base/measure.ts';
import { covarianceOf, type Normal } from './least-squares.ts';
import { cameraOf, heightOf, pictureOfMany, sheetOfPictureMany } from './model.ts';
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
 * @param normal all of N at the solution, upper triangle; @param data the marks' part
 */
export function modesOf(
  view: View,
  normal: Normal,
  data: Normal,
  observations: readonly Observation[],
): Mode[] {
  const n = normal.size;
  const full = symmetric(normal);
  const p = covarianceOf(full);
  const factors = new Map<Source, Float64Array[]>([['marks', rootColumns(symmetric(data))]]);
  for (const o of observations) {
    const row = new Float64Array(o.at.length);
    o.residual(view.values, row);
    const column = new Float64Array(n);
    row.forEach((v, k) => (column[o.at[k]!]! += v));
    const list = factors.get(o.source);
    if (list) list.push(column);
    else factors.set(o.source, [column]);
  }
  const faces = faceDerivatives(view);
  const modes: Mode[] = [];
  for (const [source, columns] of factors) {
    modes.push(
      ...principal(
        source,
        columns.map((c) => times(p, c)),
        faces,
      ),
    );
  }
  return modes;
}

function symmetric({ size: n, matrix, gradient }: Normal): Normal {
  const m = matrix.slice();
  for (let i = 1; i < n; i++) for (let j = 0; j < i; j++) m[i * n + j] = m[j * n + i]!;
  return { size: n, matrix: m, gradient };
}

function times(matrix: Float64Array, column: Float64Array): Float64Array {
  const n = column.length;
  const out = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    let sum = 0;
    for (let j = 0; j < n; j++) sum += matrix[i * n + j]! * column[j]!;
    out[i] = sum;
  }
  return out;
}

/** Columns whose outer products add up to a positive semidefinite matrix: Cholesky that skips empty pivots. */
function rootColumns({ size: n, matrix }: Normal): Float64Array[] {
  const a = matrix.slice();
  const columns: Float64Array[] = [];
  for (let k = 0; k < n; k++) {
    const pivot = a[k * n + k]!;
    if (!(pivot > 1e-12 * matrix[k * n + k]!)) continue;
    const column = new Float64Array(n);
    const root = Math.sqrt(pivot);
    for (let i = k; i < n; i++) column[i] = a[k * n + i]! / root;
    for (let i = k; i < n; i++) {
      const c = column[i]!;
      for (let j = i; j < n; j++) a[i * n + j]! -= c * column[j]!;
    }
    columns.push(column);
  }
  return columns;
}

/** Places on the stage at which faces are watched, sheet mm: an ellipse over two fifths of the sheet, and its middle. */
export function facePoints(view: View, count = 12): Point<'sheet'>[] {
  const { widthMm: w, heightMm: h } = view.sheet;
  const points = [{ x: w / 2, y: h / 2 }];
  for (let k = 0; k < count; k++) {
    const t = (2 * Math.PI * k) / count;
    points.push({ x: w / 2 + 0.37 * w * Math.cos(t), y: h / 2 + 0.37 * h * Math.sin(t) });
  }
  return points;
}

/** How face places move: per face x and y of each point, a row over all parameters. */
interface FaceDerivatives {
  readonly rows: readonly Float64Array[];
}

/** Derivatives of the stage points of every face, seen at fixed picture places, by every parameter. */
export function faceJacobian(view: View, thicknessIndex: number): Float64Array[] {
  const points = facePoints(view);
  const height = heightOf(view, thicknessIndex);
  const flat = Float64Array.from(points.flatMap((q) => [q.x, q.y]));
  const places = pictureOfMany(view.camera, flat, height);
  const rows = Array.from(flat, () => new Float64Array(view.values.length));
  const touched = [
    ...Array(CAMERA_SIZE).keys(),
    ...view.bow.sd.map((_, k) => view.places.bow + k),
    view.places.faces + thicknessIndex,
  ];
  const x = view.values.slice();
  for (const k of touched) {
    const step = STEPS[k] ?? 1e-3;
    x[k] = view.values[k]! + step;
    const up = sheetOfPictureMany(cameraOf(view, x), places, heightOf(view, thicknessIndex, x));
    x[k] = view.values[k]! - step;
    const down = sheetOfPictureMany(cameraOf(view, x), places, heightOf(view, thicknessIndex, x));
    x[k] = view.values[k]!;
    up.forEach((v, r) => (rows[r]![k] = (v - down[r]!) / (2 * step)));
  }
  return rows;
}

/** Steps of the numeric derivatives by the camera's parameters: turns, mm, px, distortion. */
const STEPS = [1e-6, 1e-6, 1e-6, 1e-3, 1e-3, 1e-3, 1e-2, 1e-2, 1e-2, 1e-5, 1e-5, 1e-6, 1e-6];

function faceDerivatives(view: View): FaceDerivatives {
  const rows: Float64Array[] = [];
  for (let t = 0; t < view.settings.thicknessMm.length; t++) {
    const face = faceJacobian(view, t);
    const rigid = rigidMotions(facePoints(view));
    for (let k = 0; k < view.values.length; k++) {
      const column = face.map((r) => r[k]!);
      for (const motion of rigid) {
        const along = column.reduce((s, v, r) => s + v * motion[r]!, 0);
        motion.forEach((m, r) => (face[r]![k]! -= (1 - RIGID_WEIGHT) * along * m));
      }
    }
    rows.push(...face);
  }
  return { rows };
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

/** Turns a source's columns to the principal axes of what they do to the faces, largest first. */
function principal(source: Source, columns: Float64Array[], { rows }: FaceDerivatives): Mode[] {
  const k = columns.length;
  const seen = columns.map((c) =>
    Float64Array.from(rows, (r) => {
      let sum = 0;
      for (let i = 0; i < c.length; i++) sum += r[i]! * c[i]!;
      return sum;
    }),
  );
  const gram = Matrix.zeros(k, k);
  for (let i = 0; i < k; i++) {
    for (let j = i; j < k; j++) {
      let sum = 0;
      for (let r = 0; r < rows.length; r++) sum += seen[i]![r]! * seen[j]![r]!;
      gram.set(i, j, sum);
      gram.set(j, i, sum);
    }
  }
  const eigen = new EigenvalueDecomposition(gram, { assumeSymmetric: true });
  const total = eigen.realEigenvalues.reduce((s, v) => s + Math.max(0, v), 0);
  const modes: Mode[] = [];
  for (let m = k - 1; m >= 0; m--) {
    if (!(eigen.realEigenvalues[m]! > LEAST_SHARE * total)) continue;
    const delta = new Float64Array(columns[0]!.length);
    for (let c = 0; c < k; c++) {
      const w = eigen.eigenvectorMatrix.get(c, m);
      const column = columns[c]!;
      for (let i = 0; i < delta.length; i++) delta[i]! += w * column[i]!;
    }
    modes.push({ source, delta });
  }
  return modes;
}

/**
 * Expanded uncertainty (k = 2) of the face's shape over the stage, mm: the greatest over the watched points, the face's
 * motion as a whole taken out.
 */
export function faceUncertainty(
  view: View,
  thicknessIndex: number,
): { uMm: number; bySource: Map<Source, number> } {
  const face = faceJacobian(view, thicknessIndex);
  const rigid = rigidMotions(facePoints(view));
  const variance = new Float64Array(face.length);
  const bySource = new Map<Source, number>();
  for (const { source, delta } of view.modes) {
    const d = face.map((r) => {
      let sum = 0;
      for (let i = 0; i < delta.length; i++) sum += r[i]! * delta[i]!;
      return sum;
    });
    for (const motion of rigid) {
      const along = d.reduce((s, v, r) => s + v * motion[r]!, 0);
      motion.forEach((m, r) => (d[r]! -= along * m));
    }
    let most = 0;
    d.forEach((v, r) => {
      variance[r]! += v * v;
      most += v * v;
    });
    bySource.set(source, (bySource.get(source) ?? 0) + most);
  }
  let greatest = 0;
  for (let r = 0; r < variance.length; r += 2) {
    greatest = Math.max(greatest, variance[r]! + variance[r + 1]!);
  }
  return { uMm: 2 * Math.sqrt(greatest), bySource };
}
