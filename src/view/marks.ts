import type { Point } from '../base/measure.ts';
import { silent, type Progress } from '../base/progress.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { Picture } from '../picture/picture.ts';
import { hasCheck, isBlack } from '../sheet/code.ts';
import type { RiderDesign, SheetDesign } from '../sheet/design.ts';
import { riderVertex, sheetVertex } from '../sheet/layout.ts';
import type { Vision } from '../vision/cv.ts';
import { homography, mapped } from '../vision/homography.ts';
import {
  greenPlane,
  pictureOfPlane,
  planeOfPicture,
  type Crop,
  type Plane,
} from '../vision/luma.ts';
import { findSaddles, type Saddles } from '../vision/saddles.ts';
import { blurOf, type Blur } from './blur.ts';
import { readCells, type Cell } from './cells.ts';
import { growFragments, type Fragment } from './grid.ts';
import {
  BELIEVED,
  placedCells,
  placeInField,
  placeInRider,
  readMessage,
  turned,
  type Expectation,
  type Placement,
} from './identify.ts';
import { fitLens, lensPrior, plainHomography, type LensFit } from './lens.ts';
import { Projector } from './projection.ts';
import { Refiner, type Corner } from './refine.ts';
import type { FoundMarks, Mark } from './view.ts';

/** The first look is at a picture about this long; finer ones follow where it does not suffice. */
const FIRST_LOOK_PX = 1100;
const LEAST_FRAGMENT = 16;
/** Marks needed before a sheet is spoken of at all. */
const LEAST_MARKS = 24;
/** Fragments that are tried at every place of the field before giving up. */
const TRIED = 8;

/** One look at the picture: what was found at one scale. */
export interface Look {
  readonly plane: Plane;
  readonly saddles: Saddles;
  readonly fragments: readonly Fragment[];
}

interface PlacedFragment {
  readonly fragment: Fragment;
  readonly cells: readonly Cell[];
  readonly placement: Placement;
}

/**
 * Finds and identifies the reference sheet and every rider in a picture, and measures their corners at full size.
 *
 * Corners are saddles (no bias under perspective); their places come from point symmetry (see Refiner). Pixel centres are
 * at integers. Nothing is identified whose agreement could be chance by more than one in 10^8.
 *
 * @throws Refusal `no-sheet`, `sheet-mirrored`, `several-sheets`, `message-unreadable`, `blurred`, `too-few-marks`
 */
export function findMarks(
  vision: Vision,
  picture: Picture,
  progress: Progress = silent,
): FoundMarks {
  const long = Math.max(picture.widthPx, picture.heightPx);
  const first = Math.max(1, 2 ** Math.round(Math.log2(long / FIRST_LOOK_PX)));
  progress('find marks', 0, 3);
  let placed: PlacedFragment[] = [];
  let look: Look | undefined;
  let mirrored = false;
  for (let factor = first; factor >= Math.max(1, first / 4); factor /= 2) {
    look = lookAt(vision, greenPlane(picture, factor));
    const found = identify(look);
    mirrored ||= found.mirrored;
    if (found.placed.length > 0) {
      placed = found.placed;
      break;
    }
  }
  if (!look || placed.length === 0) {
    throw new Refusal(mirrored ? 'sheet-mirrored' : 'no-sheet');
  }

  progress('find marks', 1, 3);
  const sheet = readSheet(picture, look, placed);
  const refiner = new Refiner(picture);
  const marks = measureSheet(vision, picture, look, placed, sheet, refiner);
  const blur = blurOf(picture, marks);
  const reasons: Reason[] = [];
  if (blur && blur.sigmaPx > BLUR_REFUSED * blur.pitchPx) {
    throw new Refusal('blurred', blurFacts(blur));
  }
  const expected = vertices(sheet).length;
  if (marks.length < LEAST_MARKS) {
    throw new Refusal('too-few-marks', { found: marks.length, expected, least: LEAST_MARKS });
  }
  if (blur && blur.sigmaPx > BLUR_DOUBTED * blur.pitchPx) {
    reasons.push(reason('blur-strong', blurFacts(blur)));
  }

  progress('find marks', 2, 3);
  const riders = findRiders(vision, picture, look, sheet, marks, refiner);
  progress('find marks', 3, 3);
  return { sheet, marks, riders, expected, blurPx: blur?.sigmaPx ?? 1, reasons };
}

