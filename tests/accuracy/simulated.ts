/**
 * Cases by the hundred, simulated at the level of marks and edge points: every quantity is drawn from the law that its stated
 * uncertainty claims, the view is calibrated from the marks, the true outline goes through the true camera and comes back
 * through the view. What it counts is whether U is what it says, and how near the figures are to the best possible ones.
 */
import type { Point } from '../../src/base/measure.ts';
import { outwardNormals } from '../../src/geometry/measure.ts';
import {
  alongNormal,
  outlineModes,
  wholeFactorOf,
  type Heights,
  type Seen,
} from '../../src/outline/uncertainty.ts';
import type { OutlineMode } from '../../src/outline/outline.ts';
import { STRIP, sheetVertex } from '../../src/sheet/layout.ts';
import { calibrateAll, startOf, type Photographed, type Sizes } from '../../src/view/adjust.ts';
import { FOCUS_SHARE, lensPrior, type LensPrior } from '../../src/view/lens.ts';
import { vertices } from '../../src/view/marks.ts';
import { heightOf, sheetOfPicture } from '../../src/view/model.ts';
import { calibrateScan, DPI_SHARE, scanKnowing } from '../../src/view/scan.ts';
import type { View } from '../../src/view/view.ts';
import { Random, seen, simulate, type Case, type TrueCamera } from '../support/simulate.ts';
import { simulateSeveral } from '../support/simulate-several.ts';
import type { RowId } from './cases.ts';
import { score, type Place, type Score } from './score.ts';

/**
 * How an edge errs, px (k = 1), measured on rendered pictures with known edges: point by point, after the curve is fitted; over
 * stretches of some centimetres; all round alike. The first two are what `trace` allows for, the third its BIAS_PX.
 */
export const EDGE_PX = { own: 0.021, slow: 0.02, bias: 0.03 };
const SLOW_MM = 20;
const CORNER_PX = 0.03;
/** A printer's sheet glued to a board, and paper: smooth print error, mm. */
const RIGID_MM = 0.008;
const PAPER_MM = 0.03;
const F_KNOWN = 0.035;
/** Standard uncertainties of a saved profile: f as a share; then px, px and the four distortions. */
const PROFILE = { fShare: 0.001, others: [2, 2, 0.003, 0.006, 1e-4, 1e-4] };

/** One simulated case: what came out, and the RMS that the best possible estimate would have had. */
export interface SimulatedCase {
  readonly score: Score;
  /** Cramér-Rao: of the outline's RMS deviation, mm. */
  readonly boundMm: number;
}

/** A closed outline of some 200 to 330 mm, its vertices a millimetre apart. */
function blob(random: Random, middle: Point<'sheet'>): Point<'sheet'>[] {
  const radius = random.between(32, 50);
  const waves = [2, 3, 4, 5].map((n) => ({
    n,
    high: random.normal(0.12 / n),
    phase: random.between(0, 2 * Math.PI),
  }));
  const count = Math.round(2 * Math.PI * radius);
  return Array.from({ length: count }, (_, k) => {
    const a = (2 * Math.PI * k) / count;
    const r = radius * (1 + waves.reduce((s, w) => s + w.high * Math.cos(w.n * a + w.phase), 0));
    return { x: middle.x + r * Math.cos(a), y: middle.y + r * Math.sin(a) };
  });
}

/** The outline as its edge would be found, in true mm: moved along its normals by what edges and fitted curves err. */
function found(
  random: Random,
  ring: readonly Point<'sheet'>[],
  mmPerPx: number,
  curveMm: number,
): Point<'sheet'>[] {
  const { nx, ny } = outwardNormals(ring);
  const bias = random.normal(EDGE_PX.bias * mmPerPx);
  const slow = Array.from({ length: Math.ceil(ring.length / SLOW_MM) }, () =>
    random.normal(EDGE_PX.slow * mmPerPx),
  );
  let own = 0;
  return ring.map((p, k) => {
    // One independent error in two millimetres.
    if (k % 2 === 0) own = random.normal(Math.hypot(EDGE_PX.own * mmPerPx, curveMm));
    const at = (k / ring.length) * slow.length;
    const low = Math.floor(at);
    const t = at - low;
    // Between two independent values, so that their mixture keeps its size.
    const mixed =
      Math.cos((t * Math.PI) / 2) * slow[low]! +
      Math.sin((t * Math.PI) / 2) * slow[(low + 1) % slow.length]!;
    const d = bias + mixed + own;
    return { x: p.x + d * nx[k]!, y: p.y + d * ny[k]! };
  });
}

