import { crossOf, profileMarks } from '../plan/bed-profile.ts';
import type { BedSettings } from '../plan/plan.ts';
import { rectangle, type SeatSheet } from './seat.ts';

/**
 * Crosses to score on a board, from which the cutter's own lengths are read. They are read middle to middle, so that it does not
 * matter how wide the tool cuts.
 */
export function cutTest(bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'zero'>): SeatSheet {
  const marks = profileMarks(bed);
  return {
    name: 'cut test',
    widthMm: bed.widthMm,
    depthMm: bed.depthMm,
    layers: [
      {
        name: 'engrave',
        what: 'crosses to score as drawn, nothing taken; not to be cut through',
        open: marks.flatMap((m) => crossOf(m.at)),
      },
      {
        name: 'number',
        what: 'names of the crosses, for the eye',
        words: marks.map((m) => ({
          at: { x: m.at.x + 3, y: m.at.y + 2.5 },
          heightMm: 3,
          words: m.name,
        })),
      },
      { name: 'board', what: 'the bed', closed: [rectangle(0, 0, bed.widthMm, bed.depthMm)] },
    ],
    section: [],
    figures: marks.length > 0 ? [{ name: 'Crosses', mm: marks.length, count: true }] : [],
    notes: [
      "Score the crosses on a flat board at 100 %, with no scale in the cutter's own program. A is at the front left, B at the front right, C at the rear right, D at the rear left.",
      'Read how far they are from each other, middle to middle, before the board is moved to another room: they tell what the cutter makes of lengths and of a square.',
    ],
    reasons: [],
  };
}
