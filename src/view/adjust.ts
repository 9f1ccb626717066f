import type { Point } from '../base/measure.ts';
import { Refusal, type Reason } from '../base/reason.ts';
import type { PictureMeta } from '../picture/picture.ts';
import { acceptSpan } from '../sheet/accept-span.ts';
import type { SheetDesign } from '../sheet/design.ts';
import { basisFor, evaluate, type Basis } from './basis.ts';
import { judge } from './judge.ts';
import {
  covarianceOf,
  emptyNormal,
  minimise,
  type Normal,
  type Problem,
  type Solution,
} from './least-squares.ts';
import { fitLens, lensObservations, lensPrior, plainHomography, type LensPrior } from './lens.ts';
import { faceJacobian, modesOf } from './modes.ts';
import { pictureOf, sheetOfPicture } from './model.ts';
import { addObservation, known, knownShare, knownSum, type Observation } from './observation.ts';
import { remediesOf, type Candidate } from './remedies.ts';
import { SmoothSums, Waves } from './smooth.ts';
import { AT_CENTRE, AT_F, CAMERA_NAMES, CAMERA_SIZE, cameraFrom, Projector } from './projection.ts';
import type {
  CalibrationSettings,
  FoundMarks,
  ParameterPlaces,
  PhotoView,
  Source,
  View,
} from './view.ts';

/**
 * Correlation lengths of print error and bow, and how far the fields' cosines reach beyond the page, mm on A4; larger sheets'
 * grow with their short side, so that the number of terms stays. 85 mm for the bow was chosen on simulated arches of 0.3 and
 * 1 mm: 110 mm left the middle of the stage too little room (|z| 1.7 at 1 mm), 70 mm cost f its honesty.
 */
const PRINT_CORRELATION_MM = 45;
const BOW_CORRELATION_MM = 85;
const PAD_MM = 60;
const fieldScale = ({ widthMm, heightMm }: SheetDesign): number =>
  Math.max(1, Math.min(widthMm, heightMm) / 216);
/** What print error and bow are taken for until the residuals have spoken, mm, and how many terms that opinion is worth. */
const PRINT_ERROR_START = 0.015;
const BOW_START = 0.08;
const OPINION = 2;
/** Scale and shear of a print that nobody measured. */
const UNMEASURED_SCALE = 0.01;
/** Paper, ink and tape under a rider, mm, and its standard uncertainty. */
const PAPER_MM = 0.1;
const PAPER_U = 0.05;
/** Slope of a rider that lies on a face: half a degree. */
const TILT_SD = 0.009;
/** Parameters before the smooth fields: camera and print. */
const HEAD = CAMERA_SIZE + 3;
const RIDER_NAMES = ['x', 'y', 'turn', 'height', 'slope x', 'slope y', 'ln size'] as const;
const RIDER_SIZE = RIDER_NAMES.length;
const RIDER_Z = 3;
const RIDER_LN_SIZE = 6;
/** How firmly f is held while the rest of the camera finds its place, as a share of it. */
const HELD = 0.002;
/** Standard deviation of a corner that is believed at the very first, px. */
const WEAK_PX = 1;
/** Corners are never believed better than this, px (measured on clean renders: 0.02 to 0.05). */
const LEAST_SIGMA_PX = 0.03;
/** Beyond this many standard deviations a rider contradicts the thickness entered. */
const CONTRADICTION = 3;

/**
 * Calibrates a picture from its marks: camera, print scale, smooth print error, bow of the sheet, riders and face heights in
 * one adjustment (Levenberg-Marquardt with priors and a robust loss), with the covariance by source.
 *
 * The sheet's own error, not the corners' noise, is what limits a camera seen against a plane: print error and bow are part of
 * the model, as smooth random fields whose size is estimated from the residuals.
 *
 * @param widthPx, heightPx of the upright picture
 * @throws Refusal `span-far-off`, `rider-height`, `view-too-uncertain`, `marks-one-sided`, `sheet-not-flat`, `thickness-reaches-camera`
 */
export function calibrate(
  found: FoundMarks,
  meta: PictureMeta,
  widthPx: number,
  heightPx: number,
  settings: CalibrationSettings,
): PhotoView {
  for (const { id, from, to } of found.sheet.spans) {
    const measured = settings.spansMm[id];
    if (measured !== undefined)
      acceptSpan(id.toUpperCase(), measured, Math.hypot(to.x - from.x, to.y - from.y));
  }
  const prior = lensPrior(meta, widthPx, heightPx);
  const adjustment = startOf(found, prior, settings);
  for (let round = 0; round < 3; round++) adjustment.round(round > 0);
  const reasons: Reason[] = [...found.reasons];
  const free = adjustment.freeHeights();
  adjustment.tieRiders(free);
  adjustment.round(true);
  adjustment.round(true);
  const view = adjustment.view(free, widthPx, heightPx);
  reasons.push(...judge(view, found, meta, prior, adjustment.sizes()));
  return { ...view, reasons };
}

