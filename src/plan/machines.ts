import { reason, type Reason } from '../base/reason.ts';
import { without } from '../base/without.ts';
import { fitFor, type KnownFit } from '../pocket/fits.ts';
import { boardReasons, type Stock } from '../pocket/material.ts';
import { full, type PocketSettings, type Tool } from '../pocket/pocket.ts';
import { toolWords } from '../pocket/trails.ts';
import { bedProfileOf, profileWords, type BedReading } from './bed-profile.ts';
import type { HeightSettings } from './heights.ts';
import { boardBox } from './board-on-bed.ts';
import { placeFromZero } from './plan-bed.ts';
import type { BedPlan, BedSettings, BoardSeat, KeepOut, ZeroCorner } from './plan.ts';

/** What an operator knows of one printer. */
export interface Printer {
  readonly name: string;
  /** Its print area. */
  readonly widthMm: number;
  readonly depthMm: number;
  /** Lower left corner of the print area on its table. */
  readonly onTableMm: readonly [number, number];
  readonly zero: ZeroCorner;
  readonly marginMm: number;
  readonly keepOuts: readonly KeepOut[];
  /** What boards are seated by on it; absent: not said. */
  readonly seat?: BoardSeat;
  readonly panel: HeightSettings['panel'];
  readonly headGapMm: number;
  readonly tallestMm: number | null;
  /** Ink channels, as its program names them. */
  readonly inks: string;
  /** Colour profile, as its program names it. */
  readonly profile: string;
  /** What was read of its bed, the last one in force; absent: nothing was. */
  readonly readings?: readonly BedReading[];
  /** An example that is shipped, of no real machine. */
  readonly invented?: true;
}

/** What an operator knows of one cutter. */
export interface Cutter {
  readonly name: string;
  readonly tool: Tool;
  readonly widthMm: number;
  readonly depthMm: number;
  /** What was read of its cut tests, the last one in force; absent: nothing was. */
  readonly readings?: readonly BedReading[];
  readonly speedMmPerS: number;
  readonly invented?: true;
}

/** The machines and boards of a shop, and those that this job is set for. */
export interface MachineSettings {
  readonly printers: readonly Printer[];
  readonly cutters: readonly Cutter[];
  /** Boards that she keeps under names of her own; absent: none. */
  readonly stock?: readonly Stock[];
  readonly printer?: string;
  readonly cutter?: string;
}

const example = {
  onTableMm: [0, 0],
  zero: 'bottom-left',
  marginMm: 5,
  keepOuts: [],
  panel: 'load',
  headGapMm: 1.5,
  inks: 'C M Y K white clear',
  profile: '',
  invented: true,
} as const;

/** Examples to start from; invented, figures of common practice: measure and put in your own. */
export const MACHINES: MachineSettings = {
  printers: [
    { ...example, name: 'small flatbed', widthMm: 420, depthMm: 300, tallestMm: 100 },
    { ...example, name: 'large flatbed', widthMm: 1200, depthMm: 700, tallestMm: 200 },
  ],
  cutters: [
    {
      name: 'laser',
      tool: { kind: 'beam', kerfMm: 0.15 },
      widthMm: 600,
      depthMm: 400,
      speedMmPerS: 10,
      invented: true,
    },
    {
      name: 'mill, 3 mm cutter',
      tool: { kind: 'mill', radiusMm: 1.5 },
      widthMm: 1200,
      depthMm: 900,
      speedMmPerS: 15,
      invented: true,
    },
    {
      name: 'drag knife',
      tool: { kind: 'drag', offsetMm: 0 },
      widthMm: 600,
      depthMm: 900,
      speedMmPerS: 100,
      invented: true,
    },
  ],
};

/** The printer that a job is set for. */
export const printerInUse = (machines: MachineSettings | undefined): Printer | undefined =>
  machines?.printers.find(({ name }) => name === machines.printer);

/** The cutter that a job is set for. */
export const cutterInUse = (machines: MachineSettings | undefined): Cutter | undefined =>
  machines?.cutters.find(({ name }) => name === machines.cutter);

/** The machines with one more, in place of an older one of its name. */
export const withNamed = <M extends { readonly name: string }>(
  all: readonly M[],
  one: M,
): readonly M[] =>
  all.some(({ name }) => name === one.name)
    ? all.map((m) => (m.name === one.name ? one : m))
    : [...all, one];

