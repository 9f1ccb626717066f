import { CholeskyDecomposition, Matrix, solve } from 'ml-matrix';
import type { PictureMeta } from '../picture/picture.ts';
import type { Homography } from '../vision/homography.ts';
import { minimise, type Normal, type Problem } from './least-squares.ts';
import { addObservation, known, knownShare, knownSum, type Observation } from './observation.ts';
import { AT_F, AT_K1, CAMERA_SIZE, cameraFrom, multiplied, Projector } from './projection.ts';
import type { Camera } from './view.ts';

/** What is known about the camera before a single mark is looked at. */
export interface LensPrior {
  readonly fPx: number;
  /** Standard deviation of f as a share of it. */
  readonly fShare: number;
  readonly fFrom: 'profile' | 'focal plane' | '35 mm' | 'nothing';
  readonly cxPx: number;
  readonly cyPx: number;
  /** Standard deviation of either coordinate, px. */
  readonly cSd: number;
  /** The picture is not as the camera made it, or nobody knows. */
  readonly originUnknown: boolean;
  /** f cx cy k1 k2 p1 p2 of a saved profile and their covariance, row by row; in place of the figures above. */
  readonly told?: {
    readonly values: readonly number[];
    readonly covariance: readonly (readonly number[])[];
  };
}

/** f of a saved lens profile, as a share of it: focus moves it by about half a per cent. */
export const FOCUS_SHARE = 0.005;
const DISTORTION_SD = 0.3;
const TANGENTIAL_SD = 5e-4;
/** Diagonal of the 36 x 24 mm frame that the 35 mm equivalent is defined by (CIPA DCG-001, from memory). */
const DIAGONAL_35 = Math.hypot(36, 24);
/** A common wide lens, taken where nothing is known. */
const USUAL_35 = 27;

/** The picture's size differs from what the camera noted, by a resampling or a crop. */
export const sizeChanged = (m: PictureMeta): boolean =>
  m.exifWidthPx !== undefined &&
  m.exifHeightPx !== undefined &&
  Math.abs(Math.log((m.exifWidthPx * m.exifHeightPx) / (m.storedWidthPx * m.storedHeightPx))) >
    0.01;

/** Prior knowledge of the lens from the file's header. */
export function lensPrior(meta: PictureMeta, widthPx: number, heightPx: number): LensPrior {
  const diagonal = Math.hypot(widthPx, heightPx);
  const zoom = meta.digitalZoom && meta.digitalZoom > 1 ? meta.digitalZoom : 1;
  const changed = sizeChanged(meta);
  const originUnknown = !meta.hasExif || changed;
  const centre = {
    cxPx: (widthPx - 1) / 2,
    cyPx: (heightPx - 1) / 2,
    cSd: (originUnknown ? 0.03 : 0.007) * Math.max(widthPx, heightPx),
    originUnknown,
  };
  if (meta.focalLengthMm && meta.focalPlanePxPerMm) {
    const noted =
      meta.exifWidthPx && meta.exifHeightPx
        ? Math.hypot(meta.exifWidthPx, meta.exifHeightPx)
        : diagonal;
    const fPx = meta.focalLengthMm * meta.focalPlanePxPerMm * zoom * (diagonal / noted);
    if (fPx > 0.3 * diagonal && fPx < 20 * diagonal) {
      return { fPx, fShare: 0.02, fFrom: 'focal plane', ...centre };
    }
  }
  if (meta.focalLength35Mm) {
    const fPx = (meta.focalLength35Mm / DIAGONAL_35) * diagonal;
    return { fPx, fShare: zoom > 1 ? 0.1 : 0.035, fFrom: '35 mm', ...centre };
  }
  const fPx = (USUAL_35 / DIAGONAL_35) * diagonal;
  return { fPx, fShare: 0.3, fFrom: 'nothing', ...centre };
}

/**
 * The homography that takes `from` to `to` (x, y interleaved) by linear least squares; for points free of outliers.
 * Places are centred and scaled first (Hartley, PAMI 19 (1997), from memory).
 */