/** Blur as a share of the pitch: beyond the first the picture is refused, beyond the second doubted. */
const BLUR_REFUSED = 0.14;
const BLUR_DOUBTED = 0.05;
const blurFacts = ({ sigmaPx, pitchPx }: Blur) => ({
  blurPx: Number(sigmaPx.toFixed(1)),
  percent: Math.round((100 * sigmaPx) / pitchPx),
});

export function lookAt(vision: Vision, plane: Plane): Look {
  const saddles = findSaddles(vision, plane);
  return { plane, saddles, fragments: growFragments(saddles) };
}

/** The part of a look within a crop, its fragments grown anew. */
function lookAgain({ plane, saddles }: Look, { left, top, width, height }: Crop): Look {
  const within: number[] = [];
  for (let k = 0; k < saddles.count; k++) {
    const { x, y } = pictureOfPlane(plane, saddles.x[k]!, saddles.y[k]!);
    if (x >= left && y >= top && x < left + width && y < top + height) within.push(k);
  }
  const pick = (values: Float64Array): Float64Array => Float64Array.from(within, (k) => values[k]!);
  const { x, y, bright, contrast } = saddles;
  const part = {
    count: within.length,
    x: pick(x),
    y: pick(y),
    bright: pick(bright),
    contrast: pick(contrast),
  };
  return { plane, saddles: part, fragments: growFragments(part) };
}

/**
 * Places the fragments of one look in the sheets' code field: the first anywhere, the others where it lets them be expected,
 * so that shorter ones are placed as well. A large fragment that is placed elsewhere is another sheet.
 */
function identify(look: Look): { placed: PlacedFragment[]; mirrored: boolean } {
  const { plane, saddles, fragments } = look;
  const placed: PlacedFragment[] = [];
  const strangers: PlacedFragment[] = [];
  let mirrored = false;
  let tried = 0;
  for (const fragment of fragments) {
    const large = fragment.vertices.length >= LEAST_FRAGMENT;
    if (placed.length === 0 && (!large || tried >= TRIED)) break;
    if (fragment.vertices.length < LEAST_NEIGHBOUR) break;
    const cells = readCells(plane, fragment, saddles);
    if (cells.length < 12) continue;
    if (placed.length > 0) {
      const expected = expectation(saddles, placed, fragment);
      const near = expected && placeInField(cells, expected);
      if (near && near.log10Chance < NEIGHBOUR_BELIEVED) {
        placed.push({ fragment, cells, placement: near });
        continue;
      }
      if (fragment.vertices.length < STRANGER) continue;
    }
    tried++;
    const placement = placeInField(cells);
    if (placement && placement.log10Chance < BELIEVED) {
      const here = { fragment, cells, placement };
      if (placed.length === 0 || sameSheet(saddles, placed[0]!, here)) placed.push(here);
      else strangers.push(here);
    } else if (placed.length === 0) {
      const other = placeInField(cells.map((c) => ({ ...c, a: c.b, b: c.a })));
      if (other && other.log10Chance < BELIEVED) mirrored = true;
    }
  }
  if (strangers.length > 0) throw new Refusal('several-sheets', { count: strangers.length + 1 });
  return { placed, mirrored };
}

/** Fewest vertices of a fragment that is placed beside an identified one, and the chance agreement believed there. */
const LEAST_NEIGHBOUR = 8;
const NEIGHBOUR_BELIEVED = -4;
/** Fewest vertices of a fragment that speaks for another sheet. */
const STRANGER = 60;
/** How far a fragment may lie from where its neighbour lets it be expected, cells. */
const SLACK = 6;