/** The start; where nothing is known about f, the one of three that ends with the least cost. */
function startOf(found: FoundMarks, prior: LensPrior, settings: CalibrationSettings): Adjustment {
  if (prior.fFrom !== 'nothing') return Adjustment.start(found, prior, settings);
  const tried = [1, 0.7, 1.5].map((factor) => {
    const adjustment = Adjustment.start(found, prior, settings, factor);
    return { adjustment, cost: adjustment.solve().cost };
  });
  return tried.reduce((a, b) => (b.cost < a.cost ? b : a)).adjustment;
}

interface FreeHeight {
  readonly heightMm: number;
  readonly heightU: number;
  readonly thicknessIndex: number;
}

/** What the residuals say about the sheet, mm, and about the corners, px. */
export interface Sizes {
  readonly printErrorMm: number;
  readonly bowMm: number;
  readonly cornerPx: number;
}

/** The adjustment of one picture as a least-squares problem. */
export class Adjustment implements Problem {
  readonly size: number;
  readonly names: string[];
  x: Float64Array;
  private reference: Float64Array;
  private readonly places: ParameterPlaces;
  private readonly ridersFrom: number;
  private readonly waves: Waves;
  private readonly bowTerms: Int32Array;
  private readonly kept: Uint8Array;
  private sigmaPx = WEAK_PX;
  private printErrorMm = PRINT_ERROR_START;
  private bowMm = BOW_START;
  private ties: Observation[] = [];
  private readonly fixed: Observation[];
  private tuned: Observation[] = [];
  private normal: Normal;

  private constructor(
    private readonly found: FoundMarks,
    prior: LensPrior,
    private readonly settings: CalibrationSettings,
    private readonly printError: Basis,
    private readonly bow: Basis,
    start: {
      camera: Float64Array;
      reference: Float64Array;
      kept: Uint8Array;
      print: readonly [number, number];
    },
  ) {
    const k = printError.sd.length;
    const print = CAMERA_SIZE;
    this.places = {
      print,
      printErrorX: print + 3,
      printErrorY: print + 3 + k,
      bow: print + 3 + 2 * k,
      faces: print + 3 + 2 * k + bow.sd.length,
    };
    this.ridersFrom = this.places.faces + settings.thicknessMm.length;
    this.size = this.ridersFrom + RIDER_SIZE * found.riders.length;
    this.names = [
      ...CAMERA_NAMES,
      'scale x',
      'scale y',
      'shear',
      ...printError.sd.map((_, n) => `print error x ${n}`),
      ...printError.sd.map((_, n) => `print error y ${n}`),
      ...bow.sd.map((_, n) => `bow ${n}`),
      ...settings.thicknessMm.map((_, n) => `face ${n}`),
      ...found.riders.flatMap((_, n) => RIDER_NAMES.map((name) => `rider ${n} ${name}`)),
    ];
    this.reference = start.reference;
    this.kept = start.kept;
    this.waves = new Waves(
      found.marks.map((m) => m.design),
      printError,
    );
    this.bowTerms = this.waves.indexOf(bow);
    this.x = new Float64Array(this.size);
    this.x.set(start.camera);
    this.fixed = this.priors(prior);
    this.x.set(start.print, print);
    settings.thicknessMm.forEach((h, n) => (this.x[this.places.faces + n] = h));
    found.riders.forEach((_, n) => this.startRider(n));
    this.tune();
    this.normal = emptyNormal(this.size);
  }