/** Bed and heights as they are set, kept under a name. */
export const printerOf = (
  name: string,
  bed: BedSettings,
  heights: HeightSettings,
  { onTableMm, inks, profile, seat }: Pick<Printer, 'onTableMm' | 'inks' | 'profile' | 'seat'>,
): Printer => ({
  name,
  widthMm: bed.widthMm,
  depthMm: bed.depthMm,
  zero: bed.zero,
  marginMm: bed.marginMm,
  keepOuts: bed.keepOuts ?? [],
  // A job whose board covers the bed says nothing of what seats one.
  ...seatIf(bed.board ? bed.board.seat : seat),
  panel: heights.panel,
  headGapMm: heights.headGapMm,
  tallestMm: heights.tallestMm,
  ...{ onTableMm, inks, profile },
});

const seatIf = (seat: BoardSeat | undefined): { readonly seat?: BoardSeat } =>
  seat ? { seat } : {};

/**
 * The job's bed and heights on a printer: what lies freely keeps to the middle of the bed, as rows do, or with a board of its own size
 * to that, which is seated as boards are on this printer.
 */
export function onPrinter(
  bed: BedSettings,
  heights: HeightSettings,
  { widthMm, depthMm, zero, marginMm, keepOuts, seat, panel, headGapMm, tallestMm }: Printer,
): { readonly bed: BedSettings; readonly heights: HeightSettings } {
  const { places, board, ...rest } = without(bed, 'keepOuts');
  const [was, is] = [bed, { widthMm, depthMm, zero, ...(board && { board }) }].map(boardBox) as [
    ReturnType<typeof boardBox>,
    ReturnType<typeof boardBox>,
  ];
  const [dx, dy] = board
    ? [is.left - was.left, is.bottom - was.bottom]
    : [(widthMm - bed.widthMm) / 2, (depthMm - bed.depthMm) / 2];
  return {
    bed: {
      ...rest,
      ...{ widthMm, depthMm, zero, marginMm },
      ...(keepOuts.length > 0 && { keepOuts }),
      ...(board && { board: { ...without(board, 'seat'), ...seatIf(seat) } }),
      ...(places && { places: places.map((p) => ({ ...p, x: p.x + dx, y: p.y + dy })) }),
    },
    heights: { ...heights, panel, headGapMm, tallestMm },
  };
}

/** The job's pocket settings on a cutter: its tool and speed, and the clearance that a test board of it showed. */
export function onCutter(
  pocket: PocketSettings,
  { tool, speedMmPerS }: Cutter,
  fits: readonly KnownFit[],
): PocketSettings {
  const known = fitFor(fits, pocket, tool.kind)?.clearanceMm;
  return {
    ...pocket,
    tool,
    speedMmPerS,
    ...(known !== undefined && { clearanceMm: known }),
  };
}

/** How far pockets moved together, mm; undefined where they do not lie to each other as before. */
export function shiftBetween(
  before: BedPlan,
  after: BedPlan,
): { readonly x: number; readonly y: number } | undefined {
  if (before.pockets.length !== after.pockets.length || before.pockets.length === 0)
    return undefined;
  const by = (k: number): { x: number; y: number } => ({
    x: after.pockets[k]!.place.x - before.pockets[k]!.place.x,
    y: after.pockets[k]!.place.y - before.pockets[k]!.place.y,
  });
  const first = by(0);
  const alike = before.pockets.every((p, k) => {
    const q = after.pockets[k]!;
    const { x, y } = by(k);
    return (
      p.outlineId === q.outlineId &&
      p.place.turnDeg === q.place.turnDeg &&
      p.place.mirrored === q.place.mirrored &&
      Math.hypot(x - first.x, y - first.y) < 0.005
    );
  });
  return alike ? first : undefined;
}

const shown = (v: number): number => Math.round(v * 100) / 100 + 0;

