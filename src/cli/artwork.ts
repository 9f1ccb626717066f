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
import { ofBack } from '../artwork/back.ts';
import { ALIGNS, newLine, SHIPPED_FONTS, SHIPPED_NAMES, type Line } from '../artwork/run.ts';
import { columnsOf, tableOf, textOfTable, type Table } from '../artwork/table.ts';
import { Refusal } from '../base/reason.ts';
import { readArt, type Art } from '../files/art.ts';
import { openFont, type OpenFont } from '../files/font.ts';
import { loadFont } from '../files/load-fonts-node.ts';
import { loadPdfjs } from '../files/load-pdfjs-node.ts';
import { resolveSvg } from '../files/load-svg-node.ts';
import { sheetsOf, type PrintWork } from '../files/print-pdf.ts';
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
  --back-artwork FILE   the same for the back of pieces that are turned over (--both-sides): writes back-print.pdf. It lies as the
                        back is read; --back-in-turn, --back-art-size, --back-art-at, --back-art-turn, --back-art-mirror,
                        --back-white, --back-clear, and --back-words from the same table
`;

/** What each side has of its own; the back's begin with "back-". */
const sideOptions = {
  artwork: { type: 'string' },
  'in-turn': { type: 'boolean' },
  'art-size': { type: 'string' },
  'art-at': { type: 'string' },
  'art-turn': { type: 'string' },
  'art-mirror': { type: 'boolean' },
  white: { type: 'string' },
  clear: { type: 'string' },
  words: { type: 'string' },
} as const;

type BackOptions = {
  [Name in keyof typeof sideOptions as `back-${Name}`]: (typeof sideOptions)[Name];
};
const backOptions = Object.fromEntries(
  Object.entries(sideOptions).map(([name, option]) => [`back-${name}`, option]),
) as BackOptions;

export const artworkOptions = {
  ...sideOptions,
  ...backOptions,
  reverse: { type: 'boolean' },
  'art-revision': { type: 'string' },
  table: { type: 'string' },
} as const;

type Values = Readonly<Record<string, string | boolean | undefined>>;

function sizing(option: string, text: string | undefined): Pick<Placement, 'sizing' | 'scale'> {
  if (text === undefined) return PLACED;
  if (text === 'fit' || text === 'fill') return { sizing: text, scale: 1 };
  return {
    sizing: 'scale',
    scale: figure(option, text, { above: 0, most: 1000, unit: '' }),
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

function linesOf(option: string, text: string): AskedLine[] {
  return text.split(';').map((part, k) => {
    const [column = '', ...rest] = part.split(',').map((p) => p.trim());
    if (column === '' || column.includes('='))
      throw new Usage(`${option} needs the name of a column first, for instance "Name,height=6".`);
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
    const mm = (least: number) => (value: string) => figure(option, value, { least, most: 2000 });
    const fresh = newLine(0, k);
    const [xMm, yMm] = read('at', (value) => pairOf(`${option} at`, value, -10_000), [
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
        (value) => figure(`${option} turn`, value, { least: -360, most: 360, unit: 'degrees' }),
        0,
      ),
      align: read('align', (value) => oneOf(`${option} align`, value, ALIGNS), fresh.align),
      colour: read(
        'colour',
        (value) => {
          const [, hex] = /^#?([0-9a-f]{6})$/i.exec(value) ?? [];
          if (!hex) throw new Usage(`${option} colour is six hexadecimal digits, not "${value}".`);
          return `#${hex.toLowerCase()}`;
        },
        fresh.colour,
      ),
      roomMm: read<number | null>('room', mm(1), null),
    };
    const [unknown] = given.keys();
    if (unknown !== undefined)
      throw new Usage(`${option} has nothing called "${unknown}"; "jig --help" lists what it has.`);
    return line;
  });
}

/** What the options ask for on one side, before any file is read. */
interface AskedSide {
  readonly paths: readonly string[];
  readonly lines?: readonly AskedLine[];
  readonly settings: Pick<ArtworkSettings, 'share' | 'placement' | 'inks'>;
}

/** What the options ask for, before any file is read. */
export interface AskedArtwork {
  readonly table?: string;
  readonly front: AskedSide;
  readonly back?: AskedSide;
  readonly settings: Pick<ArtworkSettings, 'reverse' | 'revision'>;
}

