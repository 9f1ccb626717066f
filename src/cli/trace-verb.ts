import { readFile } from 'node:fs/promises';
import { availableParallelism } from 'node:os';
import { basename, extname, join } from 'node:path';
import { RIDERS } from '../sheet/layout.ts';
import { batch, table } from './batch.ts';
import { measured, type Measured } from './measured.ts';
import { mayWrite, mayWriteInto, whyUnread, write } from './place.ts';
import { DEFAULT_TRACE, type TraceOptions } from './trace.ts';
import { readScannerJson } from '../files/scanner-json.ts';
import type { ScannerProfile } from '../view/scan.ts';
import {
  asUsage,
  figure,
  listOf,
  needed,
  oneOf,
  readArgs,
  textOf,
  Usage,
  type Verb,
} from './usage.ts';

const help = `trace PICTURE ... --thickness MM --out outline.json [options]

Measures one photo or scan of blanks on a reference sheet and writes their outlines at true scale, as GeoJSON in the
sheet frame (mm, origin at the lower left corner of the sheet as designed, x right, y up, print face up).
JPEG, PNG, TIFF, HEIC, AVIF and WebP are read, up to 50 megapixels.

  --thickness MM          height of the face above the sheet; or per blank, "1=10,2=4": blanks are numbered from
                          left to right
  --thickness-u MM        its standard uncertainty (${DEFAULT_TRACE.thicknessU})
  --spans x=MM,y=MM,d=MM  check spans as measured on the printed sheet; any of them
  --span-u MM             their standard uncertainty (${DEFAULT_TRACE.spanU})
  --rider-span MM         measured size of the rider; or by nominal size, "50=49.96,30=29.98"
  --rider-span-u MM       its standard uncertainty (${DEFAULT_TRACE.riderSpanU})
  --lens FILE             lens profile that "lens" wrote, of this camera, lens and picture size
  --widest MM             height of the widest edge above the sheet, where it is not the face's
  --face print|back       which face the picture shows (${DEFAULT_TRACE.face})
  --scan                  a flatbed scan with the strip or the sheet on the glass; --thickness may then be left out
  --scanner FILE          a flatbed scan, with a profile of the scanner instead of marks
  --dpi N                 a flatbed scan; where it shows no marks the scale comes from N dots per inch, doubtful
  --dpi-u PERCENT         standard uncertainty of N (0.5)
  --want MM               tolerance asked for: U (k = 2) above it is doubtful (${DEFAULT_TRACE.wantMm})
  --pieces                the blanks are pieces of one kind: also their envelope, which then takes the pocket for all
  --separate              the pictures show different blanks: each is measured alone, by all cores at once; --out is a
                          folder, whose table.csv tells of every picture
  --threads N             how many at once (as many as there are cores)
  --out FILE              the outlines
  --force                 replace the file when it exists

Exit status: 0 done (ok or doubtful), 3 refused (the file then holds the reasons and no outlines), 2 wrong usage.
`;

/** More pictures of one blank tell nothing new. */
const MOST_TOGETHER = 8;
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