/** Where a fragment should lie if it belongs to the same sheet as the placed ones: their homography, carried on. */
function expectation(
  saddles: Saddles,
  placed: readonly PlacedFragment[],
  fragment: Fragment,
): Expectation | undefined {
  const known = placed.flatMap((p) => gridPlaces(saddles, p));
  const inverse = plainHomography(
    Float64Array.from(known.flatMap((k) => [k.x, k.y])),
    Float64Array.from(known.flatMap((k) => [k.i, k.j])),
  );
  // Turn and shift that take the fragment's own lattice closest to the expected places.
  const n = fragment.vertices.length;
  const target = fragment.vertices.map(({ saddle }) =>
    mapped(inverse, saddles.x[saddle]!, saddles.y[saddle]!),
  );
  const mean = (f: (k: number) => number): number =>
    fragment.vertices.reduce((s, _, k) => s + f(k), 0) / n;
  const [ma, mb] = [mean((k) => fragment.vertices[k]!.a), mean((k) => fragment.vertices[k]!.b)];
  const [mi, mj] = [mean((k) => target[k]!.x), mean((k) => target[k]!.y)];
  let re = 0;
  let im = 0;
  fragment.vertices.forEach(({ a, b }, k) => {
    const [x, y] = [target[k]!.x - mi, target[k]!.y - mj];
    re += x * (a - ma) + y * (b - mb);
    im += y * (a - ma) - x * (b - mb);
  });
  if (!Number.isFinite(mi + mj + re + im)) return undefined;
  const turns = Math.round(Math.atan2(im, re) / (Math.PI / 2)) & 3;
  const [ti, tj] = turned(turns, ma, mb);
  return { turns, i: Math.round(mi - ti), j: Math.round(mj - tj), slack: SLACK };
}

/** Vertices of a placed fragment, in the sheet's grid and in the plane. */
const gridPlaces = (
  saddles: Saddles,
  { fragment, placement: p }: PlacedFragment,
): { i: number; j: number; x: number; y: number }[] =>
  fragment.vertices.map(({ a, b, saddle }) => {
    const [i, j] = turned(p.turns, a, b);
    return { i: i + p.i, j: j + p.j, x: saddles.x[saddle]!, y: saddles.y[saddle]! };
  });

/** Whether two placed fragments can be parts of one flat sheet: one homography takes both to within a cell and a half. */
function sameSheet(saddles: Saddles, p: PlacedFragment, q: PlacedFragment): boolean {
  const both = [p, q].map((f) => gridPlaces(saddles, f));
  const all = both.flat();
  const inverse = plainHomography(
    Float64Array.from(all.flatMap((k) => [k.x, k.y])),
    Float64Array.from(all.flatMap((k) => [k.i, k.j])),
  );
  return both.every((places) => {
    const off = places.map((k) => {
      const m = mapped(inverse, k.x, k.y);
      return Math.hypot(m.x - k.i, m.y - k.j);
    });
    off.sort((a, b) => a - b);
    return off[off.length >> 1]! < 1.5;
  });
}

/** The sheet by its message: first as seen in the look, then with the bits read again at full size. */
function readSheet(picture: Picture, look: Look, placed: readonly PlacedFragment[]): SheetDesign {
  let unread = 0;
  for (let factor = look.plane.factor; factor >= 1; factor /= 2) {
    const plane = factor === look.plane.factor ? look.plane : greenPlane(picture, factor);
    const cells = placed.flatMap(({ fragment, placement }) =>
      placedCells(
        readCells(plane, fragment, look.saddles, (x, y) =>
          planeOfPicture(plane, pictureOfPlane(look.plane, x, y)),
        ),
        placement,
      ),
    );
    const message = readMessage(cells);
    if (message.sheet) return message.sheet;
    unread = message.unread;
  }
  const blur = blurOf(picture, crude(look, placed));
  // A sheet that is there but not to be read for blur is a blurred picture.
  if (blur && blur.sigmaPx > BLUR_DOUBTED * blur.pitchPx)
    throw new Refusal('blurred', blurFacts(blur));
  throw new Refusal('message-unreadable', { unread });
}

/** Marks as the look saw them, not refined. */
function crude(
  look: Look,
  placed: readonly PlacedFragment[],
): { i: number; j: number; picture: Point<'picture'> }[] {
  return placed.flatMap(({ fragment, placement: p }) =>
    fragment.vertices.map(({ a, b, saddle }) => {
      const [i, j] = turned(p.turns, a, b);
      return {
        i: i + p.i,
        j: j + p.j,
        picture: pictureOfPlane(look.plane, look.saddles.x[saddle]!, look.saddles.y[saddle]!),
      };
    }),
  );
}

