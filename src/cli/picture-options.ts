/* What bears on one picture, as the command line takes it: the same options for every verb that measures one. */
import { readFile } from 'node:fs/promises';
import { basename } from 'node:path';
import { readScannerJson } from '../files/scanner-json.ts';
import { CARRIERS, growthU, KEPT } from '../sheet/growth.ts';
import { RIDERS } from '../sheet/layout.ts';
import type { ScannerProfile } from '../view/scan.ts';
import { whyUnread } from './place.ts';
import { DEFAULT_TRACE, type TraceOptions } from './trace.ts';
import { asUsage, figure, listOf, oneOf, textOf, Usage } from './usage.ts';

type Values = Readonly<Record<string, string | boolean | undefined>>;

export const PICTURE_HELP = `  --thickness MM          height of the face above the sheet; or per blank, "1=10,2=4": blanks are numbered from
                          left to right
  --thickness-u MM        its standard uncertainty (${DEFAULT_TRACE.thicknessU})
  --spans x=MM,y=MM,d=MM  check spans as measured on the printed sheet; any of them
  --span-u MM             their standard uncertainty (${DEFAULT_TRACE.spanU})
  --sheet-kept WHERE      where the sheet was since: today (read on the day of the picture), room, elsewhere (today)
  --sheet-on WHAT         what carries its print: paper, or board (paper)
  --block MM              height of a block beside the blanks that only carries a rider; several: "12.5,30"
  --rider-span MM         measured size of the rider; or by nominal size, "50=49.96,30=29.98"
  --rider-span-u MM       its standard uncertainty (${DEFAULT_TRACE.riderSpanU})
  --lens FILE             lens profile that "lens" wrote, of this camera, lens and picture size
  --widest MM             height of the widest edge above the sheet, where it is not the face's
  --face print|back       which face the picture shows (${DEFAULT_TRACE.face})
  --scan                  a flatbed scan with the strip or the sheet on the glass; --thickness may then be left out
  --scanner FILE          a flatbed scan, with a profile of the scanner instead of marks
  --dpi N                 a flatbed scan; where it shows no marks the scale comes from N dots per inch, doubtful
  --dpi-u PERCENT         standard uncertainty of N (0.5)
  --want MM               tolerance asked for: U (k = 2) above it is doubtful (${DEFAULT_TRACE.wantMm})`;

export const PICTURE_OPTIONS = {
  thickness: { type: 'string' },
  'thickness-u': { type: 'string' },
  spans: { type: 'string' },
  'span-u': { type: 'string' },
  'sheet-kept': { type: 'string' },
  'sheet-on': { type: 'string' },
  block: { type: 'string' },
  'rider-span': { type: 'string' },
  'rider-span-u': { type: 'string' },
  widest: { type: 'string' },
  face: { type: 'string' },
  want: { type: 'string' },
  lens: { type: 'string' },
  scan: { type: 'boolean' },
  scanner: { type: 'string' },
  dpi: { type: 'string' },
  'dpi-u': { type: 'string' },
} as const;

export const isScanned = (values: Values): boolean =>
  values.scan === true || values.scanner !== undefined || values.dpi !== undefined;

/** Thicker than this is a mistyped figure: a camera on a stand is about 300 mm up. */
const GREATEST_THICKNESS_MM = 250;
/** A span farther off than this was read at another place, or in another unit. */
const SPAN_SLACK = 0.1;

function thicknessOf(text: string): Pick<TraceOptions, 'thicknessMm' | 'thicknessOfBlankMm'> {
  const { bare, named } = listOf(
    '--thickness',
    text,
    (key) =>
      String(figure('--thickness, the blank number', key, { least: 1, whole: true, unit: '' })),
    (value) => figure('--thickness', value, { least: 0, most: GREATEST_THICKNESS_MM }),
  );
  return {
    ...(bare !== undefined && { thicknessMm: bare }),
    thicknessOfBlankMm: Object.fromEntries(named),
  };
}

/** Heights of blocks that carry riders. @throws Usage */
const blocksOf = (text: string): number[] =>
  text
    .split(',')
    .map((mm) => figure('--block', mm.trim(), { above: 0, most: GREATEST_THICKNESS_MM }));

/** Check spans as measured. @throws Usage */
export function spansOf(text: string): TraceOptions['spansMm'] {
  const { bare, named } = listOf(
    '--spans',
    text,
    (key) => oneOf('--spans', key, ['x', 'y', 'd']),
    (value) => figure('--spans', value, { above: 0, most: 2000 }),
  );
  if (bare !== undefined)
    throw new Usage(
      `--spans cannot be "${text}": say which span each figure is, for instance x=139.92,y=140.1.`,
    );
  return Object.fromEntries(named);
}

