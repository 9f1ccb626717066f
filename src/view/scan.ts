import { MM_PER_INCH, type Point } from '../base/measure.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { PictureMeta } from '../picture/picture.ts';
import type { SheetDesign } from '../sheet/design.ts';
import { basisFor, evaluate, type Basis } from './basis.ts';
import { plainHomography } from './lens.ts';
import { covarianceOf, emptyNormal, solveNormal, type Normal } from './least-squares.ts';
import { modesOf, watchedFaces } from './modes.ts';
import { addObservation, growthOf, known, knownSum, type Observation } from './observation.ts';
import { remediesOf, shapeRows } from './remedies.ts';
import { glassOf, SCANNER_NAMES, SCANNER_SIZE, scannerFrom, type Scanner } from './scanner.ts';
import type { CalibrationSettings, FoundMarks, ParameterPlaces, Source, View } from './view.ts';

/**
 * Correlation length of the drive's error along the feed, mm, how far its cosines reach beyond the picture, and its size until
 * the marks have spoken, mm (a belt or gear errs by a few hundredths over centimetres: common practice, no source).
 */
const FEED_CORRELATION_MM = 14;
const FEED_PAD_MM = 30;
const FEED_START_MM = 0.03;
/** The print's own error: as for photos. */
const PRINT_CORRELATION_MM = 45;
const PRINT_PAD_MM = 60;
const PRINT_ERROR_START_MM = 0.015;
/** How many terms the opinions above are worth. */
const OPINION = 2;
/** How many terms must be decided by the marks before they may tell how large their like are. */
const LEAST_DECIDED = 4;
/** Scale and shear of a print that nobody measured. */
const UNMEASURED_SCALE = 0.01;
/** Corners are never believed better than this, px. */
const LEAST_SIGMA_PX = 0.03;
/** A density that is farther off than this share contradicts; scanners err by some tenths of a per cent. */
export const DPI_CONTRADICTS = 0.02;
/** Skew of a scanner that was not measured, rad (k = 1). */
const UNMEASURED_SKEW = 0.001;
/**
 * How far a print is out of square, rad (k = 1): some tenths of a millimetre over a page (common practice, no source). A strip's
 * diagonal is too flat to measure it, and marks alone cannot tell a print out of square from a scanner out of square.
 */
const PRINT_SHEAR = 0.001;
const FEW = 0.5;
const RESIDUAL_DOUBTED_MM = 0.05;
/** A blank thicker than this keeps a whole sheet off the glass, mm. */
const LIFTS_SHEET_MM = 1;

const NO_BASIS: Basis = { padMm: 0, lengthX: 1, lengthY: 1, kx: [], ky: [], sd: [] };

/** What a scan is known by besides its marks. */
export interface ScanSettings extends CalibrationSettings {
  /** Density that the operator states; without marks the scale comes from it. */
  readonly dpi?: number;
  /** Its standard uncertainty, as a share. */
  readonly dpiShare: number;
  /** What the scanner does, from scans of a measured sheet; taken in place of marks. */
  readonly profile?: ScannerProfile;
  /** Nothing but the blanks lay on the glass: no marks are looked for. */
  readonly bare?: true;
}

export const DPI_SHARE = 0.005;

/** How large the drive's and the print's errors are, mm, and how noisy the corners, px. */
export interface ScanSizes {
  readonly feedMm: number;
  readonly printErrorMm: number;
  readonly cornerPx: number;
}

/** What one scanner does to its scans, from scans of a measured sheet; holds for scans of the same size and density. */
export interface ScannerProfile {
  readonly widthPx: number;
  readonly heightPx: number;
  /** As the files said; only a name for the setting. */
  readonly headerDpi?: number;
  /** In the frame of the picture: origin at its lower left corner, x along the sensor's line. */
  readonly scanner: Scanner;
  /** Independent standard deviations as moves of the scanner's parameters, by source. */
  readonly modes: readonly { readonly source: Source; readonly delta: readonly number[] }[];
  /** How far the drive differs from scan to scan, mm (k = 1), and from how many scans that was learnt. */
  readonly repeatMm: number;
  readonly scans: number;
}

