import type { Point } from '../base/measure.ts';
import { ascii } from './letters.ts';

/** Grid that letters are drawn on: four wide, six high, six from one to the next. */
const CAP = 6;
const ADVANCE = 6;

/** Letters as single strokes: corners by column and row of the grid, strokes with bars between them. */
const STROKES: Readonly<Record<string, string>> = {
  ' ': '',
  A: '00 26 40|13 33',
  B: '03 06 36 45 44 33 03 00 30 41 42 33',
  C: '45 36 16 05 01 10 30 41',
  D: '00 06 26 45 41 20 00',
  E: '46 06 00 40|03 33',
  F: '46 06 00|03 33',
  G: '45 36 16 05 01 10 30 41 43 23',
  H: '00 06|40 46|03 43',
  I: '20 26|10 30|16 36',
  J: '46 41 30 10 01',
  K: '00 06|46 03 40',
  L: '06 00 40',
  M: '00 06 23 46 40',
  N: '00 06 40 46',
  O: '10 01 05 16 36 45 41 30 10',
  P: '00 06 36 45 44 33 03',
  Q: '10 01 05 16 36 45 41 30 10|22 40',
  R: '00 06 36 45 44 33 03|23 40',
  S: '45 36 16 05 04 13 33 42 41 30 10 01',
  T: '06 46|20 26',
  U: '06 01 10 30 41 46',
  V: '06 20 46',
  W: '06 10 24 30 46',
  X: '00 46|06 40',
  Y: '06 23 46|23 20',
  Z: '06 46 00 40',
  0: '10 01 05 16 36 45 41 30 10|12 34',
  1: '04 26 20|10 30',
  2: '05 16 36 45 44 00 40',
  3: '05 16 36 45 44 33 13|33 42 41 30 10 01',
  4: '30 36 02 42',
  5: '46 06 04 34 43 41 30 10 01',
  6: '45 36 16 05 01 10 30 41 42 33 13 02',
  7: '06 46 10',
  8: '13 04 05 16 36 45 44 33 13 02 01 10 30 41 42 33',
  9: '01 10 30 41 45 36 16 05 04 13 33 44',
  '-': '13 33',
  _: '00 40',
  '.': '10 20 21 11 10',
  ',': '21 10',
  ':': '11 21 22 12 11|14 24 25 15 14',
  '/': '00 46',
  '+': '13 33|22 24',
};

/** Width of words whose capitals are this high, mm. */
export const strokeWidthMm = (words: string, heightMm: number): number =>
  ((ADVANCE * (words.length - 1) + 4) * heightMm) / CAP;

/**
 * Words as single strokes from their lower left corner, for a tool that follows lines: capitals, digits, a few marks;
 * anything else becomes a hyphen.
 */
export function strokeLetters(
  words: string,
  at: Point<'bed'>,
  heightMm: number,
): readonly (readonly Point<'bed'>[])[] {
  const unit = heightMm / CAP;
  return [...ascii(words).toUpperCase()].flatMap((letter, k) =>
    (STROKES[letter] ?? STROKES['-']!)
      .split('|')
      .filter((stroke) => stroke !== '')
      .map((stroke) =>
        stroke.split(' ').map((place) => ({
          x: at.x + (k * ADVANCE + Number(place[0])) * unit,
          y: at.y + Number(place[1]) * unit,
        })),
      ),
  );
}
