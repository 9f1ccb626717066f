import { fitOf, type LooseKind } from '../after/lying.ts';
import type { LoadPhoto } from '../after/loose.ts';
import { silent, type Progress } from '../base/progress.ts';
import { Refusal, type Reason } from '../base/reason.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { centroid, mapRegion } from '../geometry/measure.ts';
import type { CurvesOfMask } from '../outline/mask-curves.ts';
import type { Outline, TraceSettings } from '../outline/outline.ts';
import { boxRound, type PictureBox } from '../outline/pictured.ts';
import { trace } from '../outline/trace.ts';
import type { Picture } from '../picture/picture.ts';
import type { BedSettings } from '../plan/plan.ts';
import { pictureOf } from '../view/model.ts';
import { viewsOf, type PhotoSettings } from '../view/profile.ts';
import type { FoundMarks, PhotoView } from '../view/view.ts';
import type { Jig } from './jig.ts';
import { seatOutlines } from './seats.ts';

/**
 * The blanks of a job as kinds of pieces that are laid loose.
 *
 * @param counts how many of each were laid, by its number; one that is not named may be there in any number, one of which there are none is not looked for
 * @throws Refusal `loose-thickness`
 */
export function looseKinds(
  blanks: Jig['blanks'],
  counts: Readonly<Record<number, number>> | undefined,
): LooseKind[] {
  return blanks
    .filter(({ blank }) => counts?.[blank] !== 0)
    .map(({ blank, seat, pocket }) => {
      if (seat.thicknessMm === undefined) throw new Refusal('loose-thickness', { blank });
      // The blank frame, as its pocket has it.
      const origin = centroid(seat.region.outer);
      const us = Float64Array.from(seat.u.flatMap((ring) => [...ring])).sort();
      const count = counts?.[blank];
      return {
        blank,
        outlineId: pocket.outlineId,
        region: mapRegion<'sheet', 'blank'>(seat.region, (p) => ({
          x: p.x - origin.x,
          y: p.y - origin.y,
        })),
        edgeU: us[us.length >> 1] ?? 0,
        thicknessMm: seat.thicknessMm,
        ...(count !== undefined && { count }),
      };
    });
}

/** The heights at which a photo of such a load is traced, mm. */
export const heightsOfKinds = (kinds: readonly LooseKind[]): number[] =>
  [...new Set(kinds.map((k) => k.thicknessMm))].sort((a, b) => a - b);

/** What only says how well a shape is known: here the shape is known, and its place is asked for, with a U of its own. */
const OF_SHAPE = new Set(['outline-too-uncertain', 'view-uncertain']);

/**
 * A photo of a loaded bed: calibrated and traced at every height that its pieces have. Riders and the walls of the pieces have their
 * say in it, whichever pieces they belong to.
 *
 * @param found its marks
 * @param picture its name, for the sentences
 * @throws Refusal as the view or a trace is refused, `loose-sheet` where the marks are those of another sheet than the bed's
 */
export async function loadPhotoOf(
  { clipper, curvesOfMask }: { readonly clipper: Clipper; readonly curvesOfMask: CurvesOfMask },
  picture: Picture,
  found: FoundMarks,
  kinds: readonly LooseKind[],
  calibration: PhotoSettings,
  settings: TraceSettings,
  { widthMm, depthMm }: Pick<BedSettings, 'widthMm' | 'depthMm'>,
  name: string,
  progress: Progress = silent,
): Promise<LoadPhoto> {
  const { widthMm: w, heightMm: h } = found.sheet;
  if (Math.abs(w - widthMm) > 0.05 || Math.abs(h - depthMm) > 0.05)
    throw new Refusal('loose-sheet', {
      picture: name,
      widthMm: w,
      heightMm: h,
      bedWidthMm: widthMm,
      bedDepthMm: depthMm,
    });
  const { meta, widthPx, heightPx } = picture;
  const heights = heightsOfKinds(kinds);
  const doubts = new Map<string, Reason>();
  /** Traced with pieces as thick as they are known to be, by their numbers in this photo; all others have the first height. */
  const traceAt = async (
    firstMm: number,
    known: Readonly<Record<number, number>>,
  ): Promise<{ view: PhotoView; outlines: readonly Outline[] }> => {
    // A rider may lie on a piece of any height.
    const at = [firstMm, ...heights.filter((mm) => mm !== firstMm)];
    const photo = { found, meta, widthPx, heightPx };
    const [view] = viewsOf([photo], { ...calibration, thicknessMm: at }) as [PhotoView];
    const own = { ...settings, face: 'print' as const, thicknessMm: known, inFrame: true as const };
    const traced = await trace(clipper, curvesOfMask, picture, view, own, progress);
    const said = [...view.reasons, ...traced.reasons, ...(meta.reasons ?? [])].filter(
      ({ code }) => !OF_SHAPE.has(code),
    );
    const refused = said.find(({ level }) => level === 'refuse');
    if (refused) throw new Refusal(refused.code, refused.facts);
    for (const one of said)
      // What is said of a blank is said of its shape, by a number that it has nowhere else.
      if (one.level === 'doubt' && one.facts.blank === undefined) doubts.set(one.message, one);
    return { view: traced.view as PhotoView, outlines: seatOutlines(traced) };
  };
  const all: { thicknessMm: number; view: PhotoView; outlines: readonly Outline[] }[] = [];
  for (const thicknessMm of heights) all.push({ thicknessMm, ...(await traceAt(thicknessMm, {})) });
  const [only, ...more] = all;
  if (!only || more.length === 0) return { name, passes: all, reasons: [...doubts.values()] };
  // The walls of pieces tell where the camera stood only where each is as high as it is taken for: once more, each by its likest kind.
  const known = Object.fromEntries(
    only.outlines.map(({ blank }) => [blank, heightLike(kinds, all, blank)]),
  );
  const again = await traceAt(only.thicknessMm, known);
  const passes = all.flatMap(({ thicknessMm, view, outlines }) => [
    {
      thicknessMm,
      view: again.view,
      outlines: again.outlines.filter(({ blank }) => known[blank] === thicknessMm),
    },
    // How it would look as another kind is asked for as well.
    { thicknessMm, view, outlines: outlines.filter(({ blank }) => known[blank] !== thicknessMm) },
  ]);
  return { name, passes, reasons: [...doubts.values()] };
}

/** The height at which a piece looks most like a kind of that height, mm. */
function heightLike(
  kinds: readonly LooseKind[],
  passes: readonly { readonly thicknessMm: number; readonly outlines: readonly Outline[] }[],
  blank: number,
): number {
  const tried = passes.flatMap(({ thicknessMm, outlines }) =>
    outlines
      .filter((o) => o.blank === blank)
      .flatMap((o) =>
        kinds
          .filter((kind) => kind.thicknessMm === thicknessMm)
          .map((kind) => ({ thicknessMm, offMm: fitOf(kind, o)?.offMm ?? Infinity })),
      ),
  );
  return tried.reduce((a, b) => (b.offMm < a.offMm ? b : a)).thicknessMm;
}

/** The part of a photo that shows the marked sheet, upright px. */
export function sheetIn({ eye, sheet, widthPx, heightPx }: PhotoView): PictureBox {
  const { widthMm: w, heightMm: h } = sheet;
  const corners = [
    [0, 0],
    [w, 0],
    [w, h],
    [0, h],
  ].map(([x, y]) => pictureOf(eye, x!, y!, 0));
  return (
    boxRound([corners], widthPx, heightPx) ?? { left: 0, top: 0, right: widthPx, bottom: heightPx }
  );
}