/** Every vertex of a sheet where four checks meet. */
export function vertices(sheet: SheetDesign): { i: number; j: number }[] {
  const out: { i: number; j: number }[] = [];
  for (let j = 1; j < sheet.rows; j++) {
    for (let i = 1; i < sheet.columns; i++) {
      if (
        hasCheck(sheet, i, j) &&
        hasCheck(sheet, i - 1, j) &&
        hasCheck(sheet, i, j - 1) &&
        hasCheck(sheet, i - 1, j - 1)
      ) {
        out.push({ i, j });
      }
    }
  }
  return out;
}

/**
 * Measures every corner of the identified sheet at full size: a camera fitted robustly to the corners identified so far
 * says where the others must be, so that a lattice that slipped a row somewhere does no harm and corners in fragments too
 * small to be identified are found as well.
 */
function measureSheet(
  vision: Vision,
  picture: Picture,
  look: Look,
  placed: readonly PlacedFragment[],
  sheet: SheetDesign,
  refiner: Refiner,
): Mark[] {
  const prior = lensPrior(picture.meta, picture.widthPx, picture.heightPx);
  const known = new Map<number, { i: number; j: number; picture: Point<'picture'> }>();
  const key = (i: number, j: number): number => j * 4096 + i;
  const all = vertices(sheet);
  const legal = new Set(all.map(({ i, j }) => key(i, j)));
  for (const { i, j, picture: at } of crude(look, placed)) {
    if (legal.has(key(i, j)) && !known.has(key(i, j))) known.set(key(i, j), { i, j, picture: at });
  }
  const { plane, saddles } = look;
  const seen = new SaddleIndex(plane, saddles);
  let fit: LensFit | undefined;
  // Twice: the first camera may rest on one side of the border only.
  for (let round = 0; round < 3; round++) {
    const at = [...known.values()];
    if (at.length < 8)
      throw new Refusal('too-few-marks', {
        found: at.length,
        expected: all.length,
        least: LEAST_MARKS,
      });
    const design = designOf(sheet, at);
    const places = placesOf(at);
    const start = homography(vision, design, places, 12);
    fit = start && fitLens(start.h, design, places, prior, 1);
    if (!fit) throw new Refusal('no-sheet');
    const { values, reference } = fit;
    // What a flat sheet and a lens do not explain (curl) is taken from the neighbours.
    const local = new LocalMisfit(at, fit, sheet);
    const projector = new Projector(values, reference);
    const before = known.size;
    known.clear();
    for (const { i, j } of all) {
      const d = sheetVertex(sheet, i, j);
      if (!projector.project(d.x, d.y, 0, true)) continue;
      const pitch = pitchAt(projector, sheet.pitchMm);
      const off = local.at(i, j);
      const guess = { x: projector.u + off.x, y: projector.v + off.y };
      const bright = brightAt(projector, i, j);
      const saddle = seen.near(guess, 0.35 * pitch, bright);
      if (saddle) known.set(key(i, j), { i, j, picture: saddle });
    }
    if (round > 0 && known.size <= before * 1.02) break;
  }
  const { values, reference } = fit!;
  const at = [...known.values()];
  const local = new LocalMisfit(at, fit!, sheet);
  const projector = new Projector(values, reference);
  const measured: Measured[] = [];
  for (const { i, j } of all) {
    const design = sheetVertex(sheet, i, j);
    if (!projector.project(design.x, design.y, 0, true)) continue;
    const pitch = pitchAt(projector, sheet.pitchMm);
    const off = local.at(i, j);
    const start = known.get(key(i, j))?.picture ?? {
      x: projector.u + off.x,
      y: projector.v + off.y,
    };
    const corner = refiner.corner(start, pitch, Math.max(1.5, 0.12 * pitch));
    if (!corner || crossed(corner.bright, brightAt(projector, i, j))) continue;
    const misfit = { x: corner.at.x - projector.u, y: corner.at.y - projector.v };
    measured.push({ mark: { i, j, picture: corner.at, design }, corner, pitch, misfit });
  }
  return believable(inCompany(inCompany(measured)));
}

