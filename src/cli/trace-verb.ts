import { basename, extname, join } from 'node:path';
import { outlineJson } from '../files/outline-json.ts';
import {
  isScanned,
  PICTURE_HELP,
  PICTURE_OPTIONS,
  pictureOptions,
  traceOf,
  withProfiles,
} from './picture-options.ts';
import { mayWrite, mayWriteInto, write } from './place.ts';
import type { Traced, TraceOptions } from './trace.ts';
import { needed, readArgs, Usage, type Verb } from './usage.ts';

const help = `trace PICTURE ... --thickness MM --out outline.json [options]

Measures one photo or scan of blanks on a reference sheet and writes their outlines at true scale, as GeoJSON in the
sheet frame (mm, origin at the lower left corner of the sheet as designed, x right, y up, print face up).
JPEG, PNG, TIFF, HEIC, AVIF and WebP are read, up to 50 megapixels.

${PICTURE_HELP}
  --pieces                the blanks are pieces of one kind: also their envelope, which then takes the pocket for all
  --separate              the pictures show different blanks: each is measured alone, and --out is a folder
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
      separate: { type: 'boolean' },
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
  const isScan = isScanned(values);
  const options: TraceOptions = {
    ...pictureOptions('trace', values),
    pieces: values.pieces === true,
  };
  const out = needed('trace', '--out', values.out);
  const force = values.force === true;
  if (isScan && positionals.length > 1 && !separate)
    throw new Usage('Scans are measured one at a time; add --separate to measure several.');
  const targets = separate ? fileNames(positionals) : [];
  if (separate) await mayWriteInto(out, targets, force);
  else await mayWrite(out, force);
  const whole = await withProfiles(options, values);

  if (!separate) return tracedInto(out, await traceOf(positionals, whole), force);
  let status = 0;
  for (const [k, path] of positionals.entries()) {
    const traced = await traceOf([path], whole);
    status = Math.max(status, await tracedInto(join(out, targets[k]!), traced, force));
  }
  return status;
}

/** Writes what came of it and says so; the exit status. */
async function tracedInto(out: string, traced: Traced, force: boolean): Promise<number> {
  const { trace, view } = traced;
  await write(out, outlineJson(trace, view), force);
  for (const { message, remedy } of trace.reasons) console.error(`snugline: ${message} ${remedy}`);
  if (trace.verdict === 'refused') return 3;
  console.log(summary(traced, out));
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

function summary({ trace }: Traced, out: string): string {
  const blanks = new Set(trace.outlines.map((o) => o.blank)).size;
  const greatestU =
    2 * Math.max(...trace.outlines.flatMap((o) => o.u.map((ring) => Math.max(...ring))));
  return `${trace.verdict}: ${blanks} ${blanks === 1 ? 'blank' : 'blanks'}, U (k = 2) up to ${greatestU.toFixed(2)} mm, ${out}`;
}

export const traceVerb: Verb = { help, run };