async function run(args: readonly string[]): Promise<number> {
  const { values, positionals } = readArgs(
    'trace',
    args,
    {
      thickness: { type: 'string' },
      'thickness-u': { type: 'string' },
      spans: { type: 'string' },
      'span-u': { type: 'string' },
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
      pieces: { type: 'boolean' },
      separate: { type: 'boolean' },
      threads: { type: 'string' },
      out: { type: 'string' },
      force: { type: 'boolean' },
    },
    { positionals: 'some' },
  );
  if (positionals.length === 0)
    throw new Usage('trace needs a picture; "trace --help" shows an example.');
  const separate = values.separate === true;
  const twice = positionals.find((path, k) => positionals.indexOf(path) !== k);
  if (twice !== undefined) throw new Usage(`${twice} is given twice; give it once.`);
  if (!separate && positionals.length > MOST_TOGETHER)
    throw new Usage(
      `${positionals.length} pictures are too many to be measured together; up to ${MOST_TOGETHER} are. For pictures of different blanks add --separate.`,
    );
  const isScan = values.scan === true || values.scanner !== undefined || values.dpi !== undefined;
  if (values['dpi-u'] !== undefined && values.dpi === undefined)
    throw new Usage('--dpi-u says how well --dpi is known; give --dpi as well.');
  if (values.thickness === undefined && !isScan)
    throw new Usage(
      'trace needs --thickness: it is the largest error of all when it is forgotten; measure it with calipers and give it in mm.',
    );
  const number = (name: string, range: Parameters<typeof figure>[2]): number | undefined => {
    const text = textOf(values[name]);
    return text === undefined ? undefined : figure(`--${name}`, text, range);
  };
  const widestMm = number('widest', { least: 0, most: GREATEST_THICKNESS_MM });
  const options: Mutable<TraceOptions> = {
    pieces: values.pieces === true,
    ...(values.thickness === undefined
      ? { thicknessOfBlankMm: {} }
      : thicknessOf(textOf(values.thickness)!)),
    thicknessU: number('thickness-u', { least: 0, most: 50 }) ?? DEFAULT_TRACE.thicknessU,
    spansMm: values.spans === undefined ? {} : spansOf(textOf(values.spans)!),
    spanU: number('span-u', { above: 0, most: 50 }) ?? DEFAULT_TRACE.spanU,
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
  const out = needed('trace', '--out', values.out);
  const force = values.force === true;
  if (isScan && positionals.length > 1 && !separate)
    throw new Usage('Scans are measured one at a time; add --separate to measure several.');
  const threads =
    number('threads', { least: 1, most: 256, whole: true, unit: '' }) ?? availableParallelism();
  if (values.threads !== undefined && !separate)
    throw new Usage('--threads is for many pictures; add --separate.');
  const targets = separate ? fileNames(positionals) : [];
  if (separate) await mayWriteInto(out, [...targets, TABLE], force);
  else await mayWrite(out, force);
  const lensFile = textOf(values.lens);
  if (lensFile !== undefined && options.scan)
    throw new Usage('--lens is about a camera; a scan has none: leave one of them out.');
  if (lensFile !== undefined)
    options.lens = { name: basename(lensFile), text: await lensProfileText(lensFile) };
  if (values.scanner !== undefined) {
    const profile = await profileAt(textOf(values.scanner)!);
    options.scan = { ...options.scan, profile };
  }

  if (!separate) return written(out, await measured(positionals, options), force);
  let status = 0;
  const rows: (string | number)[][] = [TABLE_HEAD];
  const faults: unknown[] = [];
  await batch(positionals, options, threads, async (k, done) => {
    const picture = positionals[k]!;
    if ('fault' in done) {
      faults.push(done.fault);
      console.error(`snugline: ${picture} met a fault of the program; the others go on.`);
      rows.push([picture, 'fault', '', '', '', '']);
      return;
    }
    status = Math.max(status, await written(join(out, targets[k]!), done, force, `${picture}: `));
    rows.push(rowOf(picture, done, targets[k]!));
  });
  await write(join(out, TABLE), table(rows), force);
  if (faults.length > 0) throw faults[0];
  return status;
}

/** What came of every picture of a batch. */
const TABLE = 'table.csv';
const TABLE_HEAD = ['picture', 'verdict', 'blanks', 'U_mm', 'reasons', 'outlines'];
const rowOf = (picture: string, done: Measured, file: string): (string | number)[] => [
  picture,
  done.verdict,
  done.blanks,
  done.greatestU?.toFixed(3) ?? '',
  done.reasons.map(({ message, remedy }) => `${message} ${remedy}`).join(' '),
  file,
];

/** Writes what came of it and says so; the exit status. */
async function written(out: string, done: Measured, force: boolean, of = ''): Promise<number> {
  await write(out, done.json, force);
  for (const { message, remedy } of done.reasons)
    console.error(`snugline: ${of}${message} ${remedy}`);
  if (done.verdict === 'refused') return 3;
  const blanks = `${done.blanks} ${done.blanks === 1 ? 'blank' : 'blanks'}`;
  console.log(
    `${done.verdict}: ${blanks}, U (k = 2) up to ${(done.greatestU ?? 0).toFixed(2)} mm, ${out}`,
  );
  return 0;
}

/** One file for each picture, named as it is. @throws Usage */
function fileNames(paths: readonly string[]): string[] {
  const names = paths.map((path) => `${basename(path, extname(path))}.json`);
  const same = names.find((name, k) => names.indexOf(name) !== k);
  if (same !== undefined)
    throw new Usage(`Two pictures would both go into ${same}; rename one of them.`);
  return names;
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

export const traceVerb: Verb = { help, run };