/** What stands for the marks of a scan that has none. */
export const NO_MARKS: FoundMarks = {
  sheet: bareGlass(0, 0),
  marks: [],
  riders: [],
  expected: 0,
  blurPx: 0,
  reasons: [],
};

/**
 * Calibrates a scan from the marks of a strip or a sheet that lay on the glass: scale along the line and along the feed, shear,
 * turn, a smooth error of the drive along the feed, the print's scale and its smooth error, in one linear adjustment with the
 * covariance by source. The feed is taken to run along the picture's columns.
 *
 * @param found marks in the frame of the strip or sheet as designed
 * @param widthPx, heightPx of the upright picture
 */
export function calibrateScan(
  found: FoundMarks,
  meta: PictureMeta,
  widthPx: number,
  heightPx: number,
  settings: ScanSettings,
): View {
  const scan = new ScanAdjustment(found, widthPx, heightPx, settings);
  for (let round = 0; round < 4; round++) scan.round();
  const view = scan.view();
  return { ...view, reasons: [...found.reasons, ...judgeMarks(view, found, meta, settings)] };
}

/** The same by somebody who was told how large all errors are: what the best possible estimate would be sure of. */
export const scanKnowing = (
  found: FoundMarks,
  widthPx: number,
  heightPx: number,
  settings: ScanSettings,
  sizes: ScanSizes,
): View => new ScanAdjustment(found, widthPx, heightPx, settings).knowing(sizes).view();

/**
 * A scan without marks: the scale is the density that the operator states, the frame's origin the picture's lower left corner.
 */
export function scanByDensity(
  meta: PictureMeta,
  widthPx: number,
  heightPx: number,
  settings: ScanSettings & { readonly dpi: number },
): View {
  const pxMm = MM_PER_INCH / settings.dpi;
  const scanner = plainScanner(widthPx, heightPx, pxMm);
  const share = settings.dpiShare;
  const observations = [
    known('scanner', 0, 1, share),
    known('scanner', 1, 0, UNMEASURED_SKEW),
    known('scanner', 2, 0, UNMEASURED_SKEW),
    known('scanner', 3, -1, share),
    known('scanner', 4, scanner.shiftMm[0], 1),
    known('scanner', 5, scanner.shiftMm[1], 1),
    ...feedPriors(scanner, pxMm, FEED_START_MM),
  ];
  const view = glassView(scanner, widthPx, heightPx, settings);
  const { names, values, places } = view;
  const normal = emptyNormal(names.length);
  for (const o of [...observations, ...firmly(values, names, places)])
    addObservation(o, values, normal);
  const modes = modesOf(
    watchedFaces(view),
    values,
    covarianceOf(normal),
    emptyNormal(names.length),
    observations,
  );
  const reasons: Reason[] = [
    reason('scan-by-density', { dpi: settings.dpi, percent: 100 * share }),
  ];
  if (off(meta.densityDpi, settings.dpi)) {
    reasons.push(
      reason('density-contradicts-header', {
        dpi: settings.dpi,
        header: Math.round(meta.densityDpi!),
      }),
    );
  }
  return { ...view, modes, reasons };
}

export const off = (stated: number | undefined, dpi: number): boolean =>
  stated !== undefined && Math.abs(Math.log(stated / dpi)) > DPI_CONTRADICTS;

/** A scanner that errs nowhere, the frame's origin at the picture's lower left corner. */
function plainScanner(widthPx: number, heightPx: number, pxMm: number): Scanner {
  return {
    kind: 'scanner',
    middlePx: [(widthPx - 1) / 2, (heightPx - 1) / 2],
    pxMm,
    matrix: [1, 0, 0, -1],
    shiftMm: [(widthPx * pxMm) / 2, (heightPx * pxMm) / 2],
    feed: feedFor(heightPx, pxMm, [0, -1]),
    lensPx: (widthPx - 1) / 2,
  };
}