interface Measured {
  readonly mark: Mark;
  readonly corner: Corner;
  /** Length of a check's side here, px. */
  readonly pitch: number;
  /** From where the fitted camera has it, px. */
  readonly misfit: Point<'picture'>;
}

/** How far neighbours may differ in their misfit: what lens and curl leave changes slowly along the border. */
const COMPANY_PITCH = 0.03;
const COMPANY_LEAST_PX = 0.5;
const COMPANY_CELLS = 3;

/**
 * Leaves out corners whose misfit is unlike that of most of their neighbours: found on what covers the sheet, or where its
 * edge crosses a check.
 */
function inCompany(measured: readonly Measured[]): Measured[] {
  const at = new Map(measured.map((m) => [m.mark.j * 4096 + m.mark.i, m]));
  return measured.filter(({ mark: { i, j }, misfit, pitch }) => {
    const most = Math.max(COMPANY_LEAST_PX, COMPANY_PITCH * pitch);
    let near = 0;
    let alike = 0;
    for (let dj = -COMPANY_CELLS; dj <= COMPANY_CELLS; dj++) {
      for (let di = -COMPANY_CELLS; di <= COMPANY_CELLS; di++) {
        const other = di || dj ? at.get((j + dj) * 4096 + i + di) : undefined;
        if (!other) continue;
        near++;
        if (Math.hypot(other.misfit.x - misfit.x, other.misfit.y - misfit.y) < most) alike++;
      }
    }
    return 2 * alike > near;
  });
}

/** Leaves out corners in glare or at an occluder's edge: little contrast, or far from point-symmetric. */
export function believable<F extends 'sheet' | 'rider'>(
  measured: readonly { mark: Mark<F>; corner: Corner }[],
): Mark<F>[] {
  const contrasts = measured.map((m) => m.corner.contrast).sort((p, q) => p - q);
  const usual = contrasts[contrasts.length >> 1] ?? 0;
  return measured
    .filter(({ corner: c }) => c.contrast > 0.12 * usual && c.asymmetry < 0.25 * c.contrast)
    .map((m) => m.mark);
}

const designOf = (sheet: SheetDesign, at: readonly { i: number; j: number }[]): Float64Array =>
  Float64Array.from(
    at.flatMap(({ i, j }) => {
      const d = sheetVertex(sheet, i, j);
      return [d.x, d.y];
    }),
  );
const placesOf = (at: readonly { picture: Point<'picture'> }[]): Float64Array =>
  Float64Array.from(at.flatMap(({ picture: p }) => [p.x, p.y]));

/** Length in px of one check's side at the projector's last point: the geometric mean of both directions. */
const pitchAt = ({ ux, vx }: Projector, pitchMm: number): number =>
  pitchMm * Math.sqrt(Math.abs(ux[0]! * vx[1]! - ux[1]! * vx[0]!));

/** Direction of the bright diagonal that a vertex must have, from the projector's last point. */
function brightAt({ ux, vx }: Projector, i: number, j: number): number {
  // Cell (i, j), to the upper right of vertex (i, j), is black when i + j is even; then the other diagonal is bright.
  const s = isBlack(i, j) ? -1 : 1;
  return Math.atan2(vx[0]! + s * vx[1]!, ux[0]! + s * ux[1]!);
}

/** Whether two diagonals are farther apart than 45 degrees. */
export const crossed = (a: number, b: number): boolean => Math.cos(2 * (a - b)) < 0;

