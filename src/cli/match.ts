import { readFile } from 'node:fs/promises';
import { basename } from 'node:path';
import { reason, Refusal } from '../base/reason.ts';
import { loadPdfjs } from '../files/load-pdfjs-node.ts';
import {
  MATCH_MM,
  matchPages,
  referenceOfFile,
  referenceOfPlanJson,
  type Match,
  type Reference,
} from '../files/match.ts';
import { readLines, readPages } from '../files/read-lines.ts';
import { readPlanJson } from '../files/plan-json.ts';
import { bedReadOf } from './bed-profile.ts';
import { firstPrintOf } from './first-print.ts';
import { whyUnread } from './place.ts';
import { readArgs, refusing, Usage, type Verb } from './usage.ts';

const help = `match FILE FILE...

Tells whether files of one job still agree: page, zero, scale, turn, mirroring, every pocket's place, which pockets are
missing. Files may come from any program: DXF, SVG, PDF, EPS; geometry alone decides, to ${MATCH_MM} mm. Where one of them
is plan.json, the others are held against it; else against the first.

  --miss LIST  what the first print showed, as for "first-print": artwork moved by just that agrees; --miss-u MM
  --bed-read LIST  what was read of the printer's bed, as for "bed-profile": artwork corrected by just that agrees; --bed-read-u MM
  --json       one line of JSON per file instead of words

Exit status 0: they agree (doubts are said); 4: they do not; 3: a file cannot be read.
`;

const DIFFERS = 4;

async function run(args: readonly string[]): Promise<number> {
  const { values, positionals } = readArgs(
    'match',
    args,
    {
      json: { type: 'boolean' },
      miss: { type: 'string' },
      'miss-u': { type: 'string' },
      'bed-read': { type: 'string' },
      'bed-read-u': { type: 'string' },
    },
    { positionals: 'some' },
  );
  if (positionals.length < 2)
    throw new Usage('match needs two files or more: plan.json and the files to hold against it.');
  return refusing(async () => {
    return await matchAll(positionals, values);
  });
}

async function matchAll(
  paths: readonly string[],
  values: Readonly<Record<string, string | boolean | undefined>>,
): Promise<number> {
  const json = values.json === true;
  const pdfjs = await loadPdfjs();
  const files = await Promise.all(
    paths.map(async (path) => ({
      path,
      name: basename(path),
      bytes: new Uint8Array(
        await readFile(path).catch((error: unknown) => {
          throw new Refusal('match-unread', { file: path, why: whyUnread(error) });
        }),
      ),
    })),
  );
  const isPlan = (bytes: Uint8Array): boolean =>
    new TextDecoder().decode(bytes.subarray(0, 64)).trimStart().startsWith('{');
  const first = files.find((f) => isPlan(f.bytes)) ?? files[0]!;
  let reference: Reference;
  if (isPlan(first.bytes)) {
    try {
      reference = referenceOfPlanJson(new TextDecoder().decode(first.bytes), first.name);
    } catch (error) {
      throw new Refusal('match-unread', { file: first.path, why: (error as Error).message });
    }
  } else reference = referenceOfFile(await readLines(first.bytes, first.path, pdfjs), first.name);
  const plan = isPlan(first.bytes) ? readPlanJson(first.bytes, first.name) : undefined;
  if ((values.miss ?? values['bed-read']) !== undefined && !plan)
    throw new Usage(
      '--miss and --bed-read go with plan.json, which says where bed and pockets are.',
    );
  const ofPrinter =
    plan &&
    bedReadOf(values, { widthMm: plan.bedMm[0], depthMm: plan.bedMm[1], zero: plan.zero })
      ?.correction;
  const at = (id: string) => plan?.pockets.find((p) => p.id === id)?.place;
  const correction = firstPrintOf(values, at, ofPrinter)?.correction ?? ofPrinter;
  let differs = false;
  for (const file of files) {
    if (file === first) continue;
    const match = isPlan(file.bytes)
      ? undefined
      : matchPages(reference, correction, await readPages(file.bytes, file.path, pdfjs), file.name);
    if (!match) {
      const { message, remedy } = reason('match-unread', {
        file: file.path,
        why: 'it is a second plan',
      });
      throw new Usage(`${message} ${remedy}`);
    }
    differs ||= match.verdict === 'differs';
    console.log(json ? jsonOf(match) : wordsOf(match));
    for (const { message, remedy } of match.reasons)
      console.error(`snugline: ${message} ${remedy}`);
  }
  return differs ? DIFFERS : 0;
}

const wordsOf = ({ file, reference, verdict, rows }: Match): string =>
  `${file}: ${verdict === 'agrees' ? 'agrees with' : 'DOES NOT AGREE with'} ${reference}; ${rows
    .map(({ what, words }) => `${what} ${words}`)
    .join('; ')}`;

const jsonOf = ({ file, reference, verdict, rows, pockets, map, reasons }: Match): string =>
  JSON.stringify({
    file,
    reference,
    verdict,
    rows,
    map,
    pockets: pockets.map(({ id, state, offMm }) => ({ id, state, off_mm: offMm })),
    reasons: reasons.map(({ code, level, message, remedy }) => ({ code, level, message, remedy })),
  });

export const match: Verb = { help, run };
