import type { LooseKind } from '../after/lying.ts';
import type { LoadPhoto } from '../after/loose.ts';
import { Refusal } from '../base/reason.ts';
import { centroid, mapRegion } from '../geometry/measure.ts';
import type { Trace } from '../outline/outline.ts';
import type { BedSettings } from '../plan/plan.ts';
import type { PhotoView } from '../view/view.ts';
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

/** What only says how well a shape is known: here the shape is known, and its place is asked for. */
const OF_SHAPE = new Set(['outline-too-uncertain']);

/**
 * A photo of a loaded bed as it was traced at one height.
 *
 * @param picture its name, for the sentences
 * @throws Refusal as the trace was refused, `loose-sheet` where the marks are those of another sheet than the bed's
 */
export function passOf(
  thicknessMm: number,
  { outlines, reasons }: Pick<Trace, 'outlines' | 'reasons'>,
  view: PhotoView | undefined,
  { widthMm, depthMm }: Pick<BedSettings, 'widthMm' | 'depthMm'>,
  picture: string,
): LoadPhoto['passes'][number] {
  if (view) {
    const { widthMm: w, heightMm: h } = view.sheet;
    if (Math.abs(w - widthMm) > 0.05 || Math.abs(h - depthMm) > 0.05)
      throw new Refusal('loose-sheet', {
        picture,
        widthMm: w,
        heightMm: h,
        bedWidthMm: widthMm,
        bedDepthMm: depthMm,
      });
  }
  const refused = reasons.find((r) => r.level === 'refuse' && !OF_SHAPE.has(r.code));
  if (refused || !view) {
    const why = refused ?? reasons[0]!;
    throw new Refusal(why.code, why.facts);
  }
  return { thicknessMm, view, outlines: seatOutlines({ outlines }) };
}
