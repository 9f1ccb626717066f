import type { Point } from '../base/measure.ts';
import { reason, type Reason } from '../base/reason.ts';
import type { Picture } from '../picture/picture.ts';
import { lumaSquare } from '../vision/luma.ts';
import { mapped } from '../vision/homography.ts';
import { aboveStage, fileReasons, marksReasons, THICK_MM } from './judge.ts';
import { fitLens, lensPrior, plainHomography } from './lens.ts';
import { vertices } from './marks.ts';
import { WEAK_PX } from './photo.ts';
import { sheetVertex } from '../sheet/layout.ts';
import type { FoundMarks } from './view.ts';

/** What is said of a photo before it is measured, so that it can be taken again while the blank still lies there. */
export interface FirstLook {
  /** Above which place of the sheet the camera stood, mm; absent where the file does not say what the lens is. */
  readonly foot?: Point<'sheet'>;
  /** What the whole measurement decides anew, in its own words. */
  readonly reasons: readonly Reason[];
  /** What only this look asks for. */
  readonly light: readonly Reason[];
}

/** A neighbourhood all of which is at least so bright, grey levels, shows neither black nor white checks. */
const WASHED = 250;
/** How much of a check is looked at round a mark that is missing, to either side. */
const ROUND_MARK = 0.3;
/** From this share of the marks on it is glare, and no mere highlight on a crease. */
const GLARE_SHARE = 0.02;

/**
 * Judges a photo by its marks alone and the camera that fits the sheet as designed: a few milliseconds beside the whole
 * adjustment. Missing sides of the border, a camera that stood beside the stage, an altered file, glare; blur is among what was
 * found with the marks. Nothing said is not yet good: spans, print error and thickness have had no say.
 */
export function firstLook(picture: Picture, found: FoundMarks): FirstLook {
  const { meta, widthPx, heightPx } = picture;
  const { sheet, marks, expected } = found;
  const design = Float64Array.from(marks.flatMap((m) => [m.design.x, m.design.y]));
  const places = Float64Array.from(marks.flatMap((m) => [m.picture.x, m.picture.y]));
  const flat = plainHomography(design, places);
  const reasons = [...marksReasons(found, marks), ...fileReasons(meta)];
  const light: Reason[] = [];

  const prior = lensPrior(meta, widthPx, heightPx);
  const fit = prior.fFrom === 'nothing' ? undefined : fitLens(flat, design, places, prior, WEAK_PX);
  const [x, y] = fit?.camera.centre ?? [];
  const foot = x === undefined || y === undefined ? undefined : { x, y };
  if (foot && !aboveStage(sheet, foot))
    reasons.push(
      reason('camera-beside', {
        x: Math.round(foot.x),
        y: Math.round(foot.y),
        thickMm: THICK_MM,
      }),
    );

  const seen = new Set(marks.map(({ i, j }) => j * 4096 + i));
  let washed = 0;
  for (const { i, j } of vertices(sheet)) {
    if (seen.has(j * 4096 + i)) continue;
    const at = sheetVertex(sheet, i, j);
    const here = mapped(flat, at.x, at.y);
    const beside = mapped(flat, at.x + sheet.pitchMm, at.y);
    const half = Math.max(
      1,
      Math.round(ROUND_MARK * Math.hypot(beside.x - here.x, beside.y - here.y)),
    );
    const side = 2 * half + 1;
    const square = new Float64Array(side * side);
    const [left, top] = [Math.round(here.x) - half, Math.round(here.y) - half];
    if (lumaSquare(picture, left, top, side, square) && square.every((v) => v >= WASHED)) washed++;
  }
  if (washed > GLARE_SHARE * expected) light.push(reason('glare', { washed, expected }));
  return { ...(foot && { foot }), reasons, light };
}
