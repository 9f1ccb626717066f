import type { Point } from '../base/measure.ts';
import { Refusal } from '../base/reason.ts';
import { acceptSpan } from '../sheet/accept-span.ts';
import type { PictureMeta } from '../picture/picture.ts';
import type { SheetDesign } from '../sheet/design.ts';
import { basisFor, evaluate, type Basis } from './basis.ts';
import { judge } from './judge.ts';
import {
  covarianceOf,
  covarianceOfSums,
  emptyNormal,
  minimise,
  type Normal,
  type Problem,
  type Solution,
} from './least-squares.ts';
import {
  FOCUS_SHARE,
  fitLens,
  lensObservations,
  lensPrior,
  plainHomography,
  type LensPrior,
} from './lens.ts';
import { faceJacobian, modesOf, watchedFaces } from './modes.ts';
import { facesUnder } from './lying.ts';
import { faceHeights, pictureOf } from './model.ts';
import {
  addObservation,
  growthOf,
  known,
  knownShare,
  knownSum,
  type Observation,
} from './observation.ts';
import { Photo, RIDER_LN_SIZE, RIDER_NAMES, RIDER_SIZE, RIDER_Z, WEAK_PX } from './photo.ts';
import { AT_CENTRE, AT_F, CAMERA_NAMES, cameraFrom } from './projection.ts';
import { remediesOf, shapeRows, type Candidate } from './remedies.ts';
import type {
  CalibrationSettings,
  FoundMarks,
  ParameterPlaces,
  PhotoView,
  Source,
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
/** As good as nothing, and still a prior: mm, or a share. */
const NOTHING_MM = 1e-6;
/** Scale and shear of a print that nobody measured. */
const UNMEASURED_SCALE = 0.01;
/** Paper, ink and tape under a rider, mm, and its standard uncertainty. */
const PAPER_MM = 0.1;
const PAPER_U = 0.05;
/** By how much two riders of one size differ that were printed together, mm: what a printer's local error leaves of 30 mm or so. */
const ALIKE_MM = 0.03;
/** Slope of a rider that lies on a face: half a degree. */
const TILT_SD = 0.009;
/** How firmly f is held while the rest of the camera finds its place, as a share of it. */
const HELD = 0.002;
/** Beyond this many standard deviations a rider contradicts the thickness entered. */
const CONTRADICTION = 3;

/** A picture with what was found in it. */
export interface Photographed {
  readonly found: FoundMarks;
  readonly meta: PictureMeta;
  /** Of the upright picture. */
  readonly widthPx: number;
  readonly heightPx: number;
}

/**
 * Calibrates a picture from its marks: camera, print scale, smooth print error, bow of the sheet, riders and face heights in
 * one adjustment (Levenberg-Marquardt with priors and a robust loss), with the covariance by source.
 *
 * The sheet's own error, not the corners' noise, is what limits a camera seen against a plane: print error and bow are part of
 * the model, as smooth random fields whose size is estimated from the residuals.
 *
 * @param widthPx, heightPx of the upright picture
 * @param prior what is known of the lens; from the picture's header when left out
 * @throws Refusal `rider-height`, `view-too-uncertain`, `marks-one-sided`, `sheet-not-flat`, `thickness-reaches-camera`
 */
export function calibrate(
  found: FoundMarks,
  meta: PictureMeta,
  widthPx: number,
  heightPx: number,
  settings: CalibrationSettings,
  prior?: LensPrior,
): PhotoView {
  return calibrateAll([{ found, meta, widthPx, heightPx }], settings, prior)[0]!;
}

/**
 * The same for several photos of one sheet, taken upright by one camera at one focal length: lens, print and print error are
 * shared, each photo has its place and its bow of the sheet. Mode by mode the views' covariances belong together: entry k of
 * `modes` is the same cause in each of them.
 *
 * @throws Refusal as `calibrate` does
 */
export function calibrateAll(
  photos: readonly Photographed[],
  settings: CalibrationSettings,
  prior: LensPrior = lensPrior(photos[0]!.meta, photos[0]!.widthPx, photos[0]!.heightPx),
): PhotoView[] {
  sameSheet(photos);
  for (const { id, from, to } of photos[0]!.found.sheet.spans) {
    const measured = settings.spansMm[id];
    if (measured !== undefined)
      acceptSpan(id.toUpperCase(), measured, Math.hypot(to.x - from.x, to.y - from.y));
  }
  const adjustment = startOf(
    photos.map(({ found }) => found),
    prior,
    settings,
  );
  for (let round = 0; round < 3; round++) adjustment.round(round > 0);
  const free = adjustment.freeHeights();
  adjustment.tieRiders(free);
  adjustment.round(true);
  adjustment.round(true);
  return adjustment.views(free, photos).map((view, p) => {
    const { found, meta } = photos[p]!;
    const reasons = judge(view, found, meta, prior, adjustment.sizes(p), adjustment.spansMisfit());
    return { ...view, reasons: [...found.reasons, ...reasons] };
  });
}

/** @throws Refusal `sheets-differ` */
export function sameSheet(photos: readonly Pick<Photographed, 'found'>[]): void {
  const name = ({ found: { sheet: s } }: Pick<Photographed, 'found'>): string =>
    `${s.widthMm} x ${s.heightMm} mm, checks of ${s.pitchMm} mm, stage ${s.tone}`;
  const first = name(photos[0]!);
  const other = photos.map(name).find((n) => n !== first);
  if (other !== undefined) throw new Refusal('sheets-differ', { first, other });
}

/**
 * The start; where nothing is known about f, the one of three that ends with the least cost.
 *
 * @param asDesigned take the sheet for flat and true
 */
export function startOf(
  found: readonly FoundMarks[],
  prior: LensPrior,
  settings: CalibrationSettings,
  asDesigned = false,
): Adjustment {
  if (prior.fFrom !== 'nothing') return Adjustment.start(found, prior, settings, 1, asDesigned);
  const tried = [1, 0.7, 1.5].map((factor) => {
    const adjustment = Adjustment.start(found, prior, settings, factor, asDesigned);
    return { adjustment, cost: adjustment.solve().cost };
  });
  return tried.reduce((a, b) => (b.cost < a.cost ? b : a)).adjustment;
}

interface FreeHeight {
  /** Of which photo, and which of its riders. */
  readonly photo: number;
  readonly rider: number;
  readonly heightMm: number;
  readonly heightU: number;
  readonly thicknessIndex: number;
  /** What not knowing for certain on which it lies leaves of its height, mm. */
  readonly orElseU: number;
}

export interface SpansMisfit {
  readonly span: string;
  /** By how much the span is longer by everything else than it was read, mm, and the standard uncertainty of that. */
  readonly offMm: number;
  readonly u: number;
}

/** What the residuals say about the sheet, mm, and about the corners, px. */
export interface Sizes {
  readonly printErrorMm: number;
  readonly bowMm: number;
  readonly cornerPx: number;
}

/**
 * The adjustment of one or several photos of a sheet as a least-squares problem.
 *
 * The parameters are the first photo's (see Photo), then for each further one its pose, its bow and its riders. Each photo
 * adds its corners to normal equations of its own parameters only; `maps` says where those stand among all.
 */
export class Adjustment implements Problem {
  readonly size: number;
  readonly ends: Int32Array;
  readonly names: string[];
  x: Float64Array;
  /** Where each photo's own parameters stand among all. */
  readonly maps: readonly Int32Array[];
  private readonly places: ParameterPlaces;
  /** Heights that riders may lie on: of blanks, then of blocks. */
  private readonly facesMm: readonly number[];
  private printErrorMm = PRINT_ERROR_START;
  private bowMm = BOW_START;
  private ties: Observation[] = [];
  private readonly spanReadings: { id: string; observation: Observation }[] = [];
  private readonly fixed: Observation[];
  private tuned: Observation[] = [];
  private normal: Normal;

  private constructor(
    private readonly photos: readonly Photo[],
    private readonly prior: LensPrior,
    private readonly settings: CalibrationSettings,
    private readonly sheet: SheetDesign,
    private readonly printError: Basis,
    private readonly bow: Basis,
    /** The sheet is taken for flat and for exactly as large as designed. */
    private readonly asDesigned: boolean,
    start: { cameras: readonly Float64Array[]; print: readonly [number, number] },
  ) {
    const [first] = photos as [Photo];
    this.places = first.places;
    this.facesMm = faceHeights(settings);
    if (asDesigned) this.printErrorMm = this.bowMm = NOTHING_MM;
    const where = photos.map((photo, p) => photo.riderPlaces(start.cameras[p]!, settings));
    const { maps, names } = laidOut(photos, where, printError, bow, this.facesMm.length);
    this.maps = maps;
    this.names = names;
    this.size = names.length;
    this.ends = endsOf(maps, this.size);
    this.x = new Float64Array(this.size);
    // Backwards, so that the first photo's lens stands at last.
    for (let p = photos.length - 1; p >= 0; p--) {
      start.cameras[p]!.forEach((v, k) => (this.x[maps[p]![k]!] = v));
    }
    this.fixed = this.priors(prior);
    this.x.set(start.print, this.places.print);
    this.facesMm.forEach((h, n) => (this.x[this.places.faces + n] = h));
    photos.forEach((photo, p) => {
      const own = this.ownOf(p);
      photo.found.riders.forEach((_, n) => photo.startRider(n, own, settings));
      for (let k = photo.ridersFrom; k < photo.size; k++) this.x[maps[p]![k]!] = own[k]!;
    });
    this.tune();
    this.normal = emptyNormal(this.size, this.ends);
  }

  /**
   * Starts from the cameras alone, each fitted with weak weights and f held where it is assumed (a flat sheet without its print
   * errors would drag it far off); what lies far off is left out.
   */
  static start(
    all: readonly FoundMarks[],
    prior: LensPrior,
    settings: CalibrationSettings,
    startOfF = 1,
    asDesigned = false,
  ): Adjustment {
    const { sheet } = all[0]!;
    const { widthMm, heightMm } = sheet;
    const grow = fieldScale(sheet);
    const printError = basisFor(widthMm, heightMm, PRINT_CORRELATION_MM * grow, PAD_MM * grow);
    const bow = basisFor(widthMm, heightMm, BOW_CORRELATION_MM * grow, PAD_MM * grow);
    const [scaleX, scaleY] = (['x', 'y'] as const).map((id) => {
      const span = sheet.spans.find((s) => s.id === id);
      return span ? (settings.spansMm[id] ?? span.nominalMm) / span.nominalMm : 1;
    }) as [number, number];
    const cameras: Float64Array[] = [];
    const photos = all.map((found) => {
      const n = found.marks.length;
      const design = new Float64Array(2 * n);
      const picture = new Float64Array(2 * n);
      found.marks.forEach((m, k) => {
        design[2 * k] = scaleX * m.design.x;
        design[2 * k + 1] = scaleY * m.design.y;
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
      cameras.push(lens.values);
      const kept = Uint8Array.from(lens.misfit, (e) => (e <= limit ? 1 : 0));
      const faces = faceHeights(settings).length;
      return new Photo(found, printError, bow, faces, lens.reference, kept);
    });
    return new Adjustment(photos, prior, settings, sheet, printError, bow, asDesigned, {
      cameras,
      print: [scaleX, scaleY],
    });
  }

  /** A photo's own parameters out of all. */
  ownOf(p: number, x: Float64Array = this.x): Float64Array {
    if (this.photos.length === 1) return x;
    const map = this.maps[p]!;
    const own = new Float64Array(map.length);
    for (let k = 0; k < own.length; k++) own[k] = x[map[k]!]!;
    return own;
  }

  private priors(lens: LensPrior): Observation[] {
    const { settings, photos, sheet, places } = this;
    const scaleSd = this.asDesigned ? NOTHING_MM : UNMEASURED_SCALE;
    const out = [
      ...lensObservations(lens),
      known('spans', places.print, 1, scaleSd),
      known('spans', places.print + 1, 1, scaleSd),
      known('spans', places.print + 2, 0, scaleSd),
      ...growthOf(settings, places),
    ];
    for (const span of sheet.spans) {
      const measured = settings.spansMm[span.id];
      if (measured === undefined) continue;
      const observation = this.spanReading(span.from, span.to, measured);
      this.spanReadings.push({ id: span.id, observation });
      out.push(observation);
    }
    this.facesMm.forEach((h, n) =>
      out.push(known('thickness', places.faces + n, h, Math.max(settings.thicknessU, 1e-4))),
    );
    const sized = new Map<number, number>();
    const alike = new Set<number>();
    this.riders().forEach(({ photo, rider, at }) => {
      const { design } = photos[photo]!.found.riders[rider]!;
      const measured = settings.riderSpansMm[design.sizeMm];
      const sd =
        measured === undefined
          ? UNMEASURED_SCALE
          : Math.hypot(Math.max(settings.riderSpanU, 1e-4) / design.sizeMm, settings.growthU ?? 0);
      const mean = Math.log((measured ?? design.sizeMm) / design.sizeMm);
      const size = at(RIDER_LN_SIZE);
      // One reading speaks for all riders of a size: they err together, and little from each other.
      const first = sized.get(design.sizeMm);
      if (first === undefined) {
        sized.set(design.sizeMm, size);
        out.push(known('rider size', size, mean, sd));
      } else if (!alike.has(size)) {
        out.push(knownSum('rider size', [size, first], [1, -1], 0, ALIKE_MM / design.sizeMm));
      }
      alike.add(size);
      out.push(
        known('rider height', at(RIDER_Z + 1), 0, TILT_SD),
        known('rider height', at(RIDER_Z + 2), 0, TILT_SD),
      );
    });
    return out;
  }

  /**
   * A measured span: the distance between two printed places, print error included, as calipers found it before the sheet
   * grew to what the picture shows.
   */
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
    at.push(places.growth, places.growth + 1);
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
          row[3 + 2 * k] = -px * (px / length / sd);
          row[4 + 2 * k] = -py * (py / length / sd);
        }
        const grown = (x[places.growth]! * px * px + x[places.growth + 1]! * py * py) / length;
        return (length - grown - measuredMm) / sd;
      },
    };
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
    for (const map of this.maps) {
      bow.sd.forEach((sd, n) =>
        this.tuned.push(known('sheet flatness', map[places.bow + n]!, 0, sd * this.bowMm)),
      );
    }
  }

  /** Every rider of every photo, and where its parameters stand. */
  private riders(): { photo: number; rider: number; at: (k: number) => number }[] {
    return this.photos.flatMap(({ found, ridersFrom }, photo) =>
      found.riders.map((_, rider) => ({
        photo,
        rider,
        at: (k: number) => this.maps[photo]![ridersFrom + RIDER_SIZE * rider + k]!,
      })),
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

  /**
   * All photos' corners: their cost; adds to `into`. `each` receives the residuals of all marks of one photo after the other.
   */
  marks(
    x: Float64Array,
    into?: Normal,
    each?: (p: number, residuals: Float64Array) => void,
  ): number {
    let cost = 0;
    for (let p = 0; p < this.photos.length; p++) {
      const photo = this.photos[p]!;
      const residuals = each && new Float64Array(2 * photo.found.marks.length);
      cost += photo.marks(
        this.ownOf(p, x),
        into && { normal: into, map: this.maps[p]! },
        residuals,
      );
      if (!Number.isFinite(cost)) return Infinity;
      if (residuals) each?.(p, residuals);
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

  /** Takes corners, print error and bow for exactly so large, as if somebody had told; and solves. */
  knowing({ printErrorMm, bowMm, cornerPx }: Sizes): this {
    this.printErrorMm = printErrorMm;
    this.bowMm = bowMm;
    for (const photo of this.photos) photo.sigmaPx = cornerPx;
    this.tune();
    this.solve();
    return this;
  }

  /** Solves with the present weights, then lets the residuals say how noisy the corners and how crooked the sheet are. */
  round(reject: boolean): void {
    const { places, printError, bow } = this;
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
    if (!this.asDesigned) {
      this.printErrorMm = fieldSize(
        [places.printErrorX, places.printErrorY],
        printError,
        this.printErrorMm,
        PRINT_ERROR_START,
      );
      const bows = this.maps.map((map) => map[places.bow]!);
      this.bowMm = fieldSize(bows, bow, this.bowMm, BOW_START);
    }
    // Parameters that the corners decided: all of them less those decided by what else is known (trace of P times its share).
    const other = emptyNormal(n, this.ends);
    for (const o of this.observations()) addObservation(o, this.x, other);
    let explained = n;
    for (let i = 0; i < n; i++) {
      explained -= other.matrix[i * n + i]! * p[i * n + i]!;
      for (let j = i + 1; j < n; j++) explained -= 2 * other.matrix[i * n + j]! * p[i * n + j]!;
    }
    const all = this.photos.reduce((sum, { found }) => sum + found.marks.length, 0);
    this.marks(this.x, undefined, (photo, residuals) => {
      const share = this.photos[photo]!.found.marks.length / all;
      this.photos[photo]!.weigh(residuals, share * explained, reject);
    });
    this.tune();
  }

  /** Moves the reference rotations to where the cameras are now, so that the turns stay small. */
  private settle(): void {
    this.photos.forEach((photo, p) => {
      photo.settle(this.ownOf(p));
      for (let k = 0; k < 3; k++) this.x[this.maps[p]![k]!] = 0;
    });
  }

  /** Heights that the pictures alone give to the riders, before any thickness has a say. */
  freeHeights(): FreeHeight[] {
    const riders = this.riders();
    if (riders.length === 0) return [];
    const over = riders.map(({ photo, rider }) => this.riderOverSheet(photo, rider));
    const heights = over.map(({ at, weights }) =>
      at.reduce((sum, i, a) => sum + weights[a]! * this.x[i]!, 0),
    );
    const covariance = covarianceOfSums(this.normal, over);
    const sizes = riders.map(({ at }) => at(RIDER_LN_SIZE));
    const distinct = [...new Set(sizes)];
    const { thicknessU, blocksMm } = this.settings;
    const under = facesUnder({
      heightsMm: heights.map((z) => z - PAPER_MM),
      covariance,
      riderOf: sizes.map((size) => distinct.indexOf(size)),
      facesMm: this.facesMm,
      blocks: blocksMm?.length ?? 0,
      faceU: thicknessU,
      betweenU: PAPER_U,
    });
    return riders.map(({ photo, rider }, k) => ({
      photo,
      rider,
      heightMm: heights[k]!,
      heightU: Math.sqrt(covariance[k]![k]!),
      thicknessIndex: under[k]!.face,
      orElseU: under[k]!.orElseU,
    }));
  }

  /** A rider's height over the sheet at its place, as a sum of parameters. */
  private riderOverSheet(photo: number, rider: number): { at: number[]; weights: number[] } {
    const map = this.maps[photo]!;
    const from = this.photos[photo]!.ridersFrom + RIDER_SIZE * rider;
    const terms = new Float64Array(this.bow.sd.length);
    evaluate(this.bow, this.x[map[from]!]!, this.x[map[from + 1]!]!, terms);
    return {
      at: [map[from + RIDER_Z]!, ...Array.from(terms, (_, k) => map[this.places.bow + k]!)],
      weights: [1, ...Array.from(terms, (v) => -v)],
    };
  }

  /**
   * A rider lies on its face, with its paper between. How much worse everything fits once that is said (twice the rise of the
   * cost, a chi-square) tells whether the picture contradicts it, also where f is so unknown that the height's own standard
   * deviation means little.
   */
  tieRiders(free: readonly FreeHeight[]): void {
    const { facesMm } = this;
    // A view without an entered thickness has no face for a rider to lie on.
    if (facesMm.length === 0 || free.length === 0) return;
    const ties = free.map(({ photo, rider, thicknessIndex, orElseU }) => {
      const { at, weights } = this.riderOverSheet(photo, rider);
      return knownSum(
        'rider height',
        [...at, this.places.faces + thicknessIndex],
        [...weights, -1],
        PAPER_MM,
        Math.hypot(PAPER_U, orElseU),
      );
    });
    const before = this.x;
    let cost = this.cost(before);
    const contradicts = (tied: Solution): boolean => 2 * (tied.cost - cost) > CONTRADICTION ** 2;
    // No rider costs more than all together do.
    this.ties = ties;
    if (!contradicts(this.solve())) return;
    this.x = before;
    this.ties = [];
    free.forEach(({ photo, rider, heightMm, heightU, thicknessIndex }, k) => {
      this.ties.push(ties[k]!);
      const tied = this.solve();
      if (contradicts(tied)) {
        throw new Refusal('rider-height', {
          riderMm: this.photos[photo]!.found.riders[rider]!.design.sizeMm,
          heightMm: fixed(heightMm - PAPER_MM, 1),
          uMm: fixed(2 * heightU, 1),
          thicknessMm: fixed(facesMm[thicknessIndex]!, 2),
        });
      }
      cost = tied.cost;
    });
  }

  sizes(p = 0): Sizes {
    const cornerPx = this.photos[p]!.sigmaPx;
    return { printErrorMm: this.printErrorMm, bowMm: this.bowMm, cornerPx };
  }

  /**
   * The span whose reading contradicts most what the picture and the other spans say it is: a square camera knows the ratio of
   * the sheet's sides and its angles better than calipers do. Difference and its standard uncertainty as without this reading:
   * e / (1 - h) and 1 / sqrt(1 - h) with its leverage h = r P r', all in units of the reading's own.
   */
  spansMisfit(): SpansMisfit | undefined {
    if (this.spanReadings.length < 2) return undefined;
    const rows = this.spanReadings.map(({ observation }) => {
      const weights = new Float64Array(observation.at.length);
      return { at: observation.at, weights, off: observation.residual(this.x, weights) };
    });
    const covariance = covarianceOfSums(this.normal, rows);
    const { spanU } = this.settings;
    const all = rows.map(({ off }, k) => {
      const left = Math.max(1 - covariance[k]![k]!, 1e-3);
      return {
        span: this.spanReadings[k]!.id,
        offMm: (off / left) * spanU,
        u: spanU / Math.sqrt(left),
      };
    });
    return all.reduce((a, b) => (Math.abs(b.offMm) / b.u > Math.abs(a.offMm) / a.u ? b : a));
  }

  /** Root mean square of the distance between the kept corners and where the adjustment has them, px, all photos together. */
  rmsPx(): number {
    let sum = 0;
    let count = 0;
    this.marks(this.x, undefined, (p, residuals) => {
      this.photos[p]!.kept.forEach((kept, m) => {
        if (!kept) return;
        sum += residuals[2 * m]! ** 2 + residuals[2 * m + 1]! ** 2;
        count++;
      });
    });
    return Math.sqrt(sum / Math.max(1, count));
  }

  /** The calibrated views, their reasons still to be judged. */
  views(
    free: readonly FreeHeight[],
    sizes: readonly { readonly widthPx: number; readonly heightPx: number }[],
  ): PhotoView[] {
    this.settle();
    const n = this.size;
    const normal = emptyNormal(n, this.ends);
    this.linearise(this.x, normal);
    const p = covarianceOf(normal);
    const data = emptyNormal(n, this.ends);
    const bare: PhotoView[] = [];
    this.marks(this.x, data, (photo, residuals) => {
      const own = free.filter((f) => f.photo === photo);
      const z = this.maps[photo]![AT_Z]!;
      bare.push(this.bareView(photo, residuals, own, sizes[photo]!, Math.sqrt(p[z * n + z]!)));
    });
    const spread = (photo: number, rows: readonly Float64Array[]): Float64Array[] =>
      this.photos.length === 1
        ? [...rows]
        : rows.map((row) => spreadOut(row, this.maps[photo]!, n));
    const watched = bare.flatMap((view, photo) => spread(photo, watchedFaces(view)));
    // A stretched picture may end at a camera so low or so wide that it would not see the stage.
    if (!watched.every((row) => row.every(Number.isFinite))) throw new Refusal('no-camera');
    const modes = modesOf(watched, this.x, p, data, this.observations());
    return bare.map((view, photo) => ({
      ...view,
      modes: modes.map(({ source, delta }) => ({ source, delta: this.ownOf(photo, delta) })),
      remedies: remediesOf(
        spread(photo, shapeRows(view)),
        this.x,
        p,
        this.candidates(view, (rows) => spread(photo, rows)),
      ),
    }));
  }

  private bareView(
    photo: number,
    residuals: Float64Array,
    free: readonly FreeHeight[],
    { widthPx, heightPx }: { readonly widthPx: number; readonly heightPx: number },
    cameraHeightU: number,
  ): PhotoView {
    const { found, kept, places, ridersFrom, reference } = this.photos[photo]!;
    const own = this.ownOf(photo).slice();
    const camera = cameraFrom(own, reference);
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
    return {
      widthPx,
      heightPx,
      sheet: found.sheet,
      eye: camera,
      names: Array.from(this.maps[photo]!, (at) => this.names[at]!),
      values: own,
      places,
      printError: this.printError,
      bow: this.bow,
      modes: [],
      remedies: [],
      blurPx: found.blurPx,
      foot: { x: fx, y: fy },
      cameraHeightMm: H,
      cameraHeightU,
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
        const at = ridersFrom + RIDER_SIZE * r;
        const x = own.subarray(at, at + RIDER_SIZE);
        const { heightMm, heightU, thicknessIndex } = free[r]!;
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
        return {
          design,
          corners,
          centre: { x: x[0]!, y: x[1]! },
          heightMm,
          heightU,
          thicknessIndex,
        };
      }),
      print: {
        scaleX: own[places.print]!,
        scaleY: own[places.print + 1]!,
        shear: own[places.print + 2]!,
      },
      settings: this.settings,
      reasons: [],
    };
  }

  /** What the operator could still do, as the observations that it would bring. */
  private candidates(
    view: PhotoView,
    spread: (rows: readonly Float64Array[]) => Float64Array[],
  ): Candidate[] {
    const { sheet, settings, places } = this;
    const riders = this.riders();
    const sharper = (source: Source, by: number): Observation[] =>
      this.observations().flatMap((o) => (o.source === source ? [repeated(o, by)] : []));
    const unread = sheet.spans.filter(({ id }) => settings.spansMm[id] === undefined);
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
        observations: riders.flatMap(({ photo, rider, at }) => {
          const { sizeMm } = this.photos[photo]!.found.riders[rider]!.design;
          return settings.riderSpansMm[sizeMm] === undefined
            ? [known('rider size', at(RIDER_LN_SIZE), 0, riderSpanU / sizeMm)]
            : [];
        }),
      },
      {
        what: 'lay a rider',
        observations: riders.length === 0 ? riderOnFace(view, riderSpanU, spread) : [],
      },
      {
        what: 'measure the thickness',
        observations:
          thicknessU > THICKNESS_AT_BEST
            ? this.facesMm.map((h, t) => known('thickness', places.faces + t, h, THICKNESS_AT_BEST))
            : [],
      },
      {
        what: 'lens profile',
        observations:
          this.prior.fFrom === 'profile'
            ? []
            : [knownShare('focal length', AT_F, view.eye.fPx, FOCUS_SHARE)],
      },
      { what: 'flat board', observations: sharper('sheet flatness', FLAT_BOARD) },
      { what: 'rigid sheet', observations: sharper('print error', RIGID_SHEET) },
    ];
  }
}

