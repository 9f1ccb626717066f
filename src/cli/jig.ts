import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { reason, Refusal } from '../base/reason.ts';
import { loadPdfjs } from '../files/load-pdfjs-node.ts';
import { readOutlineJson } from '../files/outline-json.ts';
import { release, RELEASE_NAMES } from '../files/release.ts';
import { loadClipper } from '../geometry/load-clipper-node.ts';
import { DEFAULT_BED, DEFAULT_POCKET, jobFacts, makeJig, type JigSettings } from '../job/jig.ts';
import type { ZeroCorner } from '../plan/plan.ts';
import type { PocketSettings, Tool } from '../pocket/pocket.ts';
import { mayWriteInto, write } from './place.ts';
import {
  figure,
  listOf,
  needed,
  oneOf,
  pairOf,
  readArgs,
  textOf,
  Usage,
  type Verb,
} from './usage.ts';

const ZEROS: readonly ZeroCorner[] = ['top-left', 'top-right', 'bottom-left', 'bottom-right'];
const beam = DEFAULT_POCKET.tool.kind === 'beam' ? DEFAULT_POCKET.tool.kerfMm : 0;

const help = `jig --outline outline.json --out FOLDER [options]

Makes pockets from outlines, lays them on the bed and writes the matching files, each read back before it is kept:
${RELEASE_NAMES.join(', ')}.
All share the bed frame (mm, origin at the bed's lower left corner seen from its front); every page is the bed.

  --clearance MM        room between blank and wall, per side (${DEFAULT_POCKET.clearanceMm})
  --kerf MM             width that a beam or knife takes away (${beam}); the tool's centre runs half of it inside
  --cutter-radius MM    radius of a mill, instead of --kerf
  --bed WxH             the printer's print area (${DEFAULT_BED.widthMm}x${DEFAULT_BED.depthMm})
  --zero CORNER         ${ZEROS.join(', ')} (${DEFAULT_BED.zero}): where places are counted from
  --rows N, --columns N pockets of each blank (1, 1)
  --count 1=4,2=2       how many of each blank, instead
  --pitch XxY           centre to centre; without it a wall of ${DEFAULT_BED.wallMm} mm is left
  --bleed MM            how far artwork reaches past the edge (${DEFAULT_POCKET.bleedMm})
  --number TEXT         job number; without it one is made from the outlines
  --name TEXT           what the job is called
  --because TEXT        why the job goes out although it was NOT CHECKED; printed on the job sheet
  --by NAME             who answers for that; printed on the job sheet
  --out FOLDER          made when it is missing
  --force               replace files that exist

Lasers, blades and mills hurt: follow the machine's own instructions and the rules of the place where it stands.
`;

/** What was taken for the pocket, given or not. */
const wordsOf = ({ clearanceMm, tool }: PocketSettings): string =>
  `clearance ${clearanceMm} mm, ${tool.kind === 'beam' ? `kerf ${tool.kerfMm} mm` : `cutter radius ${tool.radiusMm} mm`}`;

function toolOf(kerf: string | undefined, radius: string | undefined): Tool {
  if (kerf !== undefined && radius !== undefined)
    throw new Usage('Give --kerf for a beam or knife, or --cutter-radius for a mill, not both.');
  if (radius !== undefined)
    return { kind: 'mill', radiusMm: figure('--cutter-radius', radius, { above: 0, most: 50 }) };
  if (kerf !== undefined)
    return { kind: 'beam', kerfMm: figure('--kerf', kerf, { least: 0, most: 10 }) };
  return DEFAULT_POCKET.tool;
}

function countsOf(text: string): Record<number, number> {
  const whole = { least: 0, most: 1000, whole: true, unit: '' };
  const { bare, named } = listOf(
    '--count',
    text,
    (key) => String(figure('--count, the blank number', key, { ...whole, least: 1 })),
    (value) => figure('--count', value, whole),
  );
  if (bare !== undefined)
    throw new Usage(`--count cannot be "${text}": name the blanks, for instance 1=4,2=2.`);
  return Object.fromEntries(named);
}

