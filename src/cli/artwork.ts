import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { basename } from 'node:path';
import {
  NEW_ARTWORK,
  PLACED,
  type ArtworkSettings,
  type Ink,
  type Placement,
} from '../artwork/artwork.ts';
import { Refusal } from '../base/reason.ts';
import { readArt, type Art } from '../files/art.ts';
import { loadPdfjs } from '../files/load-pdfjs-node.ts';
import type { PrintWork } from '../files/print-pdf.ts';
import { decodeWithMagick } from '../picture/magick-node.ts';
import { whyUnread } from './place.ts';
import { figure, listOf, pairOf, textOf, Usage } from './usage.ts';

export const artworkHelp = `  --artwork FILE,FILE   PDF, PNG, JPEG or TIFF: also writes print.pdf. One is laid into every pocket, several one after the
                        other; --in-turn lays the pages of one file so
  --art-size SIZE       fit, fill (${PLACED.sizing}), or a scale, where 1 is the artwork's own size
  --art-at XxY          from the middle of the face, mm (0x0); --art-turn DEGREES; --art-mirror left to right
  --white NAME=MM       a white layer on the separation NAME: the face grown by MM, less than nothing chokes it
  --clear NAME=MM       the same for a clear layer; several with commas between
  --reverse             printed on the back of a clear blank: artwork mirrored, white last
  --art-revision TEXT   of the artwork (${NEW_ARTWORK.revision})
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

/** What the options ask for; undefined where there is no artwork. @throws Usage */
export function artworkOf(
  values: Values,
): { readonly paths: readonly string[]; readonly settings: ArtworkSettings } | undefined {
  const text = (name: string): string | undefined => textOf(values[name]);
  const given = text('artwork');
  if (given === undefined) {
    const other = Object.keys(artworkOptions).find((name) => values[name] !== undefined);
    if (other) throw new Usage(`--${other} needs --artwork, the file that is printed.`);
    return undefined;
  }
  const paths = given.split(',').map((path) => path.trim());
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

/** Reads the artwork files. @throws Refusal `artwork-damaged` where one cannot be opened, and as `readArt` does */
export async function readArtwork(
  paths: readonly string[],
  settings: ArtworkSettings,
): Promise<PrintWork> {
  const tools = { pdfjs: await loadPdfjs(), decode: decodeWithMagick };
  const arts: Art[] = [];
  const files: { name: string; digest: string }[] = [];
  for (const path of paths) {
    const bytes = await readFile(path).catch((error: unknown) => {
      throw new Refusal('artwork-damaged', { file: path, why: whyUnread(error) });
    });
    const name = basename(path);
    arts.push(await readArt(new Uint8Array(bytes), name, tools));
    files.push({ name, digest: createHash('sha256').update(bytes).digest('hex') });
  }
  return { arts, settings: { ...settings, files } };
}
