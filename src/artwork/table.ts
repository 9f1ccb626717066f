import Papa from 'papaparse';
import { Refusal } from '../base/reason.ts';

/** A table as it was pasted or dropped: rows of cells, all of them as long as the longest. */
export interface Table {
  readonly cells: readonly (readonly string[])[];
  /** The first row names the columns; else it is a piece like the others. */
  readonly headed: boolean;
}

/** More pieces than a day's work. */
const MOST_ROWS = 10_000;

/**
 * A table from text: cells between tabs, semicolons, commas or bars, whichever the first row has (RFC 4180 for quotes). Rows
 * without anything in them are left out. The first row is taken for names of columns unless a figure stands in it.
 *
 * @throws Refusal `table-empty`, `table-uneven`, `table-long`
 */
export function tableOf(text: string, file = 'The table'): Table {
  const plain = text.replace(/^\ufeff/, '');
  const { data } = Papa.parse<string[]>(plain, {
    delimiter: separatorOf(plain),
    skipEmptyLines: 'greedy',
  });
  const cells = data.map((row) => row.map((cell) => cell.trim().normalize('NFC')));
  const headed = cells.length > 1 && !cells[0]!.some((cell) => cell === '' || /^\d/.test(cell));
  if (cells.length - (headed ? 1 : 0) === 0) throw new Refusal('table-empty', { file });
  if (cells.length > MOST_ROWS)
    throw new Refusal('table-long', { file, rows: cells.length, most: MOST_ROWS });
  const width = cells[0]!.length;
  const uneven = cells.findIndex((row) => row.length > width);
  // A comma inside a name that is not quoted moves everything after it into the next column.
  if (uneven >= 0)
    throw new Refusal('table-uneven', {
      file,
      row: uneven + 1,
      cells: cells[uneven]!.length,
      columns: width,
    });
  return {
    headed,
    cells: cells.map((row) => [...row, ...Array<string>(width - row.length).fill('')]),
  };
}

/** What the cells of the first row stand between; where it is one cell, all rows are, whatever marks they hold. */
function separatorOf(text: string): string {
  const [first = ''] = text.trimStart().split(/\r?\n/);
  const bare = first.replace(/"[^"]*"/g, '');
  return ['\t', ';', ',', '|'].find((mark) => bare.includes(mark)) ?? Papa.UNIT_SEP;
}

/**
 * The text of a table file: UTF-8, UTF-16 where it says so, else the letters of western Europe (windows-1252), as
 * spreadsheets save them.
 *
 * @throws Refusal `table-kind` where it is no text
 */
export function textOfTable(bytes: Uint8Array, file: string): string {
  const [a, b] = bytes;
  const wide = a === 0xff && b === 0xfe ? 'utf-16le' : a === 0xfe && b === 0xff ? 'utf-16be' : '';
  if (wide) return new TextDecoder(wide).decode(bytes);
  if (bytes.includes(0)) throw new Refusal('table-kind', { file });
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder('windows-1252').decode(bytes);
  }
}

/** Names of the columns; numbers where the table gives none. */
export const columnsOf = ({ cells, headed }: Table): readonly string[] =>
  cells[0]!.map((name, k) => (headed && name !== '' ? name : `column ${k + 1}`));

/** One row for each piece. */
export const rowsOf = ({ cells, headed }: Table): readonly (readonly string[])[] =>
  headed ? cells.slice(1) : cells;
