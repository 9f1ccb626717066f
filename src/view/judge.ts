import type { Point } from '../base/measure.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { PictureMeta } from '../picture/picture.ts';
import type { SheetDesign } from '../sheet/design.ts';
import type { Sizes, SpansMisfit } from './adjust.ts';
import { sizeChanged, type LensPrior } from './lens.ts';
import { bowAt } from './model.ts';
import { faceUncertainty } from './modes.ts';
import type { FoundMarks, Mark, PhotoView, View } from './view.ts';

/** A face known worse than this many times the tolerance is refused; worse than once, doubted (the verdicts' own factors). */
const REFUSED = 3;
/** Thickness from which the camera's place matters, mm. */
export const THICK_MM = 2;
const FEW = 0.5;
/** A side of the border with fewer of its marks than this share counts as missing. */
const SIDE_SEEN = 0.1;
const BOW_DOUBTED_MM = 0.5;
const RESIDUAL_DOUBTED_MM = 0.05;
const CROPPED = 0.02;

/**
 * What one calibrated picture gives reason to say: warnings, in the order in which they should be read.
 *
 * @throws Refusal `picture-composed`, `marks-one-side-only`, `view-too-uncertain`, `thickness-reaches-camera`
 */
export function judge(
  view: PhotoView,
  found: FoundMarks,
  meta: PictureMeta,
  prior: LensPrior,
  sizes: Sizes,
  spans?: SpansMisfit,
): Reason[] {
  const kept = found.marks.filter((_, m) => view.residuals[m]!.kept);
  return [
    ...refused(marksReasons(found, kept)),
    ...refused(fileReasons(meta)),
    ...pictureReasons(view, prior),
    ...sheetReasons(view, sizes),
    ...spansReasons(spans),
    ...faceReasons(view),
  ];
}

/** @throws Refusal with the first of them that refuses */
function refused(reasons: readonly Reason[]): readonly Reason[] {
  const worst = reasons.find((r) => r.level === 'refuse');
  if (worst) throw new Refusal(worst.code, worst.facts);
  return reasons;
}

const SIDES = ['bottom', 'right', 'top', 'left'] as const;

/** On which sides of the border a vertex lies. */
function sidesOf(sheet: SheetDesign, i: number, j: number): boolean[] {
  const { bandCells: b, columns, rows } = sheet;
  return [j < b, i > columns - b, j > rows - b, i < b];
}

/** What the marks that count leave to be wished for. */
export function marksReasons(
  { sheet, expected }: Pick<FoundMarks, 'sheet' | 'expected'>,
  kept: readonly Pick<Mark, 'i' | 'j'>[],
): Reason[] {
  const out: Reason[] = [];
  const seen = [0, 0, 0, 0];
  for (const { i, j } of kept) sidesOf(sheet, i, j).forEach((on, k) => on && seen[k]!++);
  const { columns, rows, bandCells } = sheet;
  const missing = SIDES.filter(
    (_, k) => seen[k]! < SIDE_SEEN * (k % 2 ? rows : columns) * (bandCells - 1),
  );
  if (missing.length >= 3) out.push(reason('marks-one-side-only', { sides: missing.join(', ') }));
  else if (missing.length > 0) out.push(reason('marks-one-sided', { sides: missing.join(', ') }));
  if (kept.length < FEW * expected) {
    out.push(reason('marks-few', { found: kept.length, expected }));
  }
  return out;
}

/** What the file itself says against the picture. */
export function fileReasons(meta: PictureMeta): Reason[] {
  const out: Reason[] = [];
  if (meta.composed) out.push(reason('picture-composed', { how: meta.composed }));
  if (!meta.hasExif) out.push(reason('no-exif'));
  if (sizeChanged(meta)) {
    out.push(
      reason('picture-scaled', {
        widthPx: meta.storedWidthPx,
        heightPx: meta.storedHeightPx,
        exifWidthPx: meta.exifWidthPx!,
        exifHeightPx: meta.exifHeightPx!,
      }),
    );
  }
  return out;
}

function pictureReasons(view: PhotoView, prior: LensPrior): Reason[] {
  const out: Reason[] = [];
  const off = Math.hypot(view.eye.cxPx - prior.cxPx, view.eye.cyPx - prior.cyPx);
  const long = Math.max(view.widthPx, view.heightPx);
  const at = view.names.indexOf('cx');
  const variance = view.modes.reduce((s, m) => s + m.delta[at]! ** 2 + m.delta[at + 1]! ** 2, 0);
  if (off > CROPPED * long && off > 2 * Math.sqrt(variance)) {
    out.push(
      reason('picture-cropped', {
        offPx: Math.round(off),
        offPercent: fixed((100 * off) / long, 1),
      }),
    );
  }
  const { wantMm } = view.settings;
  if (view.mmPerPx > 0.75 * wantMm) {
    out.push(reason('scale-coarse', { mmPerPx: fixed(view.mmPerPx, 2), wantMm }));
  }
  return out;
}

