import type { Point } from '../base/measure.ts';
import { times, type Affine } from '../geometry/affine.ts';
import type { Box } from '../geometry/measure.ts';
import type { PlacedPocket } from '../plan/plan.ts';
import type { ArtworkFile, ArtworkSettings } from './artwork.ts';
import { bedFromBlank, type Face } from './place.ts';
import { rowsOf, type Table } from './table.ts';

/** Fonts that come with the program, both under the SIL Open Font License. */
export const SHIPPED_FONTS = ['plain', 'script'] as const;
export type ShippedFont = (typeof SHIPPED_FONTS)[number];
export const SHIPPED_NAMES: Readonly<Record<ShippedFont, string>> = {
  plain: 'Noto Sans Medium',
  script: 'Dancing Script SemiBold',
};

export const ALIGNS = ['left', 'middle', 'right'] as const;
export type Align = (typeof ALIGNS)[number];

/** A line of words on every piece, taken from one column of the table and placed once for all of them. */
export interface Line {
  /** From 0. */
  readonly column: number;
  readonly font: ShippedFont | ArtworkFile;
  /** Height of its capitals. */
  readonly heightMm: number;
  /**
   * Where the line begins, has its middle or ends, half a capital above its foot: counted from the middle of the face along
   * the blank's own upright, as it is read. Looked at through a clear blank, all of it is mirrored about the middle.
   */
  readonly xMm: number;
  readonly yMm: number;
  /** Counter-clockwise, about that place. */
  readonly turnDeg: number;
  readonly align: Align;
  /** "#rrggbb"; greys are printed with black alone. */
  readonly colour: string;
  /** Words that would be longer are set smaller until they are not; null: they are as long as they come. */
  readonly roomMm: number | null;
}

/** A personalised run: a row of the table for each piece, over as many loads of the bed as it takes. */
export interface PersonalRun {
  readonly table: Table;
  readonly lines: readonly Line[];
}

/** Words as a font sets them. Lengths in em, from the beginning of their foot, y up. */
export interface SetWords {
  /** What is printed of them. */
  readonly ink: Box;
  /** Their outlines as an SVG path, in thousandths of an em. */
  readonly outline: string;
  /** Characters that the font does not have. */
  readonly missing: string;
}

/** A font, and what was asked to be set in it. */
export interface Typeface {
  readonly name: string;
  /** Height of its capitals. */
  readonly capEm: number;
  readonly words: ReadonlyMap<string, SetWords>;
}

/** What is printed in one pocket of one load. */
export interface Piece {
  /** Which artwork; absent where there is none. */
  readonly sheet?: number;
  /** Which row of the table; absent where there is none. */
  readonly row?: number;
}

/**
 * What goes where: by load, and by pocket within it; undefined where a pocket stays without print. A table decides how many
 * pieces there are; else several artworks in turn do; else there is one load.
 */
export function loadsOf(
  { share, run, pieces }: Pick<ArtworkSettings, 'share' | 'run' | 'pieces'>,
  sheets: number,
  pockets: number,
): readonly (readonly (Piece | undefined)[])[] {
  if (pockets === 0) return [];
  const rows = run && rowsOf(run.table).length;
  const most = rows ?? pieces;
  const wanted = most ?? (share === 'in turn' ? sheets : pockets);
  const pieceAt = (item: number): Piece | undefined => {
    if (most !== undefined && item >= most) return undefined;
    const sheet = share === 'one' ? 0 : item;
    if (sheet >= sheets) return rows === undefined ? undefined : { row: item };
    return { sheet, ...(rows !== undefined && { row: item }) };
  };
  return Array.from({ length: Math.max(1, Math.ceil(wanted / pockets)) }, (_, load) =>
    Array.from({ length: pockets }, (_, k) => pieceAt(load * pockets + k)),
  );
}

/** How many pieces a side speaks of by itself; undefined where every load is alike, and where nothing is printed. */
export const piecesOf = (
  { share, run }: Pick<ArtworkSettings, 'share' | 'run'>,
  sheets: number,
): number | undefined =>
  run ? rowsOf(run.table).length : share === 'in turn' && sheets > 0 ? sheets : undefined;

/** The words of a line on one row. */
export const wordsAt = ({ table }: PersonalRun, line: Line, row: number): string =>
  rowsOf(table)[row]?.[line.column] ?? '';

/** Every text of a line, each once. */
export const textsOf = ({ table }: PersonalRun, { column }: Line): readonly string[] => [
  ...new Set(rowsOf(table).flatMap((row) => row[column] || [])),
];

/** By how much words are set smaller than asked for, so that they fit their room; 1 where they are as asked. */
export function shrinkOf(line: Line, { capEm }: Typeface, { ink }: SetWords): number {
  const longMm = ((ink.right - ink.left) * line.heightMm) / capEm;
  return line.roomMm === null || longMm <= line.roomMm ? 1 : line.roomMm / longMm;
}

/** From a font's em to the blank's frame, for words as they are set on a face. */
export function blankFromWords(
  face: Face,
  line: Line,
  typeface: Typeface,
  words: SetWords,
  reverse: boolean,
): Affine {
  const em = (line.heightMm / typeface.capEm) * shrinkOf(line, typeface, words);
  const { left, right } = words.ink;
  const from = { left, middle: (left + right) / 2, right }[line.align];
  const turn = (line.turnDeg * Math.PI) / 180;
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  // Along the face's upright, from its middle.
  const own = times(
    [em * c, em * s, -em * s, em * c, line.xMm, line.yMm],
    [1, 0, 0, 1, -from, -typeface.capEm / 2],
  );
  const [lc, ls] = [Math.cos(face.leanRad), Math.sin(face.leanRad)];
  const m = reverse ? -1 : 1;
  return times([m * lc, m * ls, -ls, lc, face.middle.x, face.middle.y], own);
}

/** The same for a pocket, to the bed. */
export const bedFromWords = (
  pocket: PlacedPocket,
  ...on: Parameters<typeof blankFromWords>
): Affine => times(bedFromBlank(pocket.place), blankFromWords(...on));

/** Corners of what words print, in the frame that a map leads to. */
export const cornersOf = (map: Affine, { left, right, bottom, top }: Box): Point<'blank'>[] =>
  [
    [left, bottom],
    [right, bottom],
    [right, top],
    [left, top],
  ].map(([x, y]) => ({
    x: map[0] * x! + map[2] * y! + map[4],
    y: map[1] * x! + map[3] * y! + map[5],
  }));

/** A line to begin with: a column in the middle of the face, in capitals of a twelfth of it, with room that ends on it. */
export const newLine = (
  column: number,
  at: number,
  face?: { readonly widthMm: number; readonly heightMm: number },
): Line => {
  const heightMm = face ? Math.max(2, Math.round(Math.min(face.widthMm, face.heightMm) / 12)) : 5;
  return {
    column,
    font: 'plain',
    heightMm,
    xMm: 0,
    yMm: -1.6 * heightMm * at,
    turnDeg: 0,
    align: 'middle',
    colour: '#000000',
    roomMm: face ? Math.round(0.6 * face.widthMm) : null,
  };
};

/** Files that lines of words need besides: fonts that were dropped. */
export const fontsOf = (lines: readonly Line[] = []): readonly ArtworkFile[] =>
  lines.flatMap(({ font }) => (typeof font === 'string' ? [] : [font]));