/** Two riders cannot lie nearer to each other than a side of theirs: within this share of it there is but one. */
const SAME_RIDER_SHARE = 0.5;

/** Where each photo's parameters stand among all, and the names of all. */
function laidOut(
  photos: readonly Photo[],
  /** By photo and rider, sheet mm. */
  where: readonly (readonly Point<'sheet'>[])[],
  printError: Basis,
  bow: Basis,
  faces: number,
): { maps: Int32Array[]; names: string[] } {
  const names: string[] = [];
  const known: { sizeMm: number; place: Point<'sheet'>; at: number }[] = [];
  const maps = photos.map((photo, p) => {
    const { places, ridersFrom } = photo;
    const map = new Int32Array(photo.size);
    const of = p === 0 ? '' : ` of photo ${p + 1}`;
    const own = (at: number, name: string): void => void (map[at] = names.push(name + of) - 1);
    const shared = (at: number, name: string): void => {
      if (p === 0) own(at, name);
      else map[at] = at;
    };
    CAMERA_NAMES.forEach((name, k) => (k < AT_F ? own : shared)(k, name));
    ['scale x', 'scale y', 'shear'].forEach((name, k) => shared(places.print + k, name));
    printError.sd.forEach((_, k) => shared(places.printErrorX + k, `print error x ${k}`));
    printError.sd.forEach((_, k) => shared(places.printErrorY + k, `print error y ${k}`));
    bow.sd.forEach((_, k) => own(places.bow + k, `bow ${k}`));
    for (let k = 0; k < faces; k++) shared(places.faces + k, `face ${k}`);
    ['x', 'y'].forEach((along, k) => shared(places.growth + k, `growth ${along}`));
    // It is the same rider in every photo, as large in each: one of its size that lies where it lay before.
    const before = [...known];
    photo.found.riders.forEach(({ design: { sizeMm } }, r) => {
      const place = where[p]![r]!;
      const off = (k: { place: Point<'sheet'> }): number =>
        Math.hypot(k.place.x - place.x, k.place.y - place.y);
      const [same] = before
        .filter((k) => k.sizeMm === sizeMm && off(k) < SAME_RIDER_SHARE * sizeMm)
        .sort((a, b) => off(a) - off(b));
      if (same) before.splice(before.indexOf(same), 1);
      RIDER_NAMES.forEach((name, k) => {
        const at = ridersFrom + RIDER_SIZE * r + k;
        if (k === RIDER_LN_SIZE && same) map[at] = same.at;
        else own(at, `rider ${r} ${name}`);
      });
      if (!same)
        known.push({ sizeMm, place, at: map[ridersFrom + RIDER_SIZE * r + RIDER_LN_SIZE]! });
    });
    return map;
  });
  return { maps, names };
}

