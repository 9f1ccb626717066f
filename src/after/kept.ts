import type { Point } from '../base/measure.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { boxOf, regionArea } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import type { PlacedPocket } from '../plan/plan.ts';
import { toolRadiusMm } from '../pocket/pocket-of.ts';
import type { Tool } from '../pocket/pocket.ts';
import type { WallDoubt } from './room.ts';

/** A pocket of a board that was cut, as far as it holds a piece; bed mm. */
export interface KeptPocket {
  /** Its number on the board. */
  readonly id: string;
  readonly outlineId: string;
  /** What is open: as drawn and as the cutter can reach, or as measured on the board. */
  readonly opening: Region<'bed'>;
  readonly doubt: WallDoubt;
}

/**
 * How far a wall may stand farther out than drawn (k = 1), mm, where neither a test board nor the board itself was measured:
 * half of what the kerf of one cutter varies by. Common practice, no source.
 */
export const WALL_U_MM = 0.03;

/** What bears on how a pocket of a plan was cut. */
export type AsPlanned = Pick<PlacedPocket, 'id' | 'outlineId' | 'wall' | 'cut' | 'relief'>;

/**
 * A pocket as the tool leaves it when it follows its path: what it cannot reach still stands. Several openings of one
 * pocket do not occur but where its walls part; the largest holds the piece.
 */
export function keptPocket(
  clipper: Clipper,
  { id, outlineId, wall, cut, relief }: AsPlanned,
  tool: Tool,
  growthU = WALL_U_MM,
): KeptPocket {
  const radiusMm = toolRadiusMm(tool);
  const taken = [
    ...clipper.offset(cut, radiusMm, 'outward'),
    ...(radiusMm > 0 ? clipper.stroke(relief, radiusMm) : []),
  ];
  const open = radiusMm > 0 && taken.length > 0 ? clipper.union(taken) : wall;
  const opening = open.reduce((a, b) => (regionArea(b) > regionArea(a) ? b : a));
  return { id, outlineId, opening, doubt: { growthU } };
}

const LETTERS = ['A', 'B', 'C', 'D', 'E'] as const;
export const ZONE_COLUMNS = 8;
export const ZONE_ROWS = LETTERS.length;

/** The zone of a place within the box of a pocket as it lies on the bed: letters from the far side, figures from the left. */
export function zoneOf({ opening }: Pick<KeptPocket, 'opening'>, { x, y }: Point<'bed'>): string {
  const { left, right, bottom, top } = boxOf(opening.outer);
  const step = (share: number, count: number): number =>
    Math.min(count - 1, Math.max(0, Math.floor(share * count)));
  const row = step((top - y) / (top - bottom), ZONE_ROWS);
  return `${LETTERS[row]}${step((x - left) / (right - left), ZONE_COLUMNS) + 1}`;
}
