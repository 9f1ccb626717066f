import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { basename } from 'node:path';
import {
  NEW_ARTWORK,
  PLACED,
  type ArtworkFile,
  type ArtworkSettings,
  type Ink,
  type Placement,
} from '../artwork/artwork.ts';
import { ALIGNS, newLine, SHIPPED_FONTS, SHIPPED_NAMES, type Line } from '../artwork/run.ts';
import { columnsOf, tableOf, textOfTable } from '../artwork/table.ts';
import { Refusal } from '../base/reason.ts';
import { readArt, type Art } from '../files/art.ts';
import { openFont, type OpenFont } from '../files/font.ts';
import { loadFont } from '../files/load-fonts-node.ts';
import { loadPdfjs } from '../files/load-pdfjs-node.ts';
import { resolveSvg } from '../files/load-svg-node.ts';
import type { PrintWork } from '../files/print-pdf.ts';
import { decodeWithMagick } from '../picture/magick-node.ts';
import { whyUnread } from './place.ts';
import { figure, listOf, oneOf, pairOf, textOf, Usage } from './usage.ts';

export const artworkHelp = `  --artwork FILE,FILE   PDF, SVG, PNG, JPEG or TIFF: also writes print.pdf. One is laid into every pocket, several one after the
                        other; --in-turn lays the pages of one file so
  --art-size SIZE       fit, fill (${PLACED.sizing}), or a scale, where 1 is the artwork's own size
  --art-at XxY          from the middle of the face, mm (0x0); --art-turn DEGREES; --art-mirror left to right
  --white NAME=MM       a white layer on the separation NAME: the face grown by MM, less than nothing chokes it
  --clear NAME=MM       the same for a clear layer; several with commas between
  --reverse             printed on the back of a clear blank: artwork mirrored, white last
  --art-revision TEXT   of the artwork (${NEW_ARTWORK.revision})
  --table FILE          names and numbers as CSV, a row for each piece below a row that names the columns; print.pdf gets a
                        page for each load, and print-list.csv says which row lies where; with or without --artwork
  --words LIST          lines of words from its columns, each "COLUMN,height=MM,at=XxY,room=MM,turn=DEGREES,align=KIND,
                        colour=RRGGBB,font=FONT", with semicolons between; without it the first column, in the middle
                        align: ${ALIGNS.join(', ')}; font: ${SHIPPED_FONTS.join(', ')}, or a TTF, OTF, WOFF or WOFF2 file
`;

export const artworkOptions = {
  artwork: { type: 'string' },
  'in-turn': { type: 'boolean' },
  'art-size': { type: 'string' },
  'art-at': { type: 'string' },
  'art-turn': { type: 'string' },
  'art-mirror': { type: 'boolean' },
  white: { type: 'string' },
  clear: { type: 'string' },
  reverse: { type: 'boolean' },
  'art-revision': { type: 'string' },
  table: { type: 'string' },
  words: { type: 'string' },
} as const;

type Values = Readonly<Record<string, string | boolean | undefined>>;

function sizing(text: string | undefined): Pick<Placement, 'sizing' | 'scale'> {
  if (text === undefined) return PLACED;
  if (text === 'fit' || text === 'fill') return { sizing: text, scale: 1 };
  return {
    sizing: 'scale',
    scale: figure('--art-size', text, { above: 0, most: 1000, unit: '' }),
  };
}

function inksOf(option: string, kind: Ink['kind'], text: string | undefined): Ink[] {
  if (text === undefined) return [];
  const { bare, named } = listOf(
    option,
    text,
    (name) => name,
    (value) => figure(option, value, { least: -50, most: 50 }),
  );
  if (bare !== undefined || named.has(''))
    throw new Usage(`${option} needs the name of the separation, for instance White=-0.2.`);
  return [...named].map(([name, growMm]) => ({ kind, name, growMm }));
}

/** A line of words as it was asked for: its column by name, its font by name or path. */
type AskedLine = Omit<Line, 'column' | 'font'> & { readonly column: string; readonly font: string };

function linesOf(text: string): AskedLine[] {
  return text.split(';').map((part, k) => {
    const [column = '', ...rest] = part.split(',').map((p) => p.trim());
    if (column === '' || column.includes('='))
      throw new Usage('--words needs the name of a column first, for instance "Name,height=6".');
    const given = new Map(
      rest.map((pair) => {
        const [key = '', ...value] = pair.split('=');
        return [key.trim(), value.join('=').trim()] as const;
      }),
    );
    const read = <T>(key: string, way: (value: string) => T, otherwise: T): T => {
      const value = given.get(key);
      given.delete(key);
      return value === undefined ? otherwise : way(value);
    };
    const mm = (least: number) => (value: string) =>
      figure('--words', value, { least, most: 2000 });
    const fresh = newLine(0, k);
    const [xMm, yMm] = read('at', (value) => pairOf('--words at', value, -10_000), [
      fresh.xMm,
      fresh.yMm,
    ]);
    const line: AskedLine = {
      column,
      font: read('font', (value) => value, 'plain'),
      heightMm: read('height', mm(0.5), fresh.heightMm),
      xMm,
      yMm,
      turnDeg: read(
        'turn',
        (value) => figure('--words turn', value, { least: -360, most: 360, unit: 'degrees' }),
        0,
      ),
      align: read('align', (value) => oneOf('--words align', value, ALIGNS), fresh.align),
      colour: read(
        'colour',
        (value) => {
          const [, hex] = /^#?([0-9a-f]{6})$/i.exec(value) ?? [];
          if (!hex) throw new Usage(`--words colour is six hexadecimal digits, not "${value}".`);
          return `#${hex.toLowerCase()}`;
        },
        fresh.colour,
      ),
      roomMm: read<number | null>('room', mm(1), null),
    };
    const [unknown] = given.keys();
    if (unknown !== undefined)
      throw new Usage(`--words has nothing called "${unknown}"; "jig --help" lists what it has.`);
    return line;
  });
}