  /**
   * Starts from the camera alone, fitted with weak weights and f held where it is assumed (a flat sheet without its print
   * errors would drag it far off); what lies far off is left out.
   */
  static start(
    found: FoundMarks,
    prior: LensPrior,
    settings: CalibrationSettings,
    startOfF = 1,
  ): Adjustment {
    const n = found.marks.length;
    const design = new Float64Array(2 * n);
    const picture = new Float64Array(2 * n);
    const [scaleX, scaleY] = (['x', 'y'] as const).map((id) => {
      const span = found.sheet.spans.find((s) => s.id === id)!;
      return (settings.spansMm[id] ?? span.nominalMm) / span.nominalMm;
    });
    found.marks.forEach((m, k) => {
      design[2 * k] = scaleX! * m.design.x;
      design[2 * k + 1] = scaleY! * m.design.y;
      picture[2 * k] = m.picture.x;
      picture[2 * k + 1] = m.picture.y;
    });
    const lens = fitLens(
      plainHomography(design, picture),
      design,
      picture,
      { ...prior, fPx: prior.fPx * startOfF, fShare: HELD },
      WEAK_PX,
    );
    if (!lens) throw new Refusal('no-camera');
    const sorted = lens.misfit.slice().sort();
    const limit = 4 * sorted[n >> 1]! + 0.2;
    const { widthMm, heightMm } = found.sheet;
    const grow = fieldScale(found.sheet);
    return new Adjustment(
      found,
      prior,
      settings,
      basisFor(widthMm, heightMm, PRINT_CORRELATION_MM * grow, PAD_MM * grow),
      basisFor(widthMm, heightMm, BOW_CORRELATION_MM * grow, PAD_MM * grow),
      {
        camera: lens.values,
        reference: lens.reference,
        kept: Uint8Array.from(lens.misfit, (e) => (e <= limit ? 1 : 0)),
        print: [scaleX!, scaleY!],
      },
    );
  }

  private priors(lens: LensPrior): Observation[] {
    const { settings, found, places } = this;
    const out = [
      ...lensObservations(lens),
      known('spans', places.print, 1, UNMEASURED_SCALE),
      known('spans', places.print + 1, 1, UNMEASURED_SCALE),
      known('spans', places.print + 2, 0, UNMEASURED_SCALE),
    ];
    for (const span of found.sheet.spans) {
      const measured = settings.spansMm[span.id];
      if (measured !== undefined) out.push(this.spanReading(span.from, span.to, measured));
    }
    settings.thicknessMm.forEach((h, n) =>
      out.push(known('thickness', places.faces + n, h, Math.max(settings.thicknessU, 1e-4))),
    );
    found.riders.forEach(({ design }, n) => {
      const at = this.ridersFrom + RIDER_SIZE * n;
      const measured = settings.riderSpansMm[design.sizeMm];
      const sd =
        measured === undefined
          ? UNMEASURED_SCALE
          : Math.max(settings.riderSpanU, 1e-4) / design.sizeMm;
      const mean = Math.log((measured ?? design.sizeMm) / design.sizeMm);
      out.push(
        known('rider size', at + RIDER_LN_SIZE, mean, sd),
        known('rider height', at + RIDER_Z + 1, 0, TILT_SD),
        known('rider height', at + RIDER_Z + 2, 0, TILT_SD),
      );
    });
    return out;
  }

  /** A measured span: the distance between two printed places, print error included, as calipers find it. */
  private spanReading(a: Point<'sheet'>, b: Point<'sheet'>, measuredMm: number): Observation {
    const { places, printError } = this;
    const k = printError.sd.length;
    const difference = new Float64Array(k);
    const other = new Float64Array(k);
    evaluate(printError, b.x, b.y, difference);
    evaluate(printError, a.x, a.y, other);
    difference.forEach((v, n) => (difference[n] = v - other[n]!));
    const at = [places.print, places.print + 1, places.print + 2];
    for (let n = 0; n < k; n++) at.push(places.printErrorX + n);
    for (let n = 0; n < k; n++) at.push(places.printErrorY + n);
    const sd = Math.max(this.settings.spanU, 1e-4);
    const dx = b.x - a.x;
    const dy = b.y - a.y;
    return {
      source: 'spans',
      at,
      residual(x, row) {
        let px = x[places.print]! * dx + x[places.print + 2]! * dy;
        let py = x[places.print + 1]! * dy;
        for (let n = 0; n < k; n++) {
          px += x[places.printErrorX + n]! * difference[n]!;
          py += x[places.printErrorY + n]! * difference[n]!;
        }
        const length = Math.hypot(px, py);
        if (row) {
          const cx = px / length / sd;
          const cy = py / length / sd;
          row[0] = cx * dx;
          row[1] = cy * dy;
          row[2] = cx * dy;
          for (let n = 0; n < k; n++) {
            row[3 + n] = cx * difference[n]!;
            row[3 + k + n] = cy * difference[n]!;
          }
        }
        return (length - measuredMm) / sd;
      },
    };
  }

