import type { Point } from '../../base/measure.ts';
import type { BedPlan, PlacedPocket } from '../../plan/plan.ts';

/** The pocket whose middle is read at a place. */
export const pocketAt = (
  { pockets }: Pick<BedPlan, 'pockets'>,
  at: Point<'bed'>,
): PlacedPocket | undefined =>
  pockets.find(({ place }) => Math.hypot(place.x - at.x, place.y - at.y) < 0.01);

/** Pockets to read the print at: the two that lie farthest from each other first, then the rest. */
export function farPockets({ pockets }: Pick<BedPlan, 'pockets'>): readonly string[] {
  let best: readonly [string, string] | undefined;
  let most = -1;
  for (const a of pockets)
    for (const b of pockets) {
      const far = Math.hypot(a.place.x - b.place.x, a.place.y - b.place.y);
      if (far > most) [best, most] = [[a.id, b.id], far];
    }
  const first = best ? [...new Set(best)] : [];
  return [...first, ...pockets.map((p) => p.id).filter((id) => !first.includes(id))];
}