/** What the options ask for, before any file is read. */
export interface AskedArtwork {
  readonly paths: readonly string[];
  readonly table?: string;
  readonly lines?: readonly AskedLine[];
  readonly settings: ArtworkSettings;
}

/** What the options ask for; undefined where there is no artwork. @throws Usage */
export function artworkOf(values: Values): AskedArtwork | undefined {
  const text = (name: string): string | undefined => textOf(values[name]);
  const [given, table, words] = [text('artwork'), text('table'), text('words')];
  if (words !== undefined && table === undefined)
    throw new Usage('--words needs --table, the file that the words stand in.');
  if (given === undefined && table === undefined) {
    const other = Object.keys(artworkOptions).find((name) => values[name] !== undefined);
    if (other) throw new Usage(`--${other} needs --artwork, the file that is printed.`);
    return undefined;
  }
  const paths = given?.split(',').map((path) => path.trim()) ?? [];
  const at = text('art-at');
  const [xMm, yMm] = at === undefined ? [0, 0] : pairOf('--art-at', at, -10_000);
  const turn = text('art-turn');
  const inks = [
    ...inksOf('--white', 'white', text('white')),
    ...inksOf('--clear', 'clear', text('clear')),
  ];
  const twice = inks.find(({ name }, k) => inks.findIndex((i) => i.name === name) !== k);
  if (twice) throw new Usage(`The separation ${twice.name} is named twice; name each once.`);
  return {
    paths,
    ...(table !== undefined && { table }),
    ...(words !== undefined && { lines: linesOf(words) }),
    settings: {
      ...NEW_ARTWORK,
      share: paths.length > 1 || values['in-turn'] === true ? 'in turn' : 'one',
      placement: {
        ...sizing(text('art-size')),
        xMm,
        yMm,
        turnDeg:
          turn === undefined
            ? 0
            : figure('--art-turn', turn, { least: -360, most: 360, unit: 'degrees' }),
        mirrored: values['art-mirror'] === true,
      },
      inks,
      reverse: values.reverse === true,
      revision: text('art-revision') ?? NEW_ARTWORK.revision,
    },
  };
}

/**
 * Reads the artwork files, the table and its fonts.
 *
 * @throws Refusal `artwork-damaged` where one cannot be opened, `column-unknown`, and as `readArt`, `tableOf` and `openFont` do
 */
export async function readArtwork({
  paths,
  table,
  lines,
  settings,
}: AskedArtwork): Promise<PrintWork> {
  const tools = { pdfjs: await loadPdfjs(), decode: decodeWithMagick, resolveSvg };
  const arts: Art[] = [];
  const files: ArtworkFile[] = [];
  for (const path of paths) {
    const { bytes, file } = await opened(path);
    arts.push(await readArt(bytes, file.name, tools));
    files.push(file);
  }
  if (table === undefined) return { arts, settings: { ...settings, files }, fonts: [] };
  const { bytes, file } = await opened(table);
  const rows = tableOf(textOfTable(bytes, file.name), file.name);
  const columns = columnsOf(rows);
  const fonts: OpenFont[] = [];
  const known = new Map<string, { open: OpenFont; font: Line['font'] }>();
  const set: Line[] = [];
  for (const line of lines ?? [{ ...newLine(0, 0), column: columns[0]!, font: 'plain' }]) {
    const column = columns.indexOf(line.column);
    if (column < 0)
      throw new Refusal('column-unknown', {
        file: file.name,
        column: line.column,
        columns: columns.join(', '),
      });
    const one = known.get(line.font) ?? (await fontOf(line.font));
    known.set(line.font, one);
    fonts.push(one.open);
    set.push({ ...line, column, font: one.font });
  }
  return { arts, settings: { ...settings, files, run: { table: rows, lines: set } }, fonts };
}

async function fontOf(named: string): Promise<{ open: OpenFont; font: Line['font'] }> {
  const own = SHIPPED_FONTS.find((font) => font === named);
  if (own) return { open: openFont(await loadFont(own), SHIPPED_NAMES[own]), font: own };
  const { bytes, file } = await opened(named);
  return { open: openFont(bytes, file.name), font: file };
}

async function opened(path: string): Promise<{ bytes: Uint8Array; file: ArtworkFile }> {
  const bytes = await readFile(path).catch((error: unknown) => {
    throw new Refusal('artwork-damaged', { file: path, why: whyUnread(error) });
  });
  const digest = createHash('sha256').update(bytes).digest('hex');
  return { bytes: new Uint8Array(bytes), file: { name: basename(path), digest } };
}