  /** Place, turn and height of a rider from how it looks on the sheet's plane. */
  private startRider(n: number): void {
    const { design, marks } = this.found.riders[n]!;
    const camera = cameraFrom(this.x, this.reference);
    const size = (this.settings.riderSpansMm[design.sizeMm] ?? design.sizeMm) / design.sizeMm;
    const half = design.sizeMm / 2;
    // Similarity from rider mm to the plane z = 0, as complex numbers: w = a·z + b.
    let [sx, sy, tx, ty] = [0, 0, 0, 0];
    const flat = marks.map((m) => sheetOfPicture(camera, m.picture, 0));
    marks.forEach((m, k) => {
      sx += (m.design.x - half) / marks.length;
      sy += (m.design.y - half) / marks.length;
      tx += flat[k]!.x / marks.length;
      ty += flat[k]!.y / marks.length;
    });
    let [re, im, zz] = [0, 0, 0];
    marks.forEach((m, k) => {
      const zx = m.design.x - half - sx;
      const zy = m.design.y - half - sy;
      const wx = flat[k]!.x - tx;
      const wy = flat[k]!.y - ty;
      re += wx * zx + wy * zy;
      im += wy * zx - wx * zy;
      zz += zx * zx + zy * zy;
    });
    const seen = Math.hypot(re, im) / zz;
    const height = camera.centre[2] * (1 - size / seen);
    const t = height / camera.centre[2];
    const bx = tx - (re * sx - im * sy) / zz;
    const by = ty - (im * sx + re * sy) / zz;
    const at = this.ridersFrom + RIDER_SIZE * n;
    this.x[at] = bx + t * (camera.centre[0] - bx);
    this.x[at + 1] = by + t * (camera.centre[1] - by);
    this.x[at + 2] = Math.atan2(im, re);
    this.x[at + RIDER_Z] = height;
    this.x[at + RIDER_LN_SIZE] = Math.log(size);
  }

  /** Priors whose size is estimated from the residuals. */
  private tune(): void {
    const { places, printError, bow } = this;
    this.tuned = [];
    printError.sd.forEach((sd, n) => {
      this.tuned.push(
        known('print error', places.printErrorX + n, 0, sd * this.printErrorMm),
        known('print error', places.printErrorY + n, 0, sd * this.printErrorMm),
      );
    });
    bow.sd.forEach((sd, n) =>
      this.tuned.push(known('sheet flatness', places.bow + n, 0, sd * this.bowMm)),
    );
  }

  observations(): Observation[] {
    return [...this.fixed, ...this.tuned, ...this.ties];
  }

  cost(x: Float64Array): number {
    return this.marks(x) + this.observations().reduce((s, o) => s + addObservation(o, x), 0);
  }

  linearise(x: Float64Array, into: Normal): number {
    let cost = this.marks(x, into);
    for (const o of this.observations()) cost += addObservation(o, x, into);
    return cost;
  }

  /** The marks' share: sheet corners and rider corners, Huber's loss. */
  marks(x: Float64Array, into?: Normal, residuals?: Float64Array): number {
    const { found, places, printError, bow, waves, kept } = this;
    const p = new Projector(x, this.reference);
    const w0 = 1 / this.sigmaPx ** 2;
    const sums = into && new SmoothSums(HEAD, waves);
    const { terms } = waves;
    const k = printError.sd.length;
    const index = this.bowTerms;
    const ru = new Float64Array(HEAD);
    const rv = new Float64Array(HEAD);
    const [sx, sy, sh] = [x[places.print]!, x[places.print + 1]!, x[places.print + 2]!];
    let cost = 0;
    for (let m = 0; m < found.marks.length; m++) {
      if (!kept[m] && !residuals) continue;
      const { design: d, picture: q } = found.marks[m]!;
      let X = sx * d.x + sh * d.y;
      let Y = sy * d.y;
      let Z = 0;
      for (let a = 0, at = m * k; a < k; a++, at++) {
        X += x[places.printErrorX + a]! * terms[at]!;
        Y += x[places.printErrorY + a]! * terms[at]!;
      }
      for (let a = 0; a < index.length; a++) Z += x[places.bow + a]! * terms[m * k + index[a]!]!;
      if (!p.project(X, Y, Z, !!into)) return Infinity;
      const eu = p.u - q.x;
      const ev = p.v - q.y;
      if (residuals) {
        residuals[2 * m] = eu;
        residuals[2 * m + 1] = ev;
      }
      if (!kept[m]) continue;
      const { loss, weight } = huber(eu, ev, w0);
      cost += loss;
      if (!sums) continue;
      ru.set(p.du);
      rv.set(p.dv);
      const { ux, vx } = p;
      ru[places.print] = ux[0]! * d.x;
      rv[places.print] = vx[0]! * d.x;
      ru[places.print + 1] = ux[1]! * d.y;
      rv[places.print + 1] = vx[1]! * d.y;
      ru[places.print + 2] = ux[0]! * d.y;
      rv[places.print + 2] = vx[0]! * d.y;
      sums.add(m, ru, rv, ux, vx, eu, ev, weight);
    }
    if (sums && into) sums.into(into, places, bow);
    for (let r = 0; r < found.riders.length; r++) {
      cost += this.riderMarks(r, x, p, into, w0);
    }
    return Number.isFinite(cost) ? cost : Infinity;
  }