/** What one view makes of the outline: its places, its modes and its edge's own uncertainty. */
interface Seeing {
  readonly ring: Point<'sheet'>[];
  readonly seen: Seen[];
  readonly modes: OutlineMode[];
  readonly edgeU: Float64Array;
}

/** What fitted curves leave (k = 1), mm: as in `trace`, their tolerance is a third of U, a third of which they leave. */
const curveOf = (view: View, pictures: readonly Point<'picture'>[]): number =>
  Math.min(0.05, (2 * rms(uOf(seeing(view, pictures, 0)))) / 3) / 3;

function seeing(view: View, pictures: readonly Point<'picture'>[], curveMm: number): Seeing {
  const scan = view.foot === undefined;
  const height = scan ? 0 : heightOf(view, 0);
  const ring = pictures.map((p) => sheetOfPicture(view.eye, p, height));
  const { nx, ny } = outwardNormals(ring);
  const all: Seen[] = ring.map((p, k) => ({
    ...p,
    nx: nx[k]!,
    ny: ny[k]!,
    far: true,
    share: 1,
    biasMm: EDGE_PX.bias * view.mmPerPx,
    farSideMm: 0,
  }));
  const heights: Heights = {
    thicknessIndex: 0,
    belowFaceMm: 0,
    widestU: 0,
    lowestU: 0,
    at: ring[0]!,
  };
  return {
    ring,
    seen: all,
    modes: outlineModes(view, all, heights),
    edgeU: new Float64Array(ring.length).fill(
      Math.hypot(EDGE_PX.own * view.mmPerPx, EDGE_PX.slow * view.mmPerPx, curveMm),
    ),
  };
}

/** The mean of what several views make of it: modes in step, edges independent. */
function meanOf(all: readonly Seeing[]): Seeing {
  const [first] = all as [Seeing];
  const n = all.length;
  const mean = (of: (s: Seeing) => number): number => all.reduce((sum, s) => sum + of(s), 0) / n;
  const column = (length: number, of: (s: Seeing, k: number) => number): Float64Array =>
    Float64Array.from({ length }, (_, k) => mean((s) => of(s, k)));
  const ring = first.ring.map((_, k) => ({
    x: mean((s) => s.ring[k]!.x),
    y: mean((s) => s.ring[k]!.y),
  }));
  return {
    ring,
    seen: first.seen.map((v, k) => ({ ...v, ...ring[k]! })),
    modes: first.modes.map(({ source }, m) => ({
      source,
      dx: column(ring.length, (s, k) => s.modes[m]!.dx[k]!),
      dy: column(ring.length, (s, k) => s.modes[m]!.dy[k]!),
    })),
    edgeU: first.edgeU.map((u) => u / Math.sqrt(n)),
  };
}

const uOf = ({ seen: all, modes, edgeU }: Seeing): Float64Array => alongNormal(all, modes, edgeU);
const rms = (values: Float64Array): number =>
  Math.sqrt(values.reduce((s, v) => s + v * v, 0) / values.length);

function scored(told: Seeing, truth: readonly Point<'sheet'>[]): Score {
  const places = (ring: readonly Point<'sheet'>[]): Place[] =>
    ring.map(({ x, y }): Place => [x, y]);
  const u = uOf(told);
  const wholeFactor = wholeFactorOf(told.seen, told.modes, told.edgeU, u);
  return score(
    { rings: [places(told.ring)], u: [u], hidden: [], wholeFactor },
    { rings: [places(truth)], hidden: [] },
  );
}

/** A photo with what is true of it. */
interface Taken extends Photographed {
  readonly camera: TrueCamera;
  readonly faceZ: number;
}