/**
 * Where each row of the normal matrix ends: parameters meet only within a photo, so that a photo's own know nothing of those
 * of the next.
 */
function endsOf(maps: readonly Int32Array[], size: number): Int32Array {
  const ends = new Int32Array(size);
  for (const map of maps) {
    const end = map.reduce((most, at) => Math.max(most, at + 1), 0);
    for (const at of map) ends[at] = Math.max(ends[at]!, end);
  }
  return ends;
}

/** A row over one photo's parameters as a row over all. */
function spreadOut(row: Float64Array, map: Int32Array, size: number): Float64Array {
  const out = new Float64Array(size);
  row.forEach((v, k) => (out[map[k]!] = v));
  return out;
}

const AT_Z = AT_CENTRE + 2;
/** What a caliper makes of a thickness at its best, mm (k = 1). */
const THICKNESS_AT_BEST = 0.02;
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
function riderOnFace(
  view: PhotoView,
  riderSpanU: number,
  spread: (rows: readonly Float64Array[]) => Float64Array[],
): Observation[] {
  const half = 25;
  const { x, y } = { x: view.sheet.widthMm / 2, y: view.sheet.heightMm / 2 };
  const [left, , right, , , below, , above] = spread(
    faceJacobian(view, 0, [
      { x: x - half, y },
      { x: x + half, y },
      { x, y: y - half },
      { x, y: y + half },
    ]),
  ) as [Float64Array, ...Float64Array[]];
  const at = [...left.keys()];
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

const fixed = (v: number, digits: number): number => Number(v.toFixed(digits));