  private riderMarks(
    r: number,
    x: Float64Array,
    p: Projector,
    into: Normal | undefined,
    w0: number,
  ): number {
    const { design, marks } = this.found.riders[r]!;
    const at = this.ridersFrom + RIDER_SIZE * r;
    const [cx, cy, turn, z, a, b, ln] = x.subarray(at, at + RIDER_SIZE) as unknown as number[];
    const c = Math.cos(turn!);
    const s = Math.sin(turn!);
    const g = Math.exp(ln!);
    const half = design.sizeMm / 2;
    // Camera columns, then the rider's own seven.
    const ru = new Float64Array(CAMERA_SIZE + RIDER_SIZE);
    const rv = new Float64Array(CAMERA_SIZE + RIDER_SIZE);
    let cost = 0;
    for (const { design: d, picture: q } of marks) {
      const u = g * (d.x - half);
      const v = g * (d.y - half);
      const X = cx! + c * u - s * v;
      const Y = cy! + s * u + c * v;
      const Z = z! + a! * u + b! * v;
      if (!p.project(X, Y, Z, !!into)) return Infinity;
      const eu = p.u - q.x;
      const ev = p.v - q.y;
      const { loss, weight } = huber(eu, ev, w0);
      cost += loss;
      if (!into) continue;
      for (const [row, d3, dc] of [
        [ru, p.ux, p.du],
        [rv, p.vx, p.dv],
      ] as const) {
        row.set(dc);
        row[CAMERA_SIZE] = d3[0]!;
        row[CAMERA_SIZE + 1] = d3[1]!;
        row[CAMERA_SIZE + 2] = -d3[0]! * (s * u + c * v) + d3[1]! * (c * u - s * v);
        row[CAMERA_SIZE + 3] = d3[2]!;
        row[CAMERA_SIZE + 4] = d3[2]! * u;
        row[CAMERA_SIZE + 5] = d3[2]! * v;
        row[CAMERA_SIZE + 6] =
          d3[0]! * (c * u - s * v) + d3[1]! * (s * u + c * v) + d3[2]! * (a! * u + b! * v);
      }
      const n = into.size;
      const index = (k: number): number => (k < CAMERA_SIZE ? k : at + k - CAMERA_SIZE);
      for (let i = 0; i < ru.length; i++) {
        const wu = weight * ru[i]!;
        const wv = weight * rv[i]!;
        const row = index(i);
        into.gradient[row]! += wu * eu + wv * ev;
        for (let j = i; j < ru.length; j++) {
          into.matrix[row * n + index(j)]! += wu * ru[j]! + wv * rv[j]!;
        }
      }
    }
    return cost;
  }

  /** Solves with the present weights. */
  solve(): Solution {
    this.settle();
    const solution = minimise(this, this.x, { steps: 30, tolerance: 1e-5, damping: 1e-9 });
    this.x = solution.x;
    this.normal = solution.normal;
    return solution;
  }