/** Riders by nominal size; a bare figure is that of the rider it lies nearest to. */
function riderSpansOf(text: string): TraceOptions['riderSpansMm'] {
  const sizes = RIDERS.map((r) => r.sizeMm);
  const { bare, named } = listOf(
    '--rider-span',
    text,
    (key) => {
      const size = sizes.find((s) => String(s) === key);
      if (size === undefined)
        throw new Usage(
          `--rider-span names a rider of ${key} mm; riders come in ${sizes.join(', ')} mm.`,
        );
      return String(size);
    },
    (value) => figure('--rider-span', value, { above: 0, most: 100 }),
  );
  const spans: Record<number, number> = {};
  if (bare !== undefined) {
    const nearest = sizes.reduce((a, b) => (Math.abs(b - bare) < Math.abs(a - bare) ? b : a));
    spans[nearest] = bare;
  }
  for (const [size, span] of named) spans[Number(size)] = span;
  for (const [size, span] of Object.entries(spans)) {
    if (Math.abs(span / Number(size) - 1) > SPAN_SLACK)
      throw new Usage(
        `--rider-span: ${span} mm is too far from ${size} mm to be a rider of that size; measure it again, outer edge to outer edge of its frame line.`,
      );
  }
  return spans;
}

/**
 * The options that bear on pictures, without the profiles that lie in files.
 * @throws Usage
 */
export function pictureOptions(verb: string, values: Values): TraceOptions {
  const isScan = isScanned(values);
  if (values['dpi-u'] !== undefined && values.dpi === undefined)
    throw new Usage('--dpi-u says how well --dpi is known; give --dpi as well.');
  if (values.thickness === undefined && !isScan)
    throw new Usage(
      `${verb} needs --thickness: it is the largest error of all when it is forgotten; measure it with calipers and give it in mm.`,
    );
  const number = (name: string, range: Parameters<typeof figure>[2]): number | undefined => {
    const text = textOf(values[name]);
    return text === undefined ? undefined : figure(`--${name}`, text, range);
  };
  const widestMm = number('widest', { least: 0, most: GREATEST_THICKNESS_MM });
  if (values.block !== undefined && isScan)
    throw new Usage('--block is about a photo; a scan shows no riders: leave one of them out.');
  const options: Mutable<TraceOptions> = {
    ...(values.thickness === undefined
      ? { thicknessOfBlankMm: {} }
      : thicknessOf(textOf(values.thickness)!)),
    thicknessU: number('thickness-u', { least: 0, most: 50 }) ?? DEFAULT_TRACE.thicknessU,
    spansMm: values.spans === undefined ? {} : spansOf(textOf(values.spans)!),
    spanU: number('span-u', { above: 0, most: 50 }) ?? DEFAULT_TRACE.spanU,
    growthU: growthU(
      oneOf('--sheet-kept', textOf(values['sheet-kept']) ?? 'today', KEPT),
      oneOf('--sheet-on', textOf(values['sheet-on']) ?? 'paper', CARRIERS),
    ),
    ...(values.block !== undefined && { blocksMm: blocksOf(textOf(values.block)!) }),
    riderSpansMm:
      values['rider-span'] === undefined ? {} : riderSpansOf(textOf(values['rider-span'])!),
    riderSpanU: number('rider-span-u', { above: 0, most: 50 }) ?? DEFAULT_TRACE.riderSpanU,
    ...(widestMm !== undefined && { widestMm }),
    face: oneOf('--face', textOf(values.face) ?? DEFAULT_TRACE.face, ['print', 'back']),
    wantMm: number('want', { above: 0, most: 50 }) ?? DEFAULT_TRACE.wantMm,
  };
  if (isScan) {
    const dpi = number('dpi', { least: 20, most: 20_000, unit: '' });
    const dpiPercent = number('dpi-u', { above: 0, most: 20, unit: '' });
    if (dpi !== undefined && values.scanner !== undefined)
      throw new Usage('--scanner and --dpi both say the scale; give one of them.');
    options.scan = {
      ...(dpi !== undefined && { dpi }),
      ...(dpiPercent !== undefined && { dpiShare: dpiPercent / 100 }),
    };
  }
  return options;
}

/**
 * The same with the profiles that are named.
 * @throws Usage
 */
export async function withProfiles(plain: TraceOptions, values: Values): Promise<TraceOptions> {
  const options: Mutable<TraceOptions> = { ...plain };
  const lensFile = textOf(values.lens);
  if (lensFile !== undefined && options.scan)
    throw new Usage('--lens is about a camera; a scan has none: leave one of them out.');
  if (lensFile !== undefined)
    options.lens = { name: basename(lensFile), text: await lensProfileText(lensFile) };
  if (values.scanner !== undefined) {
    const profile = await profileAt(textOf(values.scanner)!);
    options.scan = { ...options.scan, profile };
  }
  return options;
}

/** @throws Usage */
async function lensProfileText(path: string): Promise<string> {
  try {
    return await readFile(path, 'utf8');
  } catch (error) {
    throw new Usage(`--lens cannot be ${path}: ${whyUnread(error)}.`);
  }
}

type Mutable<T> = { -readonly [K in keyof T]: T[K] };

/** The scanner profile in a file. @throws Usage */
async function profileAt(path: string): Promise<ScannerProfile> {
  let bytes: Uint8Array;
  try {
    bytes = await readFile(path);
  } catch {
    throw new Usage(
      `--scanner: ${path} cannot be read; give the file that the verb scanner wrote.`,
    );
  }
  return asUsage('--scanner', () => readScannerJson(bytes, basename(path)));
}