function feedFor(
  heightPx: number,
  pxMm: number,
  direction: readonly [number, number],
): Scanner['feed'] {
  const padPx = FEED_PAD_MM / pxMm;
  const lengthPx = heightPx + 2 * padPx;
  // Terms whose spectral density is at least a fiftieth of the first's.
  const most = (Math.sqrt(2 * Math.log(50)) / FEED_CORRELATION_MM) * ((lengthPx * pxMm) / Math.PI);
  return { lengthPx, padPx, coefficients: Array(Math.max(2, Math.floor(most))).fill(0), direction };
}

/** Standard deviations of the feed's coefficients for an error of unit size. */
export function feedSizes({ feed }: Scanner, pxMm: number): number[] {
  const power = feed.coefficients.map((_, k) => {
    const w = ((k + 1) * Math.PI) / (feed.lengthPx * pxMm);
    return Math.exp((-w * w * FEED_CORRELATION_MM ** 2) / 2);
  });
  const sum = power.reduce((s, v) => s + v, 0) / 2;
  return power.map((v) => Math.sqrt(v / sum));
}

const feedPriors = (scanner: Scanner, pxMm: number, sizeMm: number): Observation[] =>
  feedSizes(scanner, pxMm).map((sd, k) => known('feed', SCANNER_SIZE + k, 0, sd * sizeMm));

function placesOf(scanner: Scanner, printError: Basis, faces: number): ParameterPlaces {
  const print = SCANNER_SIZE + scanner.feed.coefficients.length;
  const terms = printError.sd.length;
  return {
    print,
    printErrorX: print + 3,
    printErrorY: print + 3 + terms,
    bow: print + 3 + 2 * terms,
    faces: print + 3 + 2 * terms,
    growth: print + 3 + 2 * terms + faces,
  };
}

const namesOf = (scanner: Scanner, printError: Basis, settings: CalibrationSettings): string[] => [
  ...SCANNER_NAMES,
  ...scanner.feed.coefficients.map((_, k) => `feed ${k}`),
  'scale x',
  'scale y',
  'shear',
  ...printError.sd.map((_, k) => `print error x ${k}`),
  ...printError.sd.map((_, k) => `print error y ${k}`),
  ...settings.thicknessMm.map((_, k) => `face ${k}`),
  'growth x',
  'growth y',
];

/** The parameter vector of a scanner over a print as designed. */
function vectorOf(scanner: Scanner, size: number, places: ParameterPlaces): Float64Array {
  const x = new Float64Array(size);
  x.set([...scanner.matrix, ...scanner.shiftMm, ...scanner.feed.coefficients]);
  x[places.print] = 1;
  x[places.print + 1] = 1;
  return x;
}

/** Glass on which nothing is printed. */
function bareGlass(widthMm: number, heightMm: number): SheetDesign {
  return {
    version: 1,
    widthMm,
    heightMm,
    pitchMm: 1,
    columns: 0,
    rows: 0,
    bandCells: 0,
    originMm: { x: 0, y: 0 },
    tone: 'white',
    voids: [],
    spans: [],
  };
}

/** A view of glass without marks, its covariance still to come. */
export function glassView(
  scanner: Scanner,
  widthPx: number,
  heightPx: number,
  settings: ScanSettings,
): View {
  const places = placesOf(scanner, NO_BASIS, settings.thicknessMm.length);
  const names = namesOf(scanner, NO_BASIS, settings);
  const values = vectorOf(scanner, names.length, places);
  return {
    widthPx,
    heightPx,
    sheet: bareGlass(widthPx * scanner.pxMm, heightPx * scanner.pxMm),
    eye: scanner,
    names,
    values,
    places,
    printError: NO_BASIS,
    bow: NO_BASIS,
    modes: [],
    remedies: [],
    blurPx: 0.7,
    mmPerPx: pixelOf(scanner),
    residualRmsPx: 0,
    residualRmsMm: 0,
    residuals: [],
    riders: [],
    print: { scaleX: 1, scaleY: 1, shear: 0 },
    settings,
    reasons: [],
  };
}

/** Parameters that stand for nothing here, held where they are. */
const firmly = (
  values: Float64Array,
  names: readonly string[],
  places: ParameterPlaces,
): Observation[] =>
  names.flatMap((_, k) => (k >= places.print ? [known('marks', k, values[k]!, 1e-6)] : []));