/** Whether the board lies to its pockets, and its holes in it, as before. */
function sameBoard(
  before: BedSettings,
  after: BedSettings,
  { x, y }: NonNullable<ReturnType<typeof shiftBetween>>,
): boolean {
  if (!before.board || !after.board) return before.board === after.board;
  const [was, is] = [boardBox(before), boardBox(after)];
  const holesOf = (bed: BedSettings): { x: number; y: number; mm: number }[] => {
    const seat = bed.board?.seat;
    if (!seat || seat.kind === 'stop') return [];
    const mm = (seat.kind === 'pins' ? seat.pinMm : seat.screwMm) + seat.playMm;
    return seat.at.map((p) => ({ ...p, mm }));
  };
  const [old, now] = [holesOf(before), holesOf(after)];
  const same = (a: number, b: number): boolean => Math.abs(a - b) < 0.005;
  return (
    same(is.left - was.left, x) &&
    same(is.bottom - was.bottom, y) &&
    old.length === now.length &&
    old.every(
      (h, k) => same(now[k]!.x - h.x, x) && same(now[k]!.y - h.y, y) && same(now[k]!.mm, h.mm),
    )
  );
}

/** The same job on another printer: whether the board serves and where it lies, and what is made again. */
export function onOtherPrinter(before: BedPlan, after: BedPlan, name: string): Reason[] {
  const refused = after.reasons.find(({ level }) => level === 'refuse');
  const again = reason('machine-files-again', {
    name,
    size: `${shown(after.bed.widthMm)} x ${shown(after.bed.depthMm)} mm`,
  });
  if (refused)
    return [
      reason('machine-not-fit', { name, why: refused.message, remedy: refused.remedy }),
      again,
    ];
  const shift = shiftBetween(before, after);
  if (!shift || !sameBoard(before.bed, after.bed, shift))
    return [reason('machine-board-again', { name }), again];
  const [was, is] = [before, after].map(({ pockets, bed }) =>
    placeFromZero(pockets[0]!.place, bed),
  ) as [ReturnType<typeof placeFromZero>, ReturnType<typeof placeFromZero>];
  return [
    reason('machine-board-serves', {
      name,
      xMm: shown(is.x),
      yMm: shown(is.y),
      wasXMm: shown(was.x),
      wasYMm: shown(was.y),
    }),
    again,
  ];
}

/** Whether a cutter takes a board, either way round. */
export const takes = (
  { widthMm, depthMm }: Pick<Cutter, 'widthMm' | 'depthMm'>,
  board: { readonly widthMm: number; readonly depthMm: number },
): boolean =>
  (board.widthMm <= widthMm && board.depthMm <= depthMm) ||
  (board.widthMm <= depthMm && board.depthMm <= widthMm);

/**
 * The same job on another cutter: what becomes of boards that were cut, and what forbids it.
 *
 * @param corrected cut files are corrected for the scale of the cutter in use
 */
export function onOtherCutter(
  before: PocketSettings,
  after: PocketSettings,
  { name, widthMm, depthMm, readings = [] }: Cutter,
  bed: Pick<BedSettings, 'widthMm' | 'depthMm' | 'board'>,
  corrected = false,
): Reason[] {
  const found: Reason[] = boardReasons(after.material, after.tool).filter(
    ({ level }) => level === 'refuse',
  );
  const board = bed.board ?? bed;
  if (!takes({ widthMm, depthMm }, board))
    found.push(
      reason('cutter-too-small', {
        name,
        size: `${shown(widthMm)} x ${shown(depthMm)} mm`,
        board: `${shown(board.widthMm)} x ${shown(board.depthMm)} mm`,
      }),
    );
  const [was, is] = [before, after].map(({ tool }) => toolWords(tool)) as [string, string];
  if (was !== is || full(before).relief !== full(after).relief)
    found.push(reason('cutter-files-again', { name, was, is }));
  if (before.clearanceMm !== after.clearanceMm)
    found.push(
      reason('cutter-clearance', {
        name,
        wasMm: shown(before.clearanceMm),
        isMm: shown(after.clearanceMm),
      }),
    );
  if (found.length === 0) found.push(reason('cutter-the-same', { name }));
  if (corrected) found.push(reason('cutter-scale-dropped', { name }));
  const reading = readings.at(-1);
  const profile = reading && bedProfileOf(reading, 'cutter');
  if (profile && !profile.against)
    found.push(reason('cutter-scale', { name, on: profile.on, words: profileWords(profile) }));
  return found;
}