/** Photos of one sheet: calibrated as the program does, and with the sizes of all errors known. */
function photographed(
  random: Random,
  taken: readonly Taken[],
  settings: Parameters<typeof calibrateAll>[1],
  sizes: Sizes,
  prior: LensPrior,
): SimulatedCase {
  const truth = blob(random, {
    x: 105 + random.between(-15, 15),
    y: 148 + random.between(-25, 25),
  });
  const views = calibrateAll(taken, settings, prior);
  const curves: number[] = [];
  const pictures = views.map((view, p) => {
    const through = ({ x, y }: Point<'sheet'>): Point<'picture'> => {
      const [u, v] = seen(taken[p]!.camera, x, y, taken[p]!.faceZ);
      return { x: u, y: v };
    };
    curves.push(curveOf(view, truth.map(through)));
    return found(random, truth, view.mmPerPx, curves[p]!).map(through);
  });
  const seeings = (all: readonly View[]): Seeing[] =>
    all.map((view, p) => seeing(view, pictures[p]!, curves[p]!));
  const best = startOf(
    taken.map((p) => p.found),
    prior,
    settings,
  ).knowing(sizes);
  const free = best.freeHeights();
  best.tieRiders(free);
  return {
    score: scored(meanOf(seeings(views)), truth),
    boundMm: rms(uOf(meanOf(seeings(best.views(free, taken))))),
  };
}

function photo(o: Case, profile = false): SimulatedCase {
  const s = simulate(o);
  const random = new Random(o.seed * 31 + 7);
  const header = lensPrior(s.meta, s.widthPx, s.heightPx);
  return photographed(
    random,
    [s],
    s.settings,
    { printErrorMm: o.printError, bowMm: Math.max(0.002, 0.3 * o.bow), cornerPx: CORNER_PX },
    profile ? profiled(random, header, s.camera) : header,
  );
}

/** The lens as a saved profile would tell it. */
function profiled(random: Random, header: LensPrior, { f, cx, cy, k }: TrueCamera): LensPrior {
  const sd = [f * Math.hypot(PROFILE.fShare, FOCUS_SHARE), ...PROFILE.others];
  const values = [f, cx, cy, ...k].map((v, n) => v + random.normal(sd[n]!));
  const covariance = sd.map((s, i) => sd.map((_, j) => (i === j ? s * s : 0)));
  return {
    ...header,
    fPx: values[0]!,
    fShare: sd[0]! / values[0]!,
    fFrom: 'profile',
    cxPx: values[1]!,
    cyPx: values[2]!,
    cSd: sd[1]!,
    told: { values, covariance },
  };
}

function several(seed: number): SimulatedCase {
  const s = simulateSeveral({
    seed,
    photos: 2 + (seed % 3),
    height: 40,
    printError: PAPER_MM,
    bow: 0.05,
    tilt: 0.25,
    fKnown: F_KNOWN,
  });
  const [{ meta, widthPx, heightPx }] = s.photos as [Taken];
  return photographed(
    new Random(seed * 31 + 7),
    s.photos,
    s.settings,
    { printErrorMm: PAPER_MM, bowMm: 0.3 * 0.05, cornerPx: CORNER_PX },
    lensPrior(meta, widthPx, heightPx),
  );
}

/** A smooth error of RMS `size`: six waves of random length, direction and phase, as the renderer has them. */
function waves(random: Random, size: number, shortest: number, longest: number, alongY = false) {
  const all = Array.from({ length: 6 }, () => {
    const angle = alongY ? Math.PI / 2 : random.between(0, 2 * Math.PI);
    const q = (2 * Math.PI) / random.between(shortest, longest);
    return [q * Math.cos(angle), q * Math.sin(angle), random.between(0, 2 * Math.PI)] as const;
  });
  return (x: number, y: number): number =>
    (size / Math.sqrt(3)) * all.reduce((s, [a, b, p]) => s + Math.cos(a * x + b * y + p), 0);
}

/** A strip printed with care; a drive: as the rendered scans have them, mm. */
const STRIP_MM = 0.006;
const DRIVE_MM = [0.015, 0.05] as const;