/** Side of a square as large as one pixel on the glass, mm. */
const pixelOf = ({ matrix: [a, b, c, d], pxMm }: Scanner): number =>
  pxMm * Math.sqrt(Math.abs(a * d - b * c));

/** A scanner's line stands square to its feed, but for its skew. */
const SQUARE: Observation = {
  source: 'scanner',
  at: [0, 1, 2, 3],
  residual(x, row) {
    const [a, b, c, d] = [x[0]!, x[1]!, x[2]!, x[3]!];
    const lengths = Math.hypot(a, c) * Math.hypot(b, d);
    // What turns and stretches do to the lengths does not matter: the product is small.
    if (row) [b, a, d, c].forEach((v, k) => (row[k] = v / lengths / UNMEASURED_SKEW));
    return (a * b + c * d) / lengths / UNMEASURED_SKEW;
  },
};

/** The adjustment of one scan, linear but for the scanner's squareness. */
class ScanAdjustment {
  private readonly printError: Basis;
  private readonly scanner: Scanner;
  private readonly places: ParameterPlaces;
  private readonly names: string[];
  private x: Float64Array;
  private readonly terms: Float64Array[];
  private readonly kept: Uint8Array;
  private sigmaPx = 0.3;
  private feedMm = FEED_START_MM;
  private printErrorMm = PRINT_ERROR_START_MM;
  private normal: Normal;

  constructor(
    private readonly found: FoundMarks,
    private readonly widthPx: number,
    private readonly heightPx: number,
    private readonly settings: ScanSettings,
  ) {
    const { sheet, marks } = found;
    this.printError = basisFor(sheet.widthMm, sheet.heightMm, PRINT_CORRELATION_MM, PRINT_PAD_MM);
    this.scanner = startOf(found, widthPx, heightPx);
    this.places = placesOf(this.scanner, this.printError, settings.thicknessMm.length);
    this.names = namesOf(this.scanner, this.printError, settings);
    this.x = vectorOf(this.scanner, this.names.length, this.places);
    this.kept = new Uint8Array(marks.length).fill(1);
    this.terms = marks.map(({ design }) => {
      const row = new Float64Array(this.printError.sd.length);
      evaluate(this.printError, design.x, design.y, row);
      return row;
    });
    this.normal = emptyNormal(this.names.length);
  }

  private observations(): Observation[] {
    const { places, printError, settings, found } = this;
    const out = [
      known('spans', places.print, 1, UNMEASURED_SCALE),
      known('spans', places.print + 1, 1, UNMEASURED_SCALE),
      known('spans', places.print + 2, 0, PRINT_SHEAR),
      SQUARE,
      ...feedPriors(this.scanner, this.scanner.pxMm, this.feedMm),
      ...growthOf(settings, places),
    ];
    printError.sd.forEach((sd, k) =>
      out.push(
        known('print error', places.printErrorX + k, 0, sd * this.printErrorMm),
        known('print error', places.printErrorY + k, 0, sd * this.printErrorMm),
      ),
    );
    for (const span of found.sheet.spans) {
      const measured = settings.spansMm[span.id];
      if (measured !== undefined) out.push(this.spanReading(span.from, span.to, measured));
    }
    // Faces lie on the glass.
    for (let k = places.faces; k < places.growth; k++) out.push(known('marks', k, 0, 1e-6));
    return out;
  }

  /**
   * A measured span: the printed distance along the span's designed direction. What a print strays sideways changes a distance in
   * the second order only.
   */
  private spanReading(a: Point<'sheet'>, b: Point<'sheet'>, measuredMm: number): Observation {
    const { places, printError } = this;
    const k = printError.sd.length;
    const [from, to] = [new Float64Array(k), new Float64Array(k)];
    evaluate(printError, a.x, a.y, from);
    evaluate(printError, b.x, b.y, to);
    const [dx, dy] = [b.x - a.x, b.y - a.y];
    const length = Math.hypot(dx, dy);
    const [nx, ny] = [dx / length, dy / length];
    const at = [places.print, places.print + 1, places.print + 2];
    const weights = [nx * dx, ny * dy, nx * dy];
    at.push(places.growth, places.growth + 1);
    weights.push(-nx * dx, -ny * dy);
    for (let n = 0; n < k; n++) {
      at.push(places.printErrorX + n, places.printErrorY + n);
      weights.push(nx * (to[n]! - from[n]!), ny * (to[n]! - from[n]!));
    }
    return knownSum('spans', at, weights, measuredMm, Math.max(this.settings.spanU, 1e-4));
  }

