import { availableParallelism } from 'node:os';
import { basename, extname, join } from 'node:path';
import { batch, table } from './batch.ts';
import { measured, type Measured } from './measured.ts';
import {
  isScanned,
  PICTURE_HELP,
  PICTURE_OPTIONS,
  pictureOptions,
  withProfiles,
} from './picture-options.ts';
import { mayWrite, mayWriteInto, write } from './place.ts';
import type { TraceOptions } from './trace.ts';
import { figure, needed, readArgs, textOf, Usage, type Verb } from './usage.ts';

const help = `trace PICTURE ... --thickness MM --out outline.json [options]

Measures one photo or scan of blanks on a reference sheet and writes their outlines at true scale, as GeoJSON in the
sheet frame (mm, origin at the lower left corner of the sheet as designed, x right, y up, print face up).
JPEG, PNG, TIFF, HEIC, AVIF and WebP are read, up to 50 megapixels; a single one that is neither HEIC nor AVIF up to 150
(A4 at 1200 dpi), within 1 GiB of memory.

${PICTURE_HELP}
  --pieces                the blanks are pieces of one kind: also their envelope, which then takes the pocket for all
  --pieces-in FILE,FILE   with --pieces: further pictures with others of that kind, each measured alone
  --mean                  with --pieces: their mean in place of their envelope
  --separate              the pictures show different blanks: each is measured alone, by all cores at once; --out is a
                          folder, whose table.csv tells of every picture
  --threads N             how many at once (as many as there are cores)
  --out FILE              the outlines
  --force                 replace the file when it exists

Exit status: 0 done (ok or doubtful), 3 refused (the file then holds the reasons and no outlines), 2 wrong usage.
`;

/** More pictures of one blank tell nothing new. */
const MOST_TOGETHER = 8;

async function run(args: readonly string[]): Promise<number> {
  const { values, positionals } = readArgs(
    'trace',
    args,
    {
      ...PICTURE_OPTIONS,
      pieces: { type: 'boolean' },
      'pieces-in': { type: 'string' },
      mean: { type: 'boolean' },
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
  const plain: TraceOptions = {
    ...pictureOptions('trace', values),
    pieces: values.pieces === true,
    ...(values.mean === true && { piecesBy: 'mean' as const }),
  };
  const piecesIn = textOf(values['pieces-in'])?.split(',') ?? [];
  if ((piecesIn.length > 0 || values.mean === true) && (!plain.pieces || separate))
    throw new Usage('--pieces-in and --mean go with --pieces, and not with --separate.');
  const isScan = isScanned(values);
  const out = needed('trace', '--out', values.out);
  const force = values.force === true;
  if (isScan && positionals.length > 1 && !separate)
    throw new Usage('Scans are measured one at a time; add --separate to measure several.');
  const threads =
    values.threads === undefined
      ? availableParallelism()
      : figure('--threads', textOf(values.threads)!, {
          least: 1,
          most: 256,
          whole: true,
          unit: '',
        });
  if (values.threads !== undefined && !separate)
    throw new Usage('--threads is for many pictures; add --separate.');
  const targets = separate ? fileNames(positionals) : [];
  if (separate) await mayWriteInto(out, [...targets, TABLE], force);
  else await mayWrite(out, force);
  const options = await withProfiles(plain, values);

  if (!separate) return written(out, await measured(positionals, options, piecesIn), force);
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

export const traceVerb: Verb = { help, run };