  /** Solves with the present weights, then lets the residuals say how noisy the corners and how crooked the sheet are. */
  round(reject: boolean): void {
    const { places, printError, bow, kept, found } = this;
    const solution = this.solve();
    const p = covarianceOf(solution.normal);
    const n = this.size;
    // Size of a smooth field: what its terms came out as, over how far the marks decided them.
    const fieldSize = (
      from: readonly number[],
      basis: Basis,
      now: number,
      start: number,
    ): number => {
      let energy = OPINION * start * start;
      let decided = OPINION;
      for (const at of from) {
        basis.sd.forEach((sd, k) => {
          energy += (this.x[at + k]! / sd) ** 2;
          decided += 1 - Math.min(1, p[(at + k) * n + at + k]! / (sd * now) ** 2);
        });
      }
      // Few terms tell a size loosely: the wider law that follows from not knowing it (Student's) is kept by its spread.
      return Math.sqrt((energy / decided) * (1 + 2 / decided));
    };
    this.printErrorMm = fieldSize(
      [places.printErrorX, places.printErrorY],
      printError,
      this.printErrorMm,
      PRINT_ERROR_START,
    );
    this.bowMm = fieldSize([places.bow], bow, this.bowMm, BOW_START);
    const residuals = new Float64Array(2 * found.marks.length);
    this.marks(this.x, undefined, residuals);
    // Parameters that the corners decided: all of them less those decided by what else is known (trace of P times its share).
    const other = emptyNormal(n);
    for (const o of this.observations()) addObservation(o, this.x, other);
    let explained = n;
    for (let i = 0; i < n; i++) {
      explained -= other.matrix[i * n + i]! * p[i * n + i]!;
      for (let j = i + 1; j < n; j++) explained -= 2 * other.matrix[i * n + j]! * p[i * n + j]!;
    }
    if (reject) {
      const lengths = found.marks.map((_, m) =>
        Math.hypot(residuals[2 * m]!, residuals[2 * m + 1]!),
      );
      // The median of a Rayleigh law is 1.1774 of its scale.
      const typical = lengths.filter((_, m) => kept[m]).sort((a, b) => a - b);
      const limit = 4.5 * (typical[typical.length >> 1]! / 1.1774) + 0.05;
      lengths.forEach((e, m) => (kept[m] = e <= limit ? 1 : 0));
    }
    let sum = 0;
    let count = 0;
    found.marks.forEach((_, m) => {
      if (!kept[m]) return;
      sum += residuals[2 * m]! ** 2 + residuals[2 * m + 1]! ** 2;
      count += 2;
    });
    const variance = sum / Math.max(8, count - Math.min(explained, 0.5 * count));
    this.sigmaPx = Math.max(LEAST_SIGMA_PX, Math.sqrt(variance * this.clumping(residuals)));
    this.tune();
  }

  /**
   * How much more a neighbourhood of corners errs together than if each erred alone: one plus the sum of the residuals'
   * correlations within three cells. What the smooth fields leave is shared by neighbours, and must not count as many.
   */
  private clumping(residuals: Float64Array): number {
    const { found, kept } = this;
    const at = new Map<number, number>();
    found.marks.forEach((m, k) => kept[k] && at.set(m.j * 4096 + m.i, k));
    let own = 0;
    let shared = 0;
    found.marks.forEach((m, k) => {
      if (!kept[k]) return;
      own += residuals[2 * k]! ** 2 + residuals[2 * k + 1]! ** 2;
      for (let dj = -3; dj <= 3; dj++) {
        for (let di = -3; di <= 3; di++) {
          const other = di || dj ? at.get((m.j + dj) * 4096 + m.i + di) : undefined;
          if (other === undefined) continue;
          shared +=
            residuals[2 * k]! * residuals[2 * other]! +
            residuals[2 * k + 1]! * residuals[2 * other + 1]!;
        }
      }
    });
    return own > 0 ? Math.max(1, 1 + shared / own) : 1;
  }

  /** Moves the reference rotation to where the camera is now, so that the turn stays small. */
  private settle(): void {
    this.reference = Float64Array.from(cameraFrom(this.x, this.reference).rotation);
    this.x.fill(0, 0, 3);
  }

  /** Heights that the picture alone gives to the riders, before any thickness has a say. */
  freeHeights(): FreeHeight[] {
    const { found, settings } = this;
    if (found.riders.length === 0) return [];
    const p = covarianceOf(this.normal);
    const n = this.size;
    return found.riders.map((_, r) => {
      const { at, weights } = this.riderOverSheet(r);
      let heightMm = 0;
      let variance = 0;
      at.forEach((i, a) => {
        heightMm += weights[a]! * this.x[i]!;
        at.forEach((j, b) => (variance += weights[a]! * weights[b]! * p[i * n + j]!));
      });
      const heightU = Math.sqrt(variance);
      let thicknessIndex = 0;
      settings.thicknessMm.forEach((h, t) => {
        const off = Math.abs(heightMm - PAPER_MM - h);
        if (off < Math.abs(heightMm - PAPER_MM - settings.thicknessMm[thicknessIndex]!))
          thicknessIndex = t;
      });
      return { heightMm, heightU, thicknessIndex };
    });
  }

  /** A rider's height over the sheet at its place, as a sum of parameters. */
  private riderOverSheet(r: number): { at: number[]; weights: number[] } {
    const at = this.ridersFrom + RIDER_SIZE * r;
    const terms = new Float64Array(this.bow.sd.length);
    evaluate(this.bow, this.x[at]!, this.x[at + 1]!, terms);
    return {
      at: [at + RIDER_Z, ...Array.from(terms, (_, k) => this.places.bow + k)],
      weights: [1, ...Array.from(terms, (v) => -v)],
    };
  }