  /** Adds the marks' equations; residuals (mm, x and y of each mark) are written when given. */
  private marks(into: Normal | undefined, residuals?: Float64Array): void {
    const { found, places, x, terms, kept, scanner } = this;
    const { direction, lengthPx, padPx } = scanner.feed;
    const feeds = scanner.feed.coefficients.length;
    const now = scannerFrom(x, scanner);
    const n = this.names.length;
    const weight = 1 / (this.sigmaPx * scanner.pxMm) ** 2;
    const rows = [new Float64Array(n), new Float64Array(n)] as const;
    found.marks.forEach(({ design: d, picture: q }, m) => {
      if (!kept[m] && !residuals) return;
      const glass = glassOf(now, q.x, q.y);
      let px = x[places.print]! * d.x + x[places.print + 2]! * d.y;
      let py = x[places.print + 1]! * d.y;
      const phi = terms[m]!;
      for (let k = 0; k < phi.length; k++) {
        px += x[places.printErrorX + k]! * phi[k]!;
        py += x[places.printErrorY + k]! * phi[k]!;
      }
      const e = [px - glass.x, py - glass.y] as const;
      if (residuals) residuals.set(e, 2 * m);
      if (!into || !kept[m]) return;
      const du = (q.x - scanner.middlePx[0]) * scanner.pxMm;
      const dv = (q.y - scanner.middlePx[1]) * scanner.pxMm;
      const t = (Math.PI * (q.y + 0.5 + padPx)) / lengthPx;
      for (const axis of [0, 1] as const) {
        const row = rows[axis];
        row.fill(0);
        row[2 * axis] = -du;
        row[2 * axis + 1] = -dv;
        row[4 + axis] = -1;
        for (let k = 0; k < feeds; k++)
          row[SCANNER_SIZE + k] = -direction[axis] * Math.cos((k + 1) * t);
        if (axis === 0) {
          row[places.print] = d.x;
          row[places.print + 2] = d.y;
          row.set(phi, places.printErrorX);
        } else {
          row[places.print + 1] = d.y;
          row.set(phi, places.printErrorY);
        }
        for (let i = 0; i < n; i++) {
          const w = weight * row[i]!;
          if (w === 0) continue;
          into.gradient[i]! += w * e[axis];
          for (let j = i; j < n; j++) into.matrix[i * n + j]! += w * row[j]!;
        }
      }
    });
  }

  /** Solves with the present weights; the problem is linear. */
  private solve(): void {
    const normal = emptyNormal(this.names.length);
    this.marks(normal);
    for (const o of this.observations()) addObservation(o, this.x, normal);
    const step = solveNormal(normal);
    if (!step) throw new Refusal('no-strip');
    this.x = this.x.map((v, k) => v - step[k]!);
    this.normal = normal;
  }

  /** Takes drive, print error and corners for exactly so large, as if somebody had told; and solves. */
  knowing({ feedMm, printErrorMm, cornerPx }: ScanSizes): this {
    this.feedMm = feedMm;
    this.printErrorMm = printErrorMm;
    this.sigmaPx = cornerPx;
    this.solve();
    return this;
  }

