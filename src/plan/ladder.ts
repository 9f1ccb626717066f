import type { Point } from '../base/measure.ts';
import { Refusal, type Reason } from '../base/reason.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { boxOf } from '../geometry/measure.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import { boardReasons } from '../pocket/material.ts';
import { pocketOf, type Seat, type Standing } from '../pocket/pocket-of.ts';
import type { Pocket, PocketSettings } from '../pocket/pocket.ts';
import { digestOf, placedPocket } from './plan-bed.ts';
import type { BedPlan, PlacedPocket } from './plan.ts';

/** Clearances to try: the least, and by how much each is larger than the one before. */
export interface LadderSettings {
  readonly leastMm: number;
  readonly stepMm: number;
  readonly steps: number;
}

export const LADDER: LadderSettings = { leastMm: 0.05, stepMm: 0.05, steps: 6 };

/** Lines that count a pocket's number: length and distance, mm. */
const TALLY_MM = 4;
const TALLY_PITCH_MM = 3;
/** Side of the square for the kerf, mm: long enough for jaws, inside and outside. */
export const KERF_SQUARE_MM = 30;
const MARGIN_MM = 8;

/** The clearances of a ladder, the tightest first, mm. */
export const clearancesOf = ({ leastMm, stepMm, steps }: LadderSettings): number[] =>
  Array.from({ length: steps }, (_, k) => Math.round((leastMm + k * stepMm) * 1000) / 1000);

/** A board of its own: one pocket per clearance, told apart by lines that are cut, and a square to learn the kerf from. */
export interface Ladder {
  readonly plan: BedPlan;
  readonly clearancesMm: readonly number[];
  /** As many lines beside each pocket as its number says. */
  readonly tallies: readonly (readonly Point<'bed'>[])[];
  /** To be cut along as drawn; absent where the tool takes nothing away. */
  readonly kerfSquare?: Ring<'bed'>;
}

/**
 * The same pocket at stepped clearances, in rows from the upper left, `wallMm` of board between them.
 *
 * @throws Refusal `release-shut` when the board must not be cut by this tool, or the cutter does not fit into a pocket
 */
export function ladderOf(
  clipper: Clipper,
  seat: Seat,
  print: Region<'sheet'>,
  settings: PocketSettings,
  ladder: LadderSettings,
  wallMm: number,
  job: { readonly number: string; readonly name: string },
  standing?: Standing,
): Ladder {
  const clearancesMm = clearancesOf(ladder);
  const pockets = clearancesMm.map((clearanceMm): Pocket =>
    pocketOf(clipper, seat, print, { ...settings, clearanceMm }, standing),
  );
  const reasons: Reason[] = [
    ...boardReasons(settings.material, settings.tool),
    ...pockets.flatMap((p) => p.reasons),
  ];
  const shut = reasons.find(({ level }) => level === 'refuse');
  if (shut) throw new Refusal('release-shut', { why: shut.message, remedy: shut.remedy });

  const boxes = pockets.map(({ opening }) => boxOf(opening.flatMap(({ outer }) => outer)));
  const wall = Math.max(wallMm, 3);
  const n = pockets.length;
  const cellX =
    Math.max(TALLY_PITCH_MM * n, ...boxes.map(({ left, right }) => right - left)) + wall;
  // Twice as far from the tally to the next pocket as to its own.
  const cellY = Math.max(...boxes.map(({ top, bottom }) => top - bottom)) + 3 * wall + TALLY_MM;
  const columns = Math.min(n, Math.max(1, Math.round(Math.sqrt((n * cellY) / cellX))));
  const rows = Math.ceil(n / columns);
  const bare = settings.tool.kind === 'drag' || settings.tool.kind === 'hand';
  const strip = bare ? 0 : KERF_SQUARE_MM + wall;
  const whole = (v: number): number => Math.ceil(v);
  const widthMm = whole(2 * MARGIN_MM + columns * cellX + strip);
  const depthMm = whole(2 * MARGIN_MM + Math.max(rows * cellY, strip));

  const placed = pockets.map((pocket, k): PlacedPocket => {
    const box = boxes[k]!;
    const left = MARGIN_MM + (k % columns) * cellX;
    const foot = depthMm - MARGIN_MM - (Math.floor(k / columns) + 1) * cellY;
    const place = {
      x: left + cellX / 2 - (box.left + box.right) / 2,
      y: foot + 2.5 * wall + TALLY_MM - box.bottom,
      turnDeg: 0,
      mirrored: false,
    };
    return placedPocket(String(k + 1), pocket, place);
  });
  const tallies = placed.flatMap((_, k) => {
    const middle = MARGIN_MM + ((k % columns) + 0.5) * cellX;
    const foot = depthMm - MARGIN_MM - (Math.floor(k / columns) + 1) * cellY + 1.5 * wall;
    return Array.from({ length: k + 1 }, (_, i) => {
      const x = middle + (i - k / 2) * TALLY_PITCH_MM;
      return [
        { x, y: foot },
        { x, y: foot + TALLY_MM },
      ];
    });
  });
  const right = widthMm - MARGIN_MM;
  const up = depthMm - MARGIN_MM;
  const bed = {
    widthMm,
    depthMm,
    zero: 'bottom-left' as const,
    rows,
    columns,
    wallMm: wall,
    marginMm: MARGIN_MM,
  };
  const plan = {
    jobNumber: job.number,
    jobName: `${job.name}, fit ladder`,
    bed,
    pocketSettings: settings,
    pockets: placed,
  };
  return {
    plan: { ...plan, digest: digestOf(plan), reasons },
    clearancesMm,
    tallies,
    ...(!bare && {
      kerfSquare: [
        { x: right - KERF_SQUARE_MM, y: up - KERF_SQUARE_MM },
        { x: right, y: up - KERF_SQUARE_MM },
        { x: right, y: up },
        { x: right - KERF_SQUARE_MM, y: up },
      ],
    }),
  };
}
