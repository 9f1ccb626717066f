import type { Point } from '../base/measure.ts';
import { silent, type Progress } from '../base/progress.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { Picture } from '../picture/picture.ts';
import { isBlack } from '../sheet/code.ts';
import type { SheetDesign } from '../sheet/design.ts';
import { sheetVertex, STRIP } from '../sheet/layout.ts';
import type { Vision } from '../vision/cv.ts';
import { homography, mapped } from '../vision/homography.ts';
import { greenPlane, pictureOfPlane } from '../vision/luma.ts';
import { blurOf } from './blur.ts';
import { readCells, type Cell } from './cells.ts';
import { BELIEVED, placeInCutOut, turned } from './identify.ts';
import { plainHomography } from './lens.ts';
import { believable, crossed, findMarks, lookAt, vertices, type Look } from './marks.ts';
import { Refiner, type Corner } from './refine.ts';
import type { FoundMarks, Mark } from './view.ts';

/** A check of the strip should be about this long where it is looked for, px. */
const PITCH_PX = 11;
/** Marks needed before a strip is spoken of. */
const LEAST_MARKS = 24;
const LEAST_FRAGMENT = 12;

const CUT_OUT = {
  columns: STRIP.columns,
  rows: STRIP.rows,
  fieldI: STRIP.field!.i,
  fieldJ: STRIP.field!.j,
};

/**
 * Finds the strip of marks or, where there is none, the reference sheet in a scan, and measures their corners at full size.
 * Nothing is identified whose agreement could be chance by more than one in 10^8.
 *
 * @param dpiHint a density that says at which scale to look first; anything is looked for all the same
 * @throws Refusal `no-strip`, `strip-mirrored`, and what `findMarks` refuses where it is a sheet
 */
export function findScanMarks(
  vision: Vision,
  picture: Picture,
  dpiHint: number | undefined,
  progress: Progress = silent,
): FoundMarks {
  progress('find marks', 0, 3);
  let mirrored = false;
  for (const factor of factorsFor(picture, dpiHint)) {
    const look = lookAt(vision, greenPlane(picture, factor));
    const found = placedIn(look);
    mirrored ||= found.mirrored;
    if (found.places.length < LEAST_FRAGMENT) continue;
    progress('find marks', 2, 3);
    const marks = measure(vision, picture, STRIP, found.places);
    progress('find marks', 3, 3);
    if (marks.length < LEAST_MARKS) continue;
    return describe(picture, STRIP, marks);
  }
  if (mirrored) throw new Refusal('strip-mirrored');
  try {
    return findMarks(vision, picture, progress);
  } catch (error) {
    if (error instanceof Refusal && error.reason.code === 'no-sheet') throw new Refusal('no-strip');
    throw error;
  }
}

/** Scales at which to look, the likeliest first. */
function factorsFor({ widthPx, heightPx }: Picture, dpiHint: number | undefined): number[] {
  const long = Math.max(widthPx, heightPx);
  // A strip that is as long as the picture has about 50 checks along it.
  const likely =
    dpiHint === undefined ? long / 50 / PITCH_PX : ((dpiHint / 25.4) * STRIP.pitchMm) / PITCH_PX;
  const first = Math.max(1, Math.round(likely));
  const all = [first, Math.round(first / 2), first * 2, Math.round(first / 4)];
  return [...new Set(all.filter((f) => f >= 1 && long / f > 60))];
}

interface Placed {
  readonly i: number;
  readonly j: number;
  readonly picture: Point<'picture'>;
}

/** Vertices of all fragments that belong to the strip, and whether one does as its mirror image. */
function placedIn(look: Look): { places: Placed[]; mirrored: boolean } {
  const { plane, saddles, fragments } = look;
  const places: Placed[] = [];
  let mirrored = false;
  for (const fragment of fragments) {
    if (fragment.vertices.length < LEAST_FRAGMENT) break;
    const cells = readCells(plane, fragment, saddles);
    if (cells.length < 20) continue;
    const found = placeInCutOut(cells, [CUT_OUT]);
    if (!found || found.placement.log10Chance > BELIEVED) {
      const turnedOver = cells.map((c): Cell => ({ ...c, a: c.b, b: c.a }));
      const other = placeInCutOut(turnedOver, [CUT_OUT]);
      if (other && other.placement.log10Chance < BELIEVED) mirrored = true;
      continue;
    }
    const { turns, i: di, j: dj } = found.placement;
    for (const { a, b, saddle } of fragment.vertices) {
      const [i, j] = turned(turns, a, b);
      places.push({
        i: i + di,
        j: j + dj,
        picture: pictureOfPlane(plane, saddles.x[saddle]!, saddles.y[saddle]!),
      });
    }
  }
  return { places, mirrored };
}

/** Every corner of the design, looked for where the ones identified so far let it be expected. */
function measure(
  vision: Vision,
  picture: Picture,
  design: SheetDesign,
  places: readonly Placed[],
): Mark[] {
  const interleaved = (points: readonly Point<'sheet' | 'picture'>[]): Float64Array =>
    Float64Array.from(points.flatMap((p) => [p.x, p.y]));
  const from = interleaved(places.map(({ i, j }) => sheetVertex(design, i, j)));
  const to = interleaved(places.map((p) => p.picture));
  const found = homography(vision, from, to, 4);
  if (!found) return [];
  const refiner = new Refiner(picture);
  const all = vertices(design);
  let map = found.h;
  let marks: Mark[] = [];
  // Twice: what was seen of a part of the strip is carried on to the rest.
  for (let round = 0; round < 2; round++) {
    const measured: { mark: Mark; corner: Corner }[] = [];
    for (const { i, j } of all) {
      const at = sheetVertex(design, i, j);
      const start = mapped(map, at.x, at.y);
      const right = mapped(map, at.x + design.pitchMm, at.y);
      const up = mapped(map, at.x, at.y + design.pitchMm);
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
      measured.push({ mark: { i, j, picture: corner.at, design: at }, corner });
    }
    marks = believable(measured);
    if (marks.length < LEAST_MARKS) return marks;
    map = plainHomography(
      interleaved(marks.map((m) => m.design)),
      interleaved(marks.map((m) => m.picture)),
    );
  }
  return marks;
}

/** Blur as a share of the pitch beyond which a scan is doubted: the glass is dirty, or the item keeps the strip off it. */
const BLUR_DOUBTED = 0.05;

function describe(picture: Picture, sheet: SheetDesign, marks: readonly Mark[]): FoundMarks {
  const blur = blurOf(picture, marks);
  const reasons: Reason[] = [];
  if (blur && blur.sigmaPx > BLUR_DOUBTED * blur.pitchPx) {
    reasons.push(
      reason('scan-blurred', {
        blurPx: Number(blur.sigmaPx.toFixed(1)),
        percent: Math.round((100 * blur.sigmaPx) / blur.pitchPx),
      }),
    );
  }
  return {
    sheet,
    marks,
    riders: [],
    expected: vertices(sheet).length,
    blurPx: blur?.sigmaPx ?? 0.7,
    reasons,
  };
}