/** A blank beside a strip along the feed of a scanner that errs along its line, its feed, in skew and by waves of the drive. */
function scan(dpi: number, seed: number): SimulatedCase {
  const random = new Random(seed * 4219 + dpi);
  const px = 25.4 / dpi;
  const [widthPx, heightPx] = [Math.round(216 / px), Math.round(297 / px)];
  const [a, b] = [1 + random.normal(0.003), 1 + random.normal(0.003)];
  const skew = random.normal(0.0008);
  const driveMm = random.between(...DRIVE_MM);
  const drive = waves(random, driveMm, 30, 200, true);
  /** Where a place of the glass (mm, x along the line, y down the feed) appears. */
  const pixel = (x: number, y: number): Point<'picture'> => ({
    x: (a * x + skew * y) / px,
    y: (b * y + drive(0, y)) / px,
  });
  const turn = Math.PI / 2 + random.normal(0.01);
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  const [scaleX, scaleY] = [1 + random.normal(0.002), 1 + random.normal(0.002)];
  /** From the strip's frame to the glass, whose y runs down. */
  const glass = (x: number, y: number): [number, number] => {
    const [u, v] = [x - STRIP.widthMm / 2, y - STRIP.heightMm / 2];
    return [30 + c * u - s * v, 148 - (s * u + c * v)];
  };
  const [offX, offY] = [0, 1].map(() => waves(random, STRIP_MM, 70, 260));
  const ink = (x: number, y: number): [number, number] => [
    scaleX * x + offX!(x, y),
    scaleY * y + offY!(x, y),
  ];
  const marks = vertices(STRIP).map(({ i, j }) => {
    const design = sheetVertex(STRIP, i, j);
    const p = pixel(...glass(...ink(design.x, design.y)));
    return {
      i,
      j,
      design,
      picture: { x: p.x + random.normal(CORNER_PX), y: p.y + random.normal(CORNER_PX) },
    };
  });
  const spansMm = Object.fromEntries(
    STRIP.spans.map(({ id, from, to }) => {
      const [p, q] = [ink(from.x, from.y), ink(to.x, to.y)];
      return [id, Math.hypot(q[0] - p[0], q[1] - p[1]) + random.normal(0.01)];
    }),
  );
  const seenMarks = {
    sheet: STRIP,
    marks,
    riders: [],
    expected: marks.length,
    blurPx: 0.7,
    reasons: [],
  };
  const meta = {
    format: 'png' as const,
    bitsPerChannel: 8,
    storedWidthPx: widthPx,
    storedHeightPx: heightPx,
    orientation: 1,
    hasExif: false,
    densityDpi: dpi,
  };
  const settings = {
    thicknessMm: [0],
    thicknessU: 0.05,
    spansMm,
    spanU: 0.01,
    riderSpansMm: {},
    riderSpanU: 0.03,
    wantMm: 100,
    dpiShare: DPI_SHARE,
  };
  const view = calibrateScan(seenMarks, meta, widthPx, heightPx, settings);
  const best = scanKnowing(seenMarks, widthPx, heightPx, settings, {
    feedMm: driveMm,
    printErrorMm: STRIP_MM,
    cornerPx: CORNER_PX,
  });
  // The blank lies to the right of the strip; its frame is the strip's.
  const truth = blob(random, { x: 100 + random.between(-20, 20), y: -75 });
  const through = ({ x, y }: Point<'sheet'>): Point<'picture'> => pixel(...glass(x, y));
  const curve = curveOf(view, truth.map(through));
  const pictures = found(random, truth, view.mmPerPx, curve).map(through);
  return {
    score: scored(seeing(view, pictures, curve), truth),
    boundMm: rms(uOf(seeing(best, pictures, curve))),
  };
}

const between = (seed: number, low: number, high: number): number =>
  new Random(seed * 101 + 3).between(low, high);

/** Case number `seed` of a row of the table. */
export const SIMULATED: Readonly<Record<RowId, (seed: number) => SimulatedCase>> = {
  'rigid-thin': (seed) =>
    photo({ seed, height: 0.8, printError: RIGID_MM, bow: 0, fKnown: F_KNOWN }),
  'rider-paper': (seed) =>
    photo({
      seed,
      height: between(seed, 5, 40),
      printError: PAPER_MM,
      bow: 0.05,
      fKnown: F_KNOWN,
      rider: 50,
    }),
  'rider-rigid': (seed) =>
    photo({
      seed,
      height: between(seed, 5, 40),
      printError: RIGID_MM,
      bow: 0,
      fKnown: F_KNOWN,
      rider: 50,
    }),
  'lens-10': (seed) =>
    photo({ seed, height: 10, printError: RIGID_MM, bow: 0, fKnown: F_KNOWN }, true),
  'lens-thick': (seed) =>
    photo(
      { seed, height: between(seed, 20, 40), printError: RIGID_MM, bow: 0, fKnown: F_KNOWN },
      true,
    ),
  several,
  bowed: (seed) => photo({ seed, height: 0.8, printError: PAPER_MM, bow: 0.3, fKnown: F_KNOWN }),
  'scan-300': (seed) => scan(300, seed),
  'scan-600': (seed) => scan(600, seed),
};