function sheetReasons(view: View, sizes: Sizes): Reason[] {
  const out: Reason[] = [];
  const { spansMm, riderSpansMm } = view.settings;
  const missing = (['x', 'y'] as const).filter((id) => spansMm[id] === undefined);
  if (missing.length > 0) {
    out.push(
      reason('spans-missing', { spans: missing.map((id) => id.toUpperCase()).join(' and ') }),
    );
  }
  for (const size of new Set(view.riders.map((r) => r.design.sizeMm))) {
    if (riderSpansMm[size] === undefined) out.push(reason('rider-unmeasured', { riderMm: size }));
  }
  const bow = bowRange(view);
  if (bow > BOW_DOUBTED_MM) out.push(reason('sheet-not-flat', { bowMm: fixed(bow, 1) }));
  const residualMm = sizes.cornerPx * view.mmPerPx;
  if (residualMm > RESIDUAL_DOUBTED_MM) {
    out.push(
      reason('residual-unexplained', { residualMm: fixed(residualMm, 2), side: worstSide(view) }),
    );
  }
  return out;
}

/** Fewer than one good job in a thousand goes beyond so many standard uncertainties with any of three spans. */
const SPANS_CONTRADICT = 3.7;

function spansReasons(spans: SpansMisfit | undefined): Reason[] {
  if (!spans || Math.abs(spans.offMm) <= SPANS_CONTRADICT * spans.u) return [];
  return [
    reason('spans-contradict', {
      span: spans.span.toUpperCase(),
      offMm: fixed(Math.abs(spans.offMm), 2),
      way: spans.offMm > 0 ? 'longer' : 'shorter',
      uMm: fixed(2 * spans.u, 2),
    }),
  ];
}

/** Height between the highest and the lowest place of the border, mm, its mean slope taken out. */
function bowRange(view: View): number {
  const { widthMm: w, heightMm: h } = view.sheet;
  let low = Infinity;
  let high = -Infinity;
  const corner = [bow(0, 0), bow(w, 0), bow(w, h), bow(0, h)];
  const slopeX = (corner[1]! + corner[2]! - corner[0]! - corner[3]!) / (2 * w);
  const slopeY = (corner[2]! + corner[3]! - corner[0]! - corner[1]!) / (2 * h);
  function bow(x: number, y: number): number {
    return bowAt(view, view.values, { x, y });
  }
  for (let k = 0; k <= 8; k++) {
    for (const [x, y] of [
      [(k / 8) * w, 0],
      [(k / 8) * w, h],
      [0, (k / 8) * h],
      [w, (k / 8) * h],
    ] as const) {
      const z = bow(x, y) - slopeX * x - slopeY * y;
      low = Math.min(low, z);
      high = Math.max(high, z);
    }
  }
  return high - low;
}

function worstSide(view: View): string {
  const sums = [0, 0, 0, 0];
  const counts = [0, 0, 0, 0];
  const { widthMm: w, heightMm: h } = view.sheet;
  for (const { design, dx, dy, kept } of view.residuals) {
    if (!kept) continue;
    const near = [design.y / h, 1 - design.x / w, 1 - design.y / h, design.x / w];
    const side = near.indexOf(Math.min(...near));
    sums[side]! += dx * dx + dy * dy;
    counts[side]!++;
  }
  const means = sums.map((s, k) => s / Math.max(1, counts[k]!));
  return SIDES[means.indexOf(Math.max(...means))]!;
}

function faceReasons(view: PhotoView): Reason[] {
  const out: Reason[] = [];
  const { thicknessMm, wantMm } = view.settings;
  const thickest = Math.max(...thicknessMm);
  if (!(thickest < view.cameraHeightMm)) {
    throw new Refusal('thickness-reaches-camera', {
      heightMm: thickest,
      cameraHeightMm: fixed(view.cameraHeightMm, 0),
    });
  }
  thicknessMm.forEach((h, t) => {
    const { uMm, bySource } = faceUncertainty(view, t);
    if (!(uMm > wantMm)) return;
    const source = [...bySource].sort((a, b) => b[1] - a[1])[0]![0];
    const facts = { thicknessMm: h, uMm: fixed(uMm, 2), wantMm, source };
    if (uMm > REFUSED * wantMm) throw new Refusal('view-too-uncertain', facts);
    out.push(reason('view-uncertain', facts));
  });
  const { x, y } = view.foot;
  if (!aboveStage(view.sheet, view.foot) && thickest > THICK_MM) {
    out.push(reason('foot-outside', { x: fixed(x, 0), y: fixed(y, 0), thicknessMm: thickest }));
  }
  return out;
}

/** Whether a place of the sheet lies within its border. */
export function aboveStage(sheet: SheetDesign, { x, y }: Point<'sheet'>): boolean {
  const { originMm: o, bandCells, pitchMm, columns, rows } = sheet;
  const inset = bandCells * pitchMm;
  return (
    x > o.x + inset &&
    y > o.y + inset &&
    x < o.x + columns * pitchMm - inset &&
    y < o.y + rows * pitchMm - inset
  );
}

const fixed = (v: number, digits: number): number => Number(v.toFixed(digits));