export function plainHomography(from: Float64Array, to: Float64Array): Homography {
  const a = normalised(from);
  const b = normalised(to);
  const n = from.length / 2;
  const square = new Float64Array(64);
  const right = new Float64Array(8);
  const add = (row: readonly number[], value: number): void => {
    for (let i = 0; i < 8; i++) {
      for (let j = 0; j < 8; j++) square[8 * i + j]! += row[i]! * row[j]!;
      right[i]! += row[i]! * value;
    }
  };
  for (let k = 0; k < n; k++) {
    const [x, y] = [a.points[2 * k]!, a.points[2 * k + 1]!];
    const [u, v] = [b.points[2 * k]!, b.points[2 * k + 1]!];
    add([x, y, 1, 0, 0, 0, -u * x, -u * y], u);
    add([0, 0, 0, x, y, 1, -v * x, -v * y], v);
  }
  const m = Matrix.from1DArray(8, 8, square);
  const h = [...solve(m, Matrix.columnVector(right)).to1DArray(), 1];
  const before = [a.scale, 0, -a.scale * a.x, 0, a.scale, -a.scale * a.y, 0, 0, 1];
  const after = [1 / b.scale, 0, b.x, 0, 1 / b.scale, b.y, 0, 0, 1];
  return multiplied(after, multiplied(h, before));
}

function normalised(p: Float64Array) {
  const n = p.length / 2;
  let x = 0;
  let y = 0;
  for (let k = 0; k < p.length; k += 2) {
    x += p[k]! / n;
    y += p[k + 1]! / n;
  }
  let spread = 0;
  for (let k = 0; k < p.length; k += 2) spread += Math.hypot(p[k]! - x, p[k + 1]! - y) / n;
  const scale = Math.SQRT2 / spread;
  return { x, y, scale, points: p.map((v, k) => (v - (k & 1 ? y : x)) * scale) };
}

/** Pose of the camera from a homography sheet mm -> picture px and an assumed lens. undefined when none puts the camera above the sheet. */
export function poseOf(
  h: Homography,
  fPx: number,
  cxPx: number,
  cyPx: number,
): { rotation: Float64Array; centre: readonly [number, number, number] } | undefined {
  const column = (k: number): number[] => {
    const w = h[6 + k]!;
    return [(h[k]! - cxPx * w) / fPx, (h[3 + k]! - cyPx * w) / fPx, w];
  };
  const [a, b, t] = [column(0), column(1), column(2)] as [number[], number[], number[]];
  const scale = 2 / (Math.hypot(...a) + Math.hypot(...b)) / Math.sign(t[2]!);
  const r1 = unit(a.map((v) => v * scale));
  const along = dot(r1, b) * scale;
  const r2 = unit(b.map((v, k) => v * scale - along * r1[k]!));
  const r3 = [
    r1[1]! * r2[2]! - r1[2]! * r2[1]!,
    r1[2]! * r2[0]! - r1[0]! * r2[2]!,
    r1[0]! * r2[1]! - r1[1]! * r2[0]!,
  ];
  const s = t.map((v) => v * scale);
  const rotation = Float64Array.of(
    r1[0]!,
    r2[0]!,
    r3[0]!,
    r1[1]!,
    r2[1]!,
    r3[1]!,
    r1[2]!,
    r2[2]!,
    r3[2]!,
  );
  const centre = [-dot(r1, s), -dot(r2, s), -dot(r3, s)] as const;
  return Number.isFinite(centre[2]) && centre[2] > 0 ? { rotation, centre } : undefined;
}

const dot = (a: readonly number[], b: readonly number[]): number =>
  a[0]! * b[0]! + a[1]! * b[1]! + a[2]! * b[2]!;
const unit = (a: readonly number[]): number[] => {
  const n = Math.hypot(...a);
  return a.map((v) => v / n);
};

/** A camera fitted to points of the sheet plane, everything else left alone. */
export interface LensFit {
  /** Parameters in the order of CAMERA_NAMES, their turn counted from `reference`. */
  readonly values: Float64Array;
  readonly reference: Float64Array;
  readonly camera: Camera;
  /** Distance of every point from its projection, px. */
  readonly misfit: Float64Array;
}

/**
 * Fits the camera alone, with weak weights and a robust loss; the start of the whole adjustment and the guide by which corners
 * are looked for. undefined when no camera above the sheet fits.
 *
 * @param design x, y interleaved, mm; @param picture u, v interleaved, px
 * @param sigmaPx standard deviation given to a corner; the loss flattens beyond four of it
 */