async function run(args: readonly string[]): Promise<number> {
  const { values } = readArgs(
    'jig',
    args,
    {
      outline: { type: 'string' },
      clearance: { type: 'string' },
      kerf: { type: 'string' },
      'cutter-radius': { type: 'string' },
      bed: { type: 'string' },
      zero: { type: 'string' },
      rows: { type: 'string' },
      columns: { type: 'string' },
      count: { type: 'string' },
      pitch: { type: 'string' },
      bleed: { type: 'string' },
      number: { type: 'string' },
      name: { type: 'string' },
      because: { type: 'string' },
      by: { type: 'string' },
      out: { type: 'string' },
      force: { type: 'boolean' },
    },
    { later: ['job'] },
  );
  const text = (name: string): string | undefined => textOf(values[name]);
  const number = (name: string, otherwise: number, range: Parameters<typeof figure>[2]): number => {
    const given = text(name);
    return given === undefined ? otherwise : figure(`--${name}`, given, range);
  };
  const path = needed('jig', '--outline', values.outline);
  const folder = needed('jig', '--out', values.out);
  const force = values.force === true;
  const [widthMm, depthMm] = pairOf(
    '--bed',
    text('bed') ?? `${DEFAULT_BED.widthMm}x${DEFAULT_BED.depthMm}`,
  );
  const pitch = text('pitch');
  const count = text('count');
  const whole = { least: 1, most: 1000, whole: true, unit: '' };
  const settings: Omit<JigSettings, 'job'> = {
    pocket: {
      ...DEFAULT_POCKET,
      clearanceMm: number('clearance', DEFAULT_POCKET.clearanceMm, { least: 0, most: 50 }),
      bleedMm: number('bleed', DEFAULT_POCKET.bleedMm, { least: 0, most: 50 }),
      tool: toolOf(text('kerf'), text('cutter-radius')),
    },
    bed: {
      ...DEFAULT_BED,
      widthMm,
      depthMm,
      zero: oneOf('--zero', text('zero') ?? DEFAULT_BED.zero, ZEROS),
      rows: number('rows', 1, whole),
      columns: number('columns', 1, whole),
      ...(pitch !== undefined && { pitchMm: pairOf('--pitch', pitch) }),
    },
    ...(count !== undefined && { counts: countsOf(count) }),
  };
  await mayWriteInto(folder, RELEASE_NAMES, force);

  try {
    return await makeFiles(path, folder, force, settings, {
      number: text('number'),
      name: text('name'),
      because: text('because'),
      by: text('by'),
    });
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    console.error(`snugline: ${error.message}`);
    return 3;
  }
}

async function makeFiles(
  path: string,
  folder: string,
  force: boolean,
  settings: Omit<JigSettings, 'job'>,
  words: Readonly<Record<'number' | 'name' | 'because' | 'by', string | undefined>>,
): Promise<number> {
  const bytes = await readFile(path).catch((error: NodeJS.ErrnoException) => {
    const what =
      error.code === 'ENOENT' ? 'there is no such file' : `it cannot be opened (${error.code})`;
    throw new Refusal('outline-file-unread', { file: path, what });
  });
  const file = readOutlineJson(bytes, basename(path));
  const job = {
    number: words.number ?? createHash('sha256').update(bytes).digest('hex').slice(0, 8),
    name: words.name ?? basename(path),
  };
  const jig = makeJig(await loadClipper(), file, { ...settings, job });
  // An outline file holds no readings: whatever is made from it here has not been checked.
  const unchecked = reason('not-checked');
  const facts = jobFacts(jig, file, today(), [], {
    reason: words.because ?? '',
    by: words.by ?? '',
    over: [unchecked.message],
  });
  const files = await release(jig.plan, facts, await loadPdfjs());
  for (const { name, bytes } of files) await write(join(folder, name), bytes, force);
  const said =
    words.because === undefined
      ? [unchecked]
      : words.by === undefined
        ? [reason('nobody-answers', { because: words.because })]
        : [];
  for (const { message, remedy } of [...file.reasons, ...jig.plan.reasons, ...said])
    console.error(`snugline: ${message} ${remedy}`);
  const { pockets, digest } = jig.plan;
  console.log(
    `${pockets.length} ${pockets.length === 1 ? 'pocket' : 'pockets'}, ${wordsOf(settings.pocket)}, ${files.length} files in ${folder}, digest ${digest.slice(0, 8)}; NOT CHECKED against a caliper reading${words.because === undefined ? ', and no reason given (--because)' : ''}`,
  );
  return 0;
}

/** The day on this machine's calendar, ISO 8601. */
function today(): string {
  const now = new Date();
  const two = (v: number): string => String(v).padStart(2, '0');
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

export const jig: Verb = { help, run };
