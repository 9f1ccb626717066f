import type { Clipper } from '../geometry/clipper.ts';
import { boxOf, regionArea } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import { roomOf } from './board-on-bed.ts';
import type { BedSettings, PlacedPocket } from './plan.ts';

/** How much of the board pockets take, and the most that any arrangement of them could. */
export interface Usage {
  /** Board used: as wide as the bed inside its margins, from the front margin to the rearmost pocket, mm². */
  readonly boardMm2: number;
  /** From the front margin to the rearmost pocket, mm. */
  readonly depthMm: number;
  /** Of that board, what the pockets' openings are. */
  readonly share: number;
  /** The most that it could be: openings may not overlap when half a wall is laid round each. */
  readonly bound: number;
  /** A board of its own size, and what of all of it the openings are; absent: the board covers the bed. */
  readonly whole?: {
    readonly widthMm: number;
    readonly depthMm: number;
    readonly share: number;
  };
}

/** The area inside the outer rings, mm². */
export const solidArea = (regions: readonly Region<'blank' | 'bed'>[]): number =>
  regions.reduce((sum, { outer }) => sum + regionArea({ outer, holes: [] }), 0);

/**
 * How much of the board the pockets use. The board used is the width inside the margins times the depth that they
 * reach. Half a wall round each opening overlaps no other's, and reaches over that board's edges by half a wall at most: so
 * the areas of openings so grown, added up, are the least that such a board can be, whatever the arrangement.
 */
export function usage(
  clipper: Clipper,
  kinds: readonly {
    readonly pocket: { readonly outlineId: string; readonly opening: readonly Region<'blank'>[] };
    readonly count: number;
  }[],
  placed: readonly Pick<PlacedPocket, 'opening'>[],
  bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'marginMm' | 'wallMm' | 'board'> &
    Partial<Pick<BedSettings, 'zero'>>,
): Usage {
  const { wallMm, board } = bed;
  const room = roomOf(bed);
  const laid = kinds.filter(({ count }) => count > 0);
  const sum = (area: (opening: readonly Region<'blank'>[]) => number): number =>
    laid.reduce((all, { pocket, count }) => all + count * area(pocket.opening), 0);
  const own = sum(solidArea);
  const grown = sum((opening) => solidArea(clipper.offset(opening, wallMm / 2, 'inward')));
  const tops = placed.map(({ opening }) => boxOf(opening.flatMap(({ outer }) => outer)).top);
  const wide = board ? room.right - room.left : bed.widthMm - 2 * bed.marginMm;
  const depthMm = Math.max(0, ...tops.map((top) => top - room.bottom));
  const boardMm2 = wide * depthMm;
  const leastMm2 = wide * Math.max(0, grown / (wide + wallMm) - wallMm);
  return {
    boardMm2,
    depthMm,
    share: boardMm2 > 0 ? own / boardMm2 : 0,
    bound: leastMm2 > 0 ? Math.min(1, own / leastMm2) : 1,
    ...(board && {
      whole: {
        widthMm: board.widthMm,
        depthMm: board.depthMm,
        share: own / (board.widthMm * board.depthMm),
      },
    }),
  };
}

/** "Openings take 53.4 % of the board used, 410 x 286 mm; no arrangement can take more than 79.2 %." */
export const usageWords = ({ share, bound, boardMm2, depthMm, whole }: Usage): string =>
  `Openings take ${(100 * share).toFixed(1)} % of the board used, ${(boardMm2 / Math.max(depthMm, 1e-9)).toFixed(0)} x ${depthMm.toFixed(0)} mm; no arrangement of them can take more than ${(100 * bound).toFixed(1)} %.${whole ? ` Of the whole board, ${whole.widthMm.toFixed(0)} x ${whole.depthMm.toFixed(0)} mm, they take ${(100 * whole.share).toFixed(1)} %.` : ''}`;