/** Saddles of a look by place in the picture. */
class SaddleIndex {
  private readonly buckets = new Map<number, { at: Point<'picture'>; bright: number }[]>();
  constructor(
    plane: Plane,
    saddles: Saddles,
    private readonly cell = 64,
  ) {
    for (let k = 0; k < saddles.count; k++) {
      const at = pictureOfPlane(plane, saddles.x[k]!, saddles.y[k]!);
      const key = this.key(Math.floor(at.x / cell), Math.floor(at.y / cell));
      const list = this.buckets.get(key);
      const entry = { at, bright: saddles.bright[k]! };
      if (list) list.push(entry);
      else this.buckets.set(key, [entry]);
    }
  }
  private key(i: number, j: number): number {
    return i * 65536 + j;
  }
  near(p: Point<'picture'>, reach: number, bright: number): Point<'picture'> | undefined {
    let best: Point<'picture'> | undefined;
    let least = reach;
    const c = this.cell;
    for (let i = Math.floor((p.x - reach) / c); i <= Math.floor((p.x + reach) / c); i++) {
      for (let j = Math.floor((p.y - reach) / c); j <= Math.floor((p.y + reach) / c); j++) {
        for (const s of this.buckets.get(this.key(i, j)) ?? []) {
          const d = Math.hypot(s.at.x - p.x, s.at.y - p.y);
          if (d < least && !crossed(s.bright, bright)) {
            least = d;
            best = s.at;
          }
        }
      }
    }
    return best;
  }
}

/** Mean misfit of the corners near a vertex against the fitted camera; robust against slipped ones. */
class LocalMisfit {
  private readonly sums = new Map<number, { n: number; x: number; y: number }>();
  constructor(
    at: readonly { i: number; j: number; picture: Point<'picture'> }[],
    fit: LensFit,
    sheet: SheetDesign,
  ) {
    const p = new Projector(fit.values, fit.reference);
    for (const { i, j, picture } of at) {
      const d = sheetVertex(sheet, i, j);
      if (!p.project(d.x, d.y, 0, true)) continue;
      const x = picture.x - p.u;
      const y = picture.y - p.v;
      if (Math.hypot(x, y) > 0.4 * pitchAt(p, sheet.pitchMm)) continue;
      const key = (i >> 2) * 1024 + (j >> 2);
      const sum = this.sums.get(key) ?? { n: 0, x: 0, y: 0 };
      sum.n++;
      sum.x += x;
      sum.y += y;
      this.sums.set(key, sum);
    }
  }
  at(i: number, j: number): { x: number; y: number } {
    for (let reach = 0; reach < 4; reach++) {
      let n = 0,
        x = 0,
        y = 0;
      for (let a = (i >> 2) - reach; a <= (i >> 2) + reach; a++) {
        for (let b = (j >> 2) - reach; b <= (j >> 2) + reach; b++) {
          const s = this.sums.get(a * 1024 + b);
          if (!s) continue;
          n += s.n;
          x += s.x;
          y += s.y;
        }
      }
      if (n >= 3) return { x: x / n, y: y / n };
    }
    return { x: 0, y: 0 };
  }
}

/** Margin about the stage in which riders are looked for: raised ones appear farther out. */
const STAGE_MARGIN = 0.12;
/** A rider's check should be about this long where it is looked for, plane px. */
const RIDER_PITCH_PX = 7.5;
const LEAST_RIDER_PITCH_MM = 2.6;

/** Finds riders on and around the stage, at a scale fine enough for the smallest: in `first`, where that is. */
function findRiders(
  vision: Vision,
  picture: Picture,
  first: Look,
  sheet: SheetDesign,
  marks: readonly Mark[],
  refiner: Refiner,
): FoundMarks['riders'] {
  const found = homography(vision, designOf(sheet, marks), placesOf(marks), 10);
  if (!found) return [];
  const { originMm: o, bandCells, columns, rows, pitchMm } = sheet;
  const inset = bandCells * pitchMm;
  const corners = [
    mapped(found.h, o.x + inset, o.y + inset),
    mapped(found.h, o.x + columns * pitchMm - inset, o.y + inset),
    mapped(found.h, o.x + columns * pitchMm - inset, o.y + rows * pitchMm - inset),
    mapped(found.h, o.x + inset, o.y + rows * pitchMm - inset),
  ];
  const pxPerMm =
    Math.hypot(corners[0]!.x - corners[2]!.x, corners[0]!.y - corners[2]!.y) /
    Math.hypot(columns * pitchMm - 2 * inset, rows * pitchMm - 2 * inset);
  const ideal = (pxPerMm * LEAST_RIDER_PITCH_MM) / RIDER_PITCH_PX;
  const factor = Math.max(1, Math.floor(ideal));
  const crop = around(corners, picture);
  if (crop.width < 16 * factor || crop.height < 16 * factor) return [];
  const look =
    factor === first.plane.factor
      ? lookAgain(first, crop)
      : lookAt(vision, greenPlane(picture, factor, crop));
  const riders: { design: RiderDesign; marks: Mark<'rider'>[] }[] = [];
  for (const fragment of look.fragments) {
    if (fragment.vertices.length < 8) break;
    const cells = readCells(look.plane, fragment, look.saddles);
    if (cells.length < 20) continue;
    const best = placeInRider(cells);
    if (!best || best.placement.log10Chance > BELIEVED) continue;
    const riderMarks = measureRider(vision, look, fragment, best.rider, best.placement, refiner);
    // A lattice that broke in two gives the same rider twice.
    const again = riders.some((r) => r.design === best.rider && alike(r.marks, riderMarks));
    if (riderMarks.length >= 12 && !again) riders.push({ design: best.rider, marks: riderMarks });
  }
  return riders;
}