export function fitLens(
  homography: Homography,
  design: Float64Array,
  picture: Float64Array,
  prior: LensPrior,
  sigmaPx: number,
): LensFit | undefined {
  const pose = poseOf(homography, prior.fPx, prior.cxPx, prior.cyPx);
  if (!pose) return undefined;
  const { rotation, centre } = pose;
  const { x } = minimise(
    new LensProblem(design, picture, prior, sigmaPx, rotation),
    Float64Array.of(0, 0, 0, ...centre, prior.fPx, prior.cxPx, prior.cyPx, 0, 0, 0, 0),
    { steps: 40, tolerance: 1e-5, damping: 1e-6 },
  );
  const projector = new Projector(x, rotation);
  const misfit = Float64Array.from({ length: design.length / 2 }, (_, k) =>
    projector.project(design[2 * k]!, design[2 * k + 1]!, 0, false)
      ? Math.hypot(projector.u - picture[2 * k]!, projector.v - picture[2 * k + 1]!)
      : Infinity,
  );
  return { values: x, reference: rotation, camera: cameraFrom(x, rotation), misfit };
}

/** Flat rate beyond this many standard deviations (Cauchy's loss has its scale here). */
const LOSS_SCALE = 4;

class LensProblem implements Problem {
  readonly size = CAMERA_SIZE;
  private readonly priors: readonly Observation[];

  constructor(
    private readonly design: Float64Array,
    private readonly picture: Float64Array,
    prior: LensPrior,
    private readonly sigmaPx: number,
    private readonly reference: Float64Array,
  ) {
    this.priors = lensObservations(prior);
  }

  cost(x: Float64Array): number {
    return this.linearise(x);
  }

  linearise(x: Float64Array, into?: Normal): number {
    const n = this.size;
    const p = new Projector(x, this.reference);
    const { design, picture } = this;
    const s2 = this.sigmaPx ** 2;
    const c2 = LOSS_SCALE ** 2;
    let cost = 0;
    for (let k = 0; k < design.length; k += 2) {
      if (!p.project(design[k]!, design[k + 1]!, 0, !!into)) return Infinity;
      const ru = p.u - picture[k]!;
      const rv = p.v - picture[k + 1]!;
      const e2 = (ru * ru + rv * rv) / s2;
      cost += 0.5 * c2 * Math.log1p(e2 / c2);
      if (!into) continue;
      const w = 1 / (1 + e2 / c2) / s2;
      for (let i = 0; i < n; i++) {
        const a = w * p.du[i]!;
        const b = w * p.dv[i]!;
        into.gradient[i]! += a * ru + b * rv;
        for (let j = i; j < n; j++) into.matrix[i * n + j]! += a * p.du[j]! + b * p.dv[j]!;
      }
    }
    for (const o of this.priors) cost += addObservation(o, x, into);
    return Number.isFinite(cost) ? cost : Infinity;
  }
}

/** The lens prior as observations of the camera's parameters. */
export const lensObservations = (lens: LensPrior): Observation[] =>
  lens.told
    ? toldObservations(lens.told)
    : [
        knownShare('focal length', AT_F, lens.fPx, lens.fShare),
        known('lens', AT_F + 1, lens.cxPx, lens.cSd),
        known('lens', AT_F + 2, lens.cyPx, lens.cSd),
        known('lens', AT_K1, 0, DISTORTION_SD),
        known('lens', AT_K1 + 1, 0, DISTORTION_SD),
        known('lens', AT_K1 + 2, 0, TANGENTIAL_SD),
        known('lens', AT_K1 + 3, 0, TANGENTIAL_SD),
      ];

/**
 * A profile as independent observations: with L Lᵀ its covariance, the rows of L⁻¹ (x - values). The first is f alone, each
 * further one what its parameter has apart from those before.
 */
function toldObservations({ values, covariance }: NonNullable<LensPrior['told']>): Observation[] {
  const n = values.length;
  const lower = new CholeskyDecomposition(new Matrix(covariance.map((row) => [...row])));
  const inverse = solve(lower.lowerTriangularMatrix, Matrix.eye(n));
  return values.map((_, i) => {
    const weights = Array.from({ length: i + 1 }, (_, k) => inverse.get(i, k));
    const at = weights.map((_, k) => AT_F + k);
    const mean = weights.reduce((sum, w, k) => sum + w * values[k]!, 0);
    return knownSum(i === 0 ? 'focal length' : 'lens', at, weights, mean, 1);
  });
}