  /** Solves with the present weights, then lets the residuals say how noisy corners, drive and print are. */
  round(): void {
    const { names, scanner, places, printError, kept, found } = this;
    const n = names.length;
    this.solve();
    const p = covarianceOf(this.normal);
    const sizeOf = (at: number, sds: readonly number[], now: number, start: number) => {
      let energy = OPINION * start * start;
      let decided = OPINION;
      sds.forEach((sd, k) => {
        energy += (this.x[at + k]! / sd) ** 2;
        decided += 1 - Math.min(1, p[(at + k) * n + at + k]! / (sd * now) ** 2);
      });
      return { energy, decided };
    };
    const feed = sizeOf(SCANNER_SIZE, feedSizes(scanner, scanner.pxMm), this.feedMm, FEED_START_MM);
    const [ex, ey] = [places.printErrorX, places.printErrorY].map((at) =>
      sizeOf(at, printError.sd, this.printErrorMm, PRINT_ERROR_START_MM),
    ) as [typeof feed, typeof feed];
    // A size that hardly any term tells stays what it is taken for: scale along the feed and its slowest terms look alike over a
    // strip that lies across, and would drive each other up.
    const size = (energy: number, decided: number, start: number): number =>
      decided - OPINION < LEAST_DECIDED ? start : Math.sqrt(energy / decided);
    this.feedMm = size(feed.energy, feed.decided, FEED_START_MM);
    this.printErrorMm = size(ex.energy + ey.energy, ex.decided + ey.decided, PRINT_ERROR_START_MM);
    const residuals = new Float64Array(2 * found.marks.length);
    this.marks(undefined, residuals);
    const lengths = found.marks.map((_, m) => Math.hypot(residuals[2 * m]!, residuals[2 * m + 1]!));
    // The median of a Rayleigh law is 1.1774 of its scale.
    const typical = lengths.filter((_, m) => kept[m]).sort((a, b) => a - b);
    const limit = 4.5 * (typical[typical.length >> 1]! / 1.1774) + 0.05 * scanner.pxMm;
    lengths.forEach((e, m) => (kept[m] = e <= limit ? 1 : 0));
    let sum = 0;
    let count = 0;
    lengths.forEach((e, m) => {
      if (!kept[m]) return;
      sum += e * e;
      count += 2;
    });
    const freedom = Math.max(8, count - Math.min(n, 0.5 * count));
    this.sigmaPx = Math.max(LEAST_SIGMA_PX, Math.sqrt(sum / freedom) / scanner.pxMm);
  }

  view(): View {
    const { found, settings, places, names, printError, kept, widthPx, heightPx } = this;
    const n = names.length;
    const data = emptyNormal(n);
    const residuals = new Float64Array(2 * found.marks.length);
    this.marks(data, residuals);
    const observations = this.observations();
    const p = covarianceOf(this.normal);
    const scanner = scannerFrom(this.x, this.scanner);
    const mmPerPx = pixelOf(scanner);
    let square = 0;
    let count = 0;
    found.marks.forEach((_, m) => {
      if (!kept[m]) return;
      square += residuals[2 * m]! ** 2 + residuals[2 * m + 1]! ** 2;
      count++;
    });
    const residualRmsMm = Math.sqrt(square / Math.max(1, count));
    const [a, b, c, d] = scanner.matrix;
    const det = (a * d - b * c) * scanner.pxMm;
    const view: View = {
      widthPx,
      heightPx,
      sheet: found.sheet,
      eye: scanner,
      names,
      values: this.x.slice(),
      places,
      printError,
      bow: NO_BASIS,
      modes: [],
      remedies: [],
      blurPx: found.blurPx,
      mmPerPx,
      residualRmsPx: residualRmsMm / mmPerPx,
      residualRmsMm,
      residuals: found.marks.map(({ picture: at, design }, m) => {
        const [x, y] = [residuals[2 * m]!, residuals[2 * m + 1]!];
        return {
          at,
          design,
          dx: (d * x - b * y) / det,
          dy: (a * y - c * x) / det,
          kept: kept[m] === 1,
        };
      }),
      riders: [],
      print: {
        scaleX: this.x[places.print]!,
        scaleY: this.x[places.print + 1]!,
        shear: this.x[places.print + 2]!,
      },
      settings,
      reasons: [],
    };
    const unread = found.sheet.spans.filter(({ id }) => settings.spansMm[id] === undefined);
    return {
      ...view,
      modes: modesOf(watchedFaces(view), view.values, p, data, observations),
      remedies: remediesOf(shapeRows(view), view.values, p, [
        {
          what: 'read the spans',
          observations: unread.map(({ from, to, nominalMm }) =>
            this.spanReading(from, to, nominalMm),
          ),
        },
      ]),
    };
  }
}