/** Whether two sets of marks lie in one place. */
function alike(a: readonly Mark<'rider'>[], b: readonly Mark<'rider'>[]): boolean {
  return a.some((m) =>
    b.some(
      (o) =>
        o.i === m.i &&
        o.j === m.j &&
        Math.hypot(o.picture.x - m.picture.x, o.picture.y - m.picture.y) < SAME_MARK_PX,
    ),
  );
}
const SAME_MARK_PX = 2;

function around(corners: readonly Point<'picture'>[], picture: Picture): Crop {
  const xs = corners.map((c) => c.x);
  const ys = corners.map((c) => c.y);
  const margin =
    STAGE_MARGIN * Math.max(Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys));
  const left = Math.max(0, Math.floor(Math.min(...xs) - margin));
  const top = Math.max(0, Math.floor(Math.min(...ys) - margin));
  const right = Math.min(picture.widthPx, Math.ceil(Math.max(...xs) + margin));
  const bottom = Math.min(picture.heightPx, Math.ceil(Math.max(...ys) + margin));
  return { left, top, width: Math.max(0, right - left), height: Math.max(0, bottom - top) };
}

function measureRider(
  vision: Vision,
  look: Look,
  fragment: Fragment,
  rider: RiderDesign,
  placement: Placement,
  refiner: Refiner,
): Mark<'rider'>[] {
  const at = fragment.vertices.map(({ a, b, saddle }) => {
    const [i, j] = turned(placement.turns, a, b);
    return {
      design: riderVertex(rider, i + placement.i, j + placement.j),
      picture: pictureOfPlane(look.plane, look.saddles.x[saddle]!, look.saddles.y[saddle]!),
    };
  });
  const found = homography(
    vision,
    Float64Array.from(at.flatMap(({ design: d }) => [d.x, d.y])),
    placesOf(at),
    3,
  );
  if (!found) return [];
  const measured: { mark: Mark<'rider'>; corner: Corner }[] = [];
  for (let j = 1; j < rider.cells; j++) {
    for (let i = 1; i < rider.cells; i++) {
      const design = riderVertex(rider, i, j);
      const start = mapped(found.h, design.x, design.y);
      const right = mapped(found.h, design.x + rider.pitchMm, design.y);
      const up = mapped(found.h, design.x, design.y + rider.pitchMm);
      const s = isBlack(i, j) ? -1 : 1;
      const bright = Math.atan2(
        right.y - start.y + s * (up.y - start.y),
        right.x - start.x + s * (up.x - start.x),
      );
      const pitch = Math.sqrt(
        Math.abs((right.x - start.x) * (up.y - start.y) - (right.y - start.y) * (up.x - start.x)),
      );
      const corner = refiner.corner(start, pitch, Math.max(1.5, 0.12 * pitch));
      if (!corner || crossed(corner.bright, bright)) continue;
      measured.push({ mark: { i, j, picture: corner.at, design }, corner });
    }
  }
  return believable(measured);
}