  /**
   * A rider lies on its face, with its paper between. How much worse everything fits once that is said (twice the rise of the
   * cost, a chi-square) tells whether the picture contradicts it, also where f is so unknown that the height's own standard
   * deviation means little.
   */
  tieRiders(free: readonly FreeHeight[]): void {
    const { found, settings } = this;
    let cost = this.cost(this.x);
    free.forEach(({ heightMm, heightU, thicknessIndex }, r) => {
      const { at, weights } = this.riderOverSheet(r);
      this.ties.push(
        knownSum(
          'rider height',
          [...at, this.places.faces + thicknessIndex],
          [...weights, -1],
          PAPER_MM,
          PAPER_U,
        ),
      );
      const tied = this.solve();
      if (2 * (tied.cost - cost) > CONTRADICTION ** 2) {
        throw new Refusal('rider-height', {
          riderMm: found.riders[r]!.design.sizeMm,
          heightMm: fixed(heightMm - PAPER_MM, 1),
          uMm: fixed(2 * heightU, 1),
          thicknessMm: fixed(settings.thicknessMm[thicknessIndex]!, 2),
        });
      }
      cost = tied.cost;
    });
  }

  sizes(): Sizes {
    return { printErrorMm: this.printErrorMm, bowMm: this.bowMm, cornerPx: this.sigmaPx };
  }

  /** The calibrated view, its reasons still to be judged. */
  view(free: readonly FreeHeight[], widthPx: number, heightPx: number): PhotoView {
    const { found, settings, places, kept } = this;
    this.settle();
    const normal = emptyNormal(this.size);
    this.linearise(this.x, normal);
    const data = emptyNormal(this.size);
    const residuals = new Float64Array(2 * found.marks.length);
    this.marks(this.x, data, residuals);
    const p = covarianceOf(normal);
    const camera = cameraFrom(this.x, this.reference);
    let square = 0;
    let count = 0;
    found.marks.forEach((_, m) => {
      if (!kept[m]) return;
      square += residuals[2 * m]! ** 2 + residuals[2 * m + 1]! ** 2;
      count++;
    });
    const [fx, fy, H] = camera.centre;
    const below = pictureOf(camera, fx, fy, 0);
    const beside = pictureOf(camera, fx + 1, fy, 0);
    const mmPerPx = 1 / Math.hypot(beside.x - below.x, beside.y - below.y);
    const residualRmsPx = Math.sqrt(square / Math.max(1, count));
    const view: PhotoView = {
      widthPx,
      heightPx,
      sheet: found.sheet,
      eye: camera,
      names: this.names,
      values: this.x.slice(),
      places,
      printError: this.printError,
      bow: this.bow,
      modes: [],
      remedies: [],
      blurPx: found.blurPx,
      foot: { x: fx, y: fy },
      cameraHeightMm: H,
      cameraHeightU: Math.sqrt(p[AT_Z * this.size + AT_Z]!),
      mmPerPx,
      residualRmsPx,
      residualRmsMm: residualRmsPx * mmPerPx,
      residuals: found.marks.map(({ picture: at, design }, m) => ({
        at,
        design,
        dx: residuals[2 * m]!,
        dy: residuals[2 * m + 1]!,
        kept: kept[m] === 1,
      })),
      riders: found.riders.map(({ design }, r) => {
        const at = this.ridersFrom + RIDER_SIZE * r;
        const x = this.x.subarray(at, at + RIDER_SIZE);
        const half = design.sizeMm / 2;
        const corners = (
          [
            [-1, -1],
            [1, -1],
            [1, 1],
            [-1, 1],
          ] as const
        ).map(([i, j]) => {
          const u = i * half * Math.exp(x[RIDER_LN_SIZE]!);
          const v = j * half * Math.exp(x[RIDER_LN_SIZE]!);
          const c = Math.cos(x[2]!);
          const s = Math.sin(x[2]!);
          return pictureOf(
            camera,
            x[0]! + c * u - s * v,
            x[1]! + s * u + c * v,
            x[RIDER_Z]! + x[RIDER_Z + 1]! * u + x[RIDER_Z + 2]! * v,
          );
        });
        return { design, corners, centre: { x: x[0]!, y: x[1]! }, ...free[r]! };
      }),
      print: {
        scaleX: this.x[places.print]!,
        scaleY: this.x[places.print + 1]!,
        shear: this.x[places.print + 2]!,
      },
      settings,
      reasons: [],
    };
    return {
      ...view,
      modes: modesOf(view, p, data, this.observations()),
      remedies: remediesOf(view, p, this.candidates(view)),
    };
  }

