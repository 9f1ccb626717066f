import { reason, type Reason } from '../base/reason.ts';
import { full, type PocketSettings } from '../pocket/pocket.ts';
import type { Proud } from './board-on-bed.ts';

/** What an operator measures of board, base and machine; null: not measured. All heights in mm. */
export interface HeightSettings {
  readonly boardMm: number | null;
  /** Base plate under the board; counts where the pocket goes through onto it. */
  readonly baseMm: number | null;
  /** Under the blank, in the pocket. */
  readonly packerMm: number;
  /** The highest point of the blank above its print face: rim, knob, the warp of a piece. */
  readonly aboveFaceMm: number;
  /** What stands on the board: screw heads, pins, tape, a board that lifts. */
  readonly onBoardMm: number;
  /** How far pieces of one kind differ in thickness, largest less smallest, shared equally to either side. */
  readonly spreadMm: number;
  /** How far a corner lifts as the blank rocks on its floor, by feeler gauge; absent: it lies still. */
  readonly rockMm?: number;
  /** The face or the board throws light back: mirror, polished, dished, glossy; absent: not said. */
  readonly shiny?: boolean;
  /** Room between the highest point and the head. */
  readonly headGapMm: number;
  /** Height of the head over the table as the operator sets it; null: the least that keeps the head gap. */
  readonly headMm: number | null;
  /** Tallest load that the machine takes; null: not known. */
  readonly tallestMm: number | null;
  /** What this machine's panel wants: the height of the load, to which it adds its own gap, or that of the head. */
  readonly panel: 'load' | 'head';
  /** What the set-up print is printed on. */
  readonly setUpOn: 'sheet' | 'board';
  /** Thickness of the sacrificial sheet, which lies on the table. */
  readonly sheetMm: number;
}

/** Head gap 1 to 2 mm above the highest point, faces within about 1 mm of one height: common practice, no source. */
export const DEFAULT_HEIGHTS: HeightSettings = {
  boardMm: null,
  baseMm: null,
  packerMm: 0,
  aboveFaceMm: 0,
  onBoardMm: 0,
  spreadMm: 0,
  headGapMm: 1.5,
  headMm: null,
  tallestMm: null,
  panel: 'load',
  setUpOn: 'sheet',
  sheetMm: 0.2,
};

/** Where a face lies farther than this below the highest one, print goes soft, mm. */
export const SOFT_FROM_MM = 1;

export interface BlankHeight {
  readonly blank: number;
  readonly thicknessMm: number;
  readonly floorMm: number;
  /** Over the table, of a piece of the thickness that was measured. */
  readonly faceMm: number;
  /** Of the thickest piece, what rises above its face included. */
  readonly highestMm: number;
  /** From the head to the face of the thinnest piece: how far the ink falls. */
  readonly farthestMm: number;
}

/** One print in order of use, with the figure to type. */
export interface PrintHeight {
  readonly what: 'set-up print' | 'artwork';
  readonly panel: 'load' | 'head';
  /** What the panel wants. */
  readonly valueMm: number;
  /** Its highest point, and the head over it. */
  readonly highestMm: number;
  readonly headMm: number;
}

/** All over the table, mm. */
export interface Heights {
  readonly settings: HeightSettings;
  readonly boardTopMm: number;
  readonly blanks: readonly BlankHeight[];
  readonly highestMm: number;
  readonly headMm: number;
  /** From the highest point to the head; less than nothing is a strike. */
  readonly gapMm: number;
  readonly prints: readonly PrintHeight[];
}

export interface HeightsAnswer {
  /** Absent while something is not measured. */
  readonly heights?: Heights;
  readonly reasons: readonly Reason[];
}

const micrometres = (v: number): number => Math.round(v * 1e3) / 1e3;
const round = (v: number): number => Math.round(v * 100) / 100;

/**
 * Heights over the table. Board top: board, and base plate where there is one. Floor of the pocket: table (through),
 * base plate, or board less depth (blind), and the packer on it. Face: floor and thickness. Highest: the thickest
 * piece's face with what rises above it and the corner that lifts, or the board with what stands on it. The head stands the head gap above that
 * unless the operator says where; the thinnest piece tells where print goes soft. What seats the board may stand above it, and a stop
 * or pins stay on the table when the board is off: the set-up print's head clears them too.
 *
 * @param proud what seats the board
 */