/** What is asked for on the front, or with "back-" on the back; undefined where nothing is. @throws Usage */
function sideOf(values: Values, before: '' | 'back-', table: boolean): AskedSide | undefined {
  const option = (name: keyof typeof sideOptions): string => `--${before}${name}`;
  const text = (name: keyof typeof sideOptions): string | undefined =>
    textOf(values[before + name]);
  const [given, words] = [text('artwork'), text('words')];
  if (words !== undefined && !table)
    throw new Usage(`${option('words')} needs --table, the file that the words stand in.`);
  if (given === undefined && !(before === '' ? table : words !== undefined)) {
    const names = Object.keys(sideOptions) as (keyof typeof sideOptions)[];
    const other = names.find((name) => values[before + name] !== undefined);
    if (other)
      throw new Usage(`${option(other)} needs ${option('artwork')}, the file that is printed.`);
    return undefined;
  }
  const paths = given?.split(',').map((path) => path.trim()) ?? [];
  const at = text('art-at');
  const [xMm, yMm] = at === undefined ? [0, 0] : pairOf(option('art-at'), at, -10_000);
  const turn = text('art-turn');
  const inks = [
    ...inksOf(option('white'), 'white', text('white')),
    ...inksOf(option('clear'), 'clear', text('clear')),
  ];
  const twice = inks.find(({ name }, k) => inks.findIndex((i) => i.name === name) !== k);
  if (twice) throw new Usage(`The separation ${twice.name} is named twice; name each once.`);
  return {
    paths,
    ...(words !== undefined && { lines: linesOf(option('words'), words) }),
    settings: {
      share: paths.length > 1 || values[`${before}in-turn`] === true ? 'in turn' : 'one',
      placement: {
        ...sizing(option('art-size'), text('art-size')),
        xMm,
        yMm,
        turnDeg:
          turn === undefined
            ? 0
            : figure(option('art-turn'), turn, { least: -360, most: 360, unit: 'degrees' }),
        mirrored: values[`${before}art-mirror`] === true,
      },
      inks,
    },
  };
}

/** What the options ask for; undefined where there is no artwork. @throws Usage */
export function artworkOf(values: Values): AskedArtwork | undefined {
  const table = textOf(values.table);
  const [front, back] = [
    sideOf(values, '', table !== undefined),
    sideOf(values, 'back-', table !== undefined),
  ];
  if (back && values['both-sides'] === undefined)
    throw new Usage(
      'Artwork for the back needs --both-sides, the axis that pieces are turned over about.',
    );
  if (!front && !back) {
    const other = (['reverse', 'art-revision'] as const).find((n) => values[n] !== undefined);
    if (other) throw new Usage(`--${other} needs --artwork, the file that is printed.`);
    return undefined;
  }
  return {
    ...(table !== undefined && { table }),
    front: front ?? { paths: [], settings: NEW_ARTWORK },
    ...(back && { back }),
    settings: {
      reverse: values.reverse === true,
      revision: textOf(values['art-revision']) ?? NEW_ARTWORK.revision,
    },
  };
}

/**
 * Reads the artwork files, the table and its fonts.
 *
 * @throws Refusal `artwork-damaged` where one cannot be opened, `column-unknown`, and as `readArt`, `tableOf` and `openFont` do
 */
export async function readArtwork({
  table,
  front,
  back,
  settings,
}: AskedArtwork): Promise<{ readonly work: PrintWork; readonly back?: PrintWork }> {
  const rows = table === undefined ? undefined : await readTable(table);
  const known = new Map<string, { open: OpenFont; font: Line['font'] }>();
  const linesSet = async (
    asked: readonly AskedLine[],
  ): Promise<{ lines: Line[]; fonts: OpenFont[] }> => {
    const { file, columns } = rows!;
    const [lines, fonts]: [Line[], OpenFont[]] = [[], []];
    for (const line of asked) {
      const column = columns.indexOf(line.column);
      if (column < 0)
        throw new Refusal('column-unknown', {
          file,
          column: line.column,
          columns: columns.join(', '),
        });
      const one = known.get(line.font) ?? (await fontOf(line.font));
      known.set(line.font, one);
      fonts.push(one.open);
      lines.push({ ...line, column, font: one.font });
    }
    return { lines, fonts };
  };
  const first = (): AskedLine => ({ ...newLine(0, 0), column: rows!.columns[0]!, font: 'plain' });
  const fore = await readArts(front.paths);
  const set = rows && (await linesSet(front.lines ?? [first()]));
  const whole: ArtworkSettings = {
    ...settings,
    ...front.settings,
    files: fore.files,
    ...(set && { run: { table: rows.table, lines: set.lines } }),
  };
  const work = { arts: fore.arts, settings: whole, fonts: set?.fonts ?? [] };
  if (!back) return { work };
  const rear = await readArts(back.paths);
  const own = back.lines ? await linesSet(back.lines) : { lines: [], fonts: [] };
  const both = { ...whole, back: { ...back.settings, files: rear.files, lines: own.lines } };
  return {
    work: { ...work, settings: both },
    back: {
      arts: rear.arts,
      settings: ofBack(both, sheetsOf(fore.arts).length),
      fonts: own.fonts,
    },
  };
}

async function readArts(
  paths: readonly string[],
): Promise<{ arts: readonly Art[]; files: readonly ArtworkFile[] }> {
  const tools = { pdfjs: await loadPdfjs(), decode: decodeWithMagick, resolveSvg };
  const [arts, files]: [Art[], ArtworkFile[]] = [[], []];
  for (const path of paths) {
    const { bytes, file } = await opened(path);
    arts.push(await readArt(bytes, file.name, tools));
    files.push(file);
  }
  return { arts, files };
}

async function readTable(
  path: string,
): Promise<{ file: string; table: Table; columns: readonly string[] }> {
  const { bytes, file } = await opened(path);
  const table = tableOf(textOfTable(bytes, file.name), file.name);
  return { file: file.name, table, columns: columnsOf(table) };
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
