import type { Point } from '../base/measure.ts';
import { reason, type Reason } from '../base/reason.ts';
import { boxOf, type Box } from '../geometry/measure.ts';
import { boardBox, boardCorner, keyOf, seatHoles } from '../plan/board-on-bed.ts';
import type { BedPlan } from '../plan/plan.ts';
import type { FileSettings } from './settings.ts';
import { strokeLetters, strokeWidthMm } from './stroke-letters.ts';

/** Heights that are tried, the largest first, mm: ISO 3098 has 5, 3.5 and 2.5. */
const HEIGHTS_MM = [5, 3.5, 2.5];
/** Words keep away from everything that is cut by this, mm. */
const APART_MM = 2;
/** Digits of the digest that are cut: one board in 4 thousand million has those of another by chance. */
const CODE_DIGITS = 8;

export interface Engraving {
  readonly words: string;
  readonly strokes: readonly (readonly Point<'bed'>[])[];
  readonly reason?: Reason;
}

/**
 * Job number, revision, the first digits of the plan's digest and, of several boards, its number as single strokes, where the board is free, as near to the
 * zero corner as may be. Without room there are no strokes, and the reason.
 */
export function engravingOf(plan: BedPlan, { revision }: FileSettings, board = 1): Engraving {
  const number = (plan.bed.boards ?? 1) > 1 ? ` ${board}` : '';
  const words =
    `${plan.jobNumber} ${revision} ${plan.digest.slice(0, CODE_DIGITS)}${number}`.toUpperCase();
  const taken = takenBy(plan);
  for (const heightMm of HEIGHTS_MM) {
    const at = freePlace(plan, taken, strokeWidthMm(words, heightMm), heightMm);
    if (at) return { words, strokes: strokeLetters(words, at, heightMm) };
  }
  const least = HEIGHTS_MM[HEIGHTS_MM.length - 1]!;
  return {
    words,
    strokes: [],
    reason: reason('engrave-no-room', {
      words,
      widthMm: Math.ceil(strokeWidthMm(words, least) + 2 * APART_MM),
      heightMm: Math.ceil(least + 2 * APART_MM),
    }),
  };
}

/**
 * Where layer mark has letters, along the front edge. Along the rear edge and from the right the same is kept free: the same board
 * turned over has its words at the same place.
 */
function lettered({ widthMm, depthMm }: BedPlan['bed'], jobNumber: string): Box[] {
  const signature = 14 + 1.2 * (jobNumber.length + 33);
  return (
    [
      [0, signature, 4.5],
      [widthMm - signature, widthMm, 4.5],
      [widthMm / 2 - 55, widthMm / 2 + 55, 5],
    ] as const
  ).flatMap(([left, right, high]) => [
    { left, right, bottom: 0, top: high },
    { left, right, bottom: depthMm - high, top: depthMm },
  ]);
}

/** Boxes round whatever is opened, kept out of, lettered or cut off. */
function takenBy({ pockets, bed, jobNumber }: BedPlan): Box[] {
  const zero = boardCorner(bed);
  const [along, up] = bed.board ? keyOf(bed) : [12, 7];
  return [
    ...pockets.map(({ opening }) => boxOf(opening.flatMap(({ outer }) => outer))),
    ...(bed.keepOuts ?? []).map(({ xMm, yMm, widthMm, depthMm }) => ({
      left: xMm,
      bottom: yMm,
      right: xMm + widthMm,
      top: yMm + depthMm,
    })),
    ...lettered(bed, jobNumber),
    ...seatHoles(bed).map(({ ring, head }) => boxOf(head ? [...ring, ...head] : ring)),
    ...(bed.keyed
      ? [{ left: zero.x - along, right: zero.x + along, bottom: zero.y - up, top: zero.y + up }]
      : []),
  ];
}

function freePlace(
  { bed }: BedPlan,
  taken: readonly Box[],
  widthMm: number,
  heightMm: number,
): Point<'bed'> | undefined {
  const board = boardBox(bed);
  const zero = boardCorner(bed);
  const [left, bottom] = [zero.x === board.left, zero.y === board.bottom];
  const [from, foot] = [board.left + APART_MM, board.bottom + APART_MM];
  const [most, up] = [board.right - APART_MM - widthMm, board.top - APART_MM - heightMm];
  const step = Math.max(1, Math.max(bed.widthMm, bed.depthMm) / 300);
  let best: Point<'bed'> | undefined;
  let nearest = Infinity;
  for (let j = 0; foot + j * step <= up; j++)
    for (let i = 0; from + i * step <= most; i++) {
      // Counted from the zero corner, so that the same board turned over has its words at the same place.
      const x = left ? from + i * step : most - i * step;
      const y = bottom ? foot + j * step : up - j * step;
      const away = Math.hypot(
        (left ? x : x + widthMm) - zero.x,
        (bottom ? y : y + heightMm) - zero.y,
      );
      if (away >= nearest) continue;
      const free = taken.every(
        (t) =>
          x + widthMm + APART_MM <= t.left ||
          x - APART_MM >= t.right ||
          y + heightMm + APART_MM <= t.bottom ||
          y - APART_MM >= t.top,
      );
      if (free) [best, nearest] = [{ x, y }, away];
    }
  return best;
}