/** The scanner as a plain map of the marks lets it be seen: turn, pixel and direction of the feed. */
function startOf({ marks }: FoundMarks, widthPx: number, heightPx: number): Scanner {
  const h = plainHomography(
    Float64Array.from(marks.flatMap((m) => [m.picture.x, m.picture.y])),
    Float64Array.from(marks.flatMap((m) => [m.design.x, m.design.y])),
  );
  // In the middle of the marks: a homography carried far beyond them bends.
  const u = marks.reduce((s, m) => s + m.picture.x, 0) / marks.length;
  const v = marks.reduce((s, m) => s + m.picture.y, 0) / marks.length;
  const w = h[6]! * u + h[7]! * v + h[8]!;
  const x = (h[0]! * u + h[1]! * v + h[2]!) / w;
  const y = (h[3]! * u + h[4]! * v + h[5]!) / w;
  const matrix = [
    (h[0]! - x * h[6]!) / w,
    (h[1]! - x * h[7]!) / w,
    (h[3]! - y * h[6]!) / w,
    (h[4]! - y * h[7]!) / w,
  ] as const;
  const pxMm = Math.sqrt(Math.abs(matrix[0] * matrix[3] - matrix[1] * matrix[2]));
  const plain = plainScanner(widthPx, heightPx, pxMm);
  const [du, dv] = [plain.middlePx[0] - u, plain.middlePx[1] - v];
  const feed = Math.hypot(matrix[1], matrix[3]);
  return {
    ...plain,
    matrix: [matrix[0] / pxMm, matrix[1] / pxMm, matrix[2] / pxMm, matrix[3] / pxMm],
    shiftMm: [x + matrix[0] * du + matrix[1] * dv, y + matrix[2] * du + matrix[3] * dv],
    feed: { ...plain.feed, direction: [matrix[1] / feed, matrix[3] / feed] },
  };
}

/** Dots per inch along the sensor's line and along the feed, as measured. */
export function densitiesOf({ matrix: [a, b, c, d], pxMm }: Scanner): {
  line: number;
  feed: number;
} {
  return {
    line: MM_PER_INCH / (Math.hypot(a, c) * pxMm),
    feed: MM_PER_INCH / (Math.hypot(b, d) * pxMm),
  };
}

function judgeMarks(
  view: View,
  found: FoundMarks,
  meta: PictureMeta,
  settings: ScanSettings,
): Reason[] {
  const out: Reason[] = [];
  const scanner = view.eye as Scanner;
  const kept = view.residuals.filter((r) => r.kept).length;
  if (kept < FEW * found.expected)
    out.push(reason('marks-few', { found: kept, expected: found.expected }));
  const missing = (['x', 'y'] as const).filter((id) => settings.spansMm[id] === undefined);
  if (missing.length > 0) {
    out.push(
      reason('spans-missing', { spans: missing.map((id) => id.toUpperCase()).join(' and ') }),
    );
  }
  const { line, feed } = densitiesOf(scanner);
  const measured = { line: Math.round(line * 10) / 10, feed: Math.round(feed * 10) / 10 };
  if (Math.abs(Math.log(line / feed)) > DPI_CONTRADICTS)
    out.push(reason('scan-stretched', measured));
  else if (off(settings.dpi, Math.sqrt(line * feed)))
    out.push(reason('density-contradicts-marks', { ...measured, dpi: settings.dpi! }));
  else if (off(meta.densityDpi, Math.sqrt(line * feed)))
    out.push(
      reason('header-contradicts-marks', { ...measured, header: Math.round(meta.densityDpi!) }),
    );
  if (view.residualRmsMm > RESIDUAL_DOUBTED_MM) {
    out.push(reason('scan-residual', { residualMm: Number(view.residualRmsMm.toFixed(2)) }));
  }
  const { wantMm } = settings;
  if (view.mmPerPx > 0.75 * wantMm) {
    out.push(reason('scan-coarse', { mmPerPx: Number(view.mmPerPx.toFixed(2)), wantMm }));
  }
  const thickest = Math.max(...settings.thicknessMm);
  if (!found.sheet.field && thickest > LIFTS_SHEET_MM)
    out.push(reason('sheet-lifted', { thicknessMm: thickest }));
  return out;
}