  /** What the operator could still do, as the observations that it would bring. */
  private candidates(view: PhotoView): Candidate[] {
    const { found, settings, places } = this;
    const sharper = (source: Source, by: number): Observation[] =>
      this.observations().flatMap((o) => (o.source === source ? [repeated(o, by)] : []));
    const unread = found.sheet.spans.filter(({ id }) => settings.spansMm[id] === undefined);
    const { thicknessU, riderSpanU } = settings;
    return [
      {
        what: 'read the spans',
        observations: unread.map(({ from, to }) =>
          this.spanReading(from, to, Math.hypot(to.x - from.x, to.y - from.y)),
        ),
      },
      {
        what: 'measure the rider',
        observations: found.riders.flatMap(({ design }, r) =>
          settings.riderSpansMm[design.sizeMm] === undefined
            ? [
                known(
                  'rider size',
                  this.ridersFrom + RIDER_SIZE * r + RIDER_LN_SIZE,
                  0,
                  riderSpanU / design.sizeMm,
                ),
              ]
            : [],
        ),
      },
      {
        what: 'lay a rider',
        observations: found.riders.length === 0 ? riderOnFace(view, riderSpanU) : [],
      },
      {
        what: 'measure the thickness',
        observations:
          thicknessU > THICKNESS_AT_BEST
            ? settings.thicknessMm.map((h, t) =>
                known('thickness', places.faces + t, h, THICKNESS_AT_BEST),
              )
            : [],
      },
      {
        what: 'lens profile',
        observations: [knownShare('focal length', AT_F, view.eye.fPx, PROFILE_SHARE)],
      },
      { what: 'flat board', observations: sharper('sheet flatness', FLAT_BOARD) },
      { what: 'rigid sheet', observations: sharper('print error', RIGID_SHEET) },
    ];
  }
}

const AT_Z = AT_CENTRE + 2;
/** What a caliper makes of a thickness at its best, mm (k = 1). */
const THICKNESS_AT_BEST = 0.02;
/** f of a saved lens profile: focus moves it by about half a percent. */
const PROFILE_SHARE = 0.005;
/** How many times flatter a sheet lies on a flat board, and how many times truer it is on a rigid one. */
const FLAT_BOARD = 5;
const RIGID_SHEET = 3;

/** The same observation once more, so that both together are `by` times as sharp as it is alone. */
const repeated = (o: Observation, by: number): Observation => ({
  ...o,
  residual(x, row) {
    const e = o.residual(x, row);
    const share = Math.sqrt(by * by - 1);
    row?.forEach((v, k) => (row[k] = v * share));
    return e * share;
  },
});

/** What a 50 mm rider in the middle of the first face would tell: its one size, and that it is square. */
function riderOnFace(view: View, riderSpanU: number): Observation[] {
  const half = 25;
  const { x, y } = { x: view.sheet.widthMm / 2, y: view.sheet.heightMm / 2 };
  const [left, , right, , , below, , above] = faceJacobian(view, 0, [
    { x: x - half, y },
    { x: x + half, y },
    { x, y: y - half },
    { x, y: y + half },
  ]) as [Float64Array, ...Float64Array[]];
  const at = [...view.values.keys()];
  const told = (sd: number, sign: 1 | -1): Observation => ({
    source: 'rider size',
    at,
    residual(_, row) {
      row?.forEach(
        (_, k) => (row[k] = (right![k]! - left[k]! + sign * (above![k]! - below![k]!)) / (2 * sd)),
      );
      return 0;
    },
  });
  return [told(riderSpanU, 1), told(RIDER_SQUARE_MM, -1)];
}

/** By how much half the difference of a rider's sides is off (k = 1): its own corners' noise. */
const RIDER_SQUARE_MM = 0.005;

/** Standard deviations beyond which a corner's loss grows only linearly. */
const HUBER = 3;

function huber(eu: number, ev: number, w0: number): { loss: number; weight: number } {
  const e2 = w0 * (eu * eu + ev * ev);
  if (e2 <= HUBER * HUBER) return { loss: 0.5 * e2, weight: w0 };
  const e = Math.sqrt(e2);
  return { loss: HUBER * (e - 0.5 * HUBER), weight: (w0 * HUBER) / e };
}

const fixed = (v: number, digits: number): number => Number(v.toFixed(digits));