export function heightsOf(
  blanks: readonly { readonly blank: number; readonly thicknessMm?: number }[],
  pocket: PocketSettings,
  settings: HeightSettings,
  proud?: Proud,
): HeightsAnswer {
  const { hold, depthMm } = full(pocket);
  const s = settings;
  const missing: string[] = [];
  if (s.boardMm === null) missing.push('the board');
  if (hold === 'base' && s.baseMm === null) missing.push('the base plate');
  for (const { blank, thicknessMm } of blanks)
    if (thicknessMm === undefined) missing.push(`blank ${blank}`);
  if (missing.length > 0)
    return { reasons: [reason('height-unmeasured', { what: missing.join(' and ') })] };
  const board = s.boardMm!;
  if (hold === 'blind' && depthMm >= board)
    return { reasons: [reason('floor-gone', { depthMm, boardMm: board })] };

  const under = hold === 'base' ? s.baseMm! : hold === 'blind' ? board - depthMm : 0;
  const boardTopMm = board + (hold === 'base' ? s.baseMm! : 0);
  const floorMm = under + s.packerMm;
  const faces = blanks.map(({ blank, thicknessMm }) => {
    const faceMm = floorMm + thicknessMm!;
    return {
      blank,
      thicknessMm: thicknessMm!,
      floorMm,
      faceMm,
      highestMm: faceMm + s.spreadMm / 2 + s.aboveFaceMm + (s.rockMm ?? 0),
    };
  });
  const seated = proud !== undefined && proud.mm >= s.onBoardMm && proud.mm > 0;
  const onBoard = boardTopMm + (seated ? proud.mm : s.onBoardMm);
  const highestMm = Math.max(onBoard, ...faces.map((f) => f.highestMm));
  const headMm = s.headMm ?? highestMm + s.headGapMm;
  const gapMm = headMm - highestMm;
  const rows = faces.map((f) => ({ ...f, farthestMm: headMm - f.faceMm + s.spreadMm / 2 }));

  const reasons: Reason[] = [];
  const worst = rows.reduce((a, b) => (b.highestMm > a.highestMm ? b : a), rows[0]!);
  const what =
    rows.length > 0 && worst.highestMm >= onBoard
      ? `Blank ${worst.blank}`
      : seated
        ? proud.what
        : 'What stands on the board';
  if (gapMm <= 0)
    reasons.push(
      reason('head-strike', {
        what,
        overMm: round(-gapMm),
        headMm: round(headMm),
        needMm: round(highestMm + s.headGapMm),
      }),
    );
  else if (gapMm < s.headGapMm - 1e-9)
    reasons.push(reason('head-gap-short', { what, gapMm: round(gapMm), wantMm: s.headGapMm }));
  if (s.tallestMm !== null && highestMm > s.tallestMm)
    reasons.push(reason('load-too-tall', { highestMm: round(highestMm), tallestMm: s.tallestMm }));
  if ((s.rockMm ?? 0) > 0) reasons.push(reason('blank-rocks', { rockMm: round(s.rockMm!) }));
  if (s.shiny) reasons.push(reason('shines-back'));
  const printedMm = s.setUpOn === 'board' ? boardTopMm : s.sheetMm;
  const inWay = proud && (proud.stays || s.setUpOn === 'board') ? boardTopMm + proud.mm : 0;
  const setUpMm = Math.max(printedMm, inWay);
  if (proud && setUpMm - printedMm > SOFT_FROM_MM + 1e-9)
    reasons.push(
      reason('set-up-under-seat', {
        what: proud.what,
        overMm: round(setUpMm - printedMm),
        highMm: round(setUpMm),
        lowMm: round(printedMm + (s.panel === 'head' ? s.headGapMm : 0)),
        onBoard: s.setUpOn === 'board' ? 1 : 0,
      }),
    );
  const soft = rows.filter((f) => f.farthestMm - s.headGapMm > SOFT_FROM_MM + 1e-9);
  if (soft.length > 0)
    reasons.push(
      reason('face-low', {
        blanks: soft.map((f) => f.blank).join(', '),
        many: soft.length,
        farMm: round(Math.max(...soft.map((f) => f.farthestMm))),
        leastMm: s.headGapMm,
      }),
    );
  for (const f of rows)
    if (hold !== 'through' ? f.thicknessMm + s.packerMm <= boardTopMm - under : f.faceMm <= board)
      reasons.push(reason('face-sunk', { blank: f.blank, sunkMm: round(boardTopMm - f.faceMm) }));
  const print = (whatFor: PrintHeight['what'], highest: number, head: number): PrintHeight => ({
    what: whatFor,
    panel: s.panel,
    valueMm: micrometres(s.panel === 'load' ? head - s.headGapMm : head),
    highestMm: highest,
    headMm: head,
  });
  return {
    heights: {
      settings,
      boardTopMm,
      blanks: rows,
      highestMm,
      headMm,
      gapMm,
      prints: [
        print('set-up print', setUpMm, setUpMm + s.headGapMm),
        print('artwork', highestMm, headMm),
      ],
    },
    reasons,
  };
}
