import { readFileSync } from 'node:fs';
import { basename, dirname, join } from 'node:path';
import { readingOfPhoto } from '../after/bed-photo.ts';
import { correctionOfPrinter, type Correction } from '../after/first-print.ts';
import { Refusal } from '../base/reason.ts';
import { INSTRUMENTS, readingU } from '../check/reading.ts';
import { loadPdfjs } from '../files/load-pdfjs-node.ts';
import { seatFiles } from '../files/seat.ts';
import type { FileSettings } from '../files/settings.ts';
import {
  bedProfileOf,
  driftOf,
  isBedReading,
  BED_SPANS,
  edgeMark,
  perMilleOf,
  printedFromMeant,
  profileMarks,
  profileWords,
  PARTS,
  type BedProfile,
  type BedReading,
  type Drawer,
  type ProfilePart,
} from '../plan/bed-profile.ts';
import { ZERO_CORNERS } from '../plan/plan.ts';
import { cutTest as cutTestSheet } from '../seat/cut-test.ts';
import { findMarks } from '../view/marks.ts';
import { viewsOf } from '../view/profile.ts';
import { loadVision } from '../vision/load-node.ts';
import { pictureAt } from './measured.ts';
import { pictureOptions, withProfiles } from './picture-options.ts';
import { mayWriteInto, whyUnread, write } from './place.ts';
import { withLens } from './trace.ts';
import {
  figure,
  listOf,
  needed,
  oneOf,
  pairOf,
  readArgs,
  readingsOf,
  refusing,
  textOf,
  Usage,
  type Verb,
} from './usage.ts';

const READ_U_MM = readingU(INSTRUMENTS.rule);
const CORNERS =
  'A is at the front left, B at the front right, C at the rear right, D at the rear left.';
const SPANS = 'A-B=379.2,D-C=379.3,A-D=260.4,B-C=260.3,A-C=460.0,B-D=459.8';

const bedHelp = `bed-profile --bed WxH --bed-read LIST [options]

Tells what a printer makes of lengths and of a square: print the bed ruler ("seat --kind ruler") or set-up.pdf at 100 % on the bed,
and read, while it still lies there, how far its crosses are from each other. ${CORNERS}

  --bed WxH          the bed that the print was made for
  --zero CORNER      ${ZERO_CORNERS.join(', ')}
  --bed-read LIST    in mm, with commas between: ${SPANS}; x=20.4,y=19.7 is
                     how far the cross nearest to zero lies from the bed's edges there
  --bed-read-u MM    U (k = 2) of each reading (${READ_U_MM.toFixed(1)}, a steel rule)
  --picture FILE     a photo of the whole print instead, its rear at the top, the reference sheet lying on it clear of the crosses; with
                     --spans, --span-u, --sheet-kept, --sheet-on and --lens as for "trace"; of --bed-read only x and y may stand beside it
  --out FILE         keeps what was read as JSON; --force replaces a file
  --before FILE      what was kept earlier: says what moved since, and whether that is more than the doubts of both
  --json             one line of JSON

"jig" and "match" take the same --bed-read and --bed-read-u, or --bed-read FILE.json that --out kept: artwork and its templates are corrected; cut files and the set-up print
never are. Leave it out where the board is cut along lines that this very printer printed.

Exit status: 0 done, doubts are said; 3 refused, nothing would be corrected; 2 wrong usage.
`;

const cutHelp = `cut-test --bed WxH --out FOLDER, or cut-test --bed WxH --cut-read LIST (or --picture FILE) [options]

Tells what a cutter makes of lengths and of a square: with --out it writes four crosses to score on a board; then read how far they
are from each other, middle to middle. ${CORNERS}

  --bed WxH          the bed, as for the jig
  --zero CORNER      ${ZERO_CORNERS.join(', ')}
  --out FOLDER       writes cut-test.dxf, cut-test.svg and cut-test.pdf; --force replaces files that exist
  --cut-read LIST    in mm, with commas between: ${SPANS}
  --cut-read-u MM    U (k = 2) of each reading (${READ_U_MM.toFixed(1)}, a steel rule)
  --picture FILE     a photo of the whole board instead, its rear at the top, the reference sheet lying on it clear of the crosses; with
                     --spans, --span-u, --sheet-kept, --sheet-on and --lens as for "trace"
  --keep FILE        keeps what was read as JSON; --force replaces a file
  --before FILE      what was kept earlier: says what moved since, and whether that is more than the doubts of both
  --json             one line of JSON

"jig" takes the same --cut-read and --cut-read-u, or --cut-read FILE.json that --keep kept, and corrects what the tool follows; "match" knows of it from plan.json. Leave it out
where the cutter's own program is told of its scale.

Exit status: 0 done, doubts are said; 3 refused, nothing would be corrected; 2 wrong usage.
`;

type Values = Readonly<Record<string, string | boolean | undefined>>;

/** What --bed-read and --bed-read-u ask for on a bed; undefined where they are not given. @throws Usage, Refusal as the profile has it */
export function bedReadOf(
  values: Values,
  bed: BedReading['bed'],
): { readonly profile: BedProfile; readonly correction: Correction } | undefined {
  const profile = profileRead(values, bed, 'printer');
  return (
    profile && {
      profile,
      correction: correctionOfPrinter(
        printedFromMeant(profile),
        profileWords(profile),
        'the printer that was read',
      ),
    }
  );
}

/** What --cut-read and --cut-read-u ask of the cut files; undefined where they are not given. @throws Usage, Refusal as the profile has it */
export function cutReadOf(
  values: Values,
  bed: BedReading['bed'],
):
  | {
      readonly profile: BedProfile;
      readonly files: Pick<FileSettings, 'cutterPerMille' | 'cutterBy'>;
    }
  | undefined {
  const profile = profileRead(values, bed, 'cutter');
  if (profile && values['cutter-scale'] !== undefined)
    throw new Usage(
      'Give --cutter-scale or --cut-read: each says what the cutter makes of lengths.',
    );
  return (
    profile && {
      profile,
      files: { cutterPerMille: perMilleOf(profile), cutterBy: 'cut test that was read' },
    }
  );
}

function profileRead(
  values: Values,
  bed: BedReading['bed'],
  machine: Drawer,
): BedProfile | undefined {
  const option = machine === 'printer' ? 'bed-read' : 'cut-read';
  const given = readingsOf(values, option, READ_U_MM);
  if (!given) return undefined;
  const reading = /\.json$/i.test(given.text)
    ? keptReading(`--${option}`, given.text)
    : readingOf(option, given, bed);
  return told(bedProfileOf(reading, machine));
}

/** What "--out" kept. @throws Usage */
function keptReading(option: string, path: string): BedReading {
  let kept: unknown;
  try {
    kept = JSON.parse(readFileSync(path, 'utf8'));
  } catch (error) {
    const what = error instanceof SyntaxError ? 'it is no JSON' : whyUnread(error);
    throw new Usage(`${option} cannot be ${path}: ${what}.`);
  }
  if (!isBedReading(kept)) throw new Usage(`${option}: ${path} is no reading that --out kept.`);
  return kept;
}

/** @throws Refusal where nothing is corrected by it */
function told(profile: BedProfile): BedProfile {
  if (profile.against) {
    const { code, facts } = profile.against;
    throw new Refusal(code, facts);
  }
  return profile;
}

function readingOf(
  option: 'bed-read' | 'cut-read',
  { text, uMm }: { readonly text: string; readonly uMm: number },
  bed: BedReading['bed'],
): BedReading {
  const marks = profileMarks(bed);
  if (marks.length === 0)
    throw new Usage(`--${option} needs a bed with room for the crosses, 100 x 100 mm or more.`);
  const edges = option === 'bed-read' ? (['x', 'y'] as const) : [];
  const names = [...BED_SPANS.map((s) => s.join('-')), ...edges];
  const { bare, named } = listOf(
    `--${option}`,
    text,
    (key) => oneOf(`--${option}, the distance`, key, names),
    (value) => figure(`--${option}`, value, { above: 0, most: 10_000 }),
  );
  if (bare !== undefined)
    throw new Usage(
      `--${option} cannot be "${text}": name the distances, as in A-B=379.2,A-D=260.4.`,
    );
  const { sharedU, eachU } = INSTRUMENTS.rule;
  const as = uMm / READ_U_MM;
  const at = (name: string) => marks.find((m) => m.name === name)!.at;
  return {
    on: '',
    bed,
    spans: BED_SPANS.flatMap(([from, to]) => {
      const readMm = named.get(`${from}-${to}`);
      return readMm === undefined ? [] : [{ from: at(from), to: at(to), readMm }];
    }),
    edges: edges.flatMap((axis) => {
      const readMm = named.get(axis);
      return readMm === undefined ? [] : [{ axis, at: edgeMark(bed)!.at, readMm }];
    }),
    with: 'rule',
    instrument: { sharedU: sharedU * as, eachU: eachU * as },
  };
}

function tell(profile: BedProfile, json: boolean, sentence: string): void {
  if (json)
    console.log(
      JSON.stringify({
        ...Object.fromEntries(
          PARTS.map((name) => [
            name.startsWith('offset') ? `${name}_mm` : name,
            { value: profile[name].value, u: profile[name].u },
          ]),
        ),
        assumed: profile.assumed,
        farthest_mm: profile.farthestMm,
        farthest_u_mm: profile.farthestU,
      }),
    );
  else
    console.log(
      `${sentence} ${profileWords(profile)}: up to ${profile.farthestMm.toFixed(2)} mm off on this bed. Corrected, ± ${profile.farthestU.toFixed(2)} mm are left of that (U, k = 2).`,
    );
  for (const { message, remedy } of profile.doubts) console.error(`snugline: ${message} ${remedy}`);
}

const text = { type: 'string' } as const;
const flag = { type: 'boolean' } as const;

function bedOf(verb: string, values: Values): BedReading['bed'] {
  const [widthMm, depthMm] = pairOf('--bed', needed(verb, '--bed', values.bed));
  const zero = oneOf('--zero', textOf(values.zero) ?? 'bottom-left', ZERO_CORNERS);
  return { widthMm, depthMm, zero };
}

const PHOTO = {
  ...{ picture: text, before: text, force: flag },
  ...{ spans: text, 'span-u': text, 'sheet-kept': text, 'sheet-on': text, lens: text },
};

async function runBed(args: readonly string[]): Promise<number> {
  const { values } = readArgs('bed-profile', args, {
    ...{ bed: text, zero: text, 'bed-read': text, 'bed-read-u': text, json: flag },
    ...{ ...PHOTO, out: text },
  });
  return runRead('bed-profile', 'printer', values, textOf(values.out));
}

/** What a machine makes of lengths, by a list of distances or a photo: told, held against what was kept, and kept. */
async function runRead(
  verb: 'bed-profile' | 'cut-test',
  machine: Drawer,
  values: Values,
  out: string | undefined,
): Promise<number> {
  const option = machine === 'printer' ? 'bed-read' : 'cut-read';
  const bed = bedOf(verb, values);
  const [file, earlier] = [values.picture, values.before].map(textOf);
  if (file === undefined) needed(verb, `--${option} or --picture`, values[option]);
  const given = readingsOf(values, option, READ_U_MM);
  const byHand = given && readingOf(option, given, bed);
  if (file !== undefined && byHand && byHand.spans.length > 0)
    throw new Usage(
      machine === 'printer'
        ? 'With --picture, --bed-read gives x and y alone: the photo tells the others.'
        : 'Give --cut-read or --picture: each tells the distances.',
    );
  if (out !== undefined) await mayWriteInto(dirname(out), [basename(out)], values.force === true);
  const before = earlier === undefined ? undefined : keptReading('--before', earlier);
  return refusing(async () => {
    const reading =
      file === undefined ? byHand! : await photographed(verb, file, values, bed, byHand);
    const profile = told(bedProfileOf(reading, machine));
    tell(
      profile,
      values.json === true,
      machine === 'printer' ? 'The printer prints' : 'The cutter cuts',
    );
    if (before) tellDrift(bedProfileOf(before, machine), profile);
    if (out !== undefined)
      await write(
        out,
        new TextEncoder().encode(`${JSON.stringify(reading)}\n`),
        values.force === true,
      );
    return 0;
  });
}

/** What a photo of the crosses tells, and the shift that was read by hand. */
async function photographed(
  verb: string,
  path: string,
  values: Values,
  bed: BedReading['bed'],
  byHand: BedReading | undefined,
): Promise<BedReading> {
  const options = await withProfiles(pictureOptions(verb, { ...values, thickness: '0' }), values);
  const picture = await pictureAt(path);
  const vision = { cv: loadVision().cv };
  const { meta, widthPx, heightPx } = picture;
  const found = findMarks(vision, picture);
  const [view] = viewsOf([{ found, meta, widthPx, heightPx }], withLens(options));
  for (const { message, remedy } of view!.reasons) console.error(`snugline: ${message} ${remedy}`);
  const reading = readingOfPhoto(picture, view!, bed, '');
  if (!byHand) return reading;
  const { edges, instrument, with: kind } = byHand;
  return { ...reading, edges, instrument, with: kind };
}

function tellDrift(before: BedProfile, now: BedProfile): void {
  for (const { part, by, en } of driftOf(before, now)) {
    const figure = part.startsWith('offset')
      ? `${by.toFixed(2)} mm`
      : part === 'shear'
        ? `${((180 / Math.PI) * by).toFixed(3)} degrees`
        : `${(100 * by).toFixed(3)} %`;
    console.log(
      `Since then ${PART_WORDS[part]} moved by ${figure}: ${en > 1 ? 'more than' : 'within'} the doubts of both.`,
    );
  }
}

const PART_WORDS: Readonly<Record<ProfilePart, string>> = {
  scaleX: 'the scale along x',
  scaleY: 'the scale along y',
  shear: 'the square',
  offsetX: 'the shift to the right',
  offsetY: 'the shift to the rear',
};

async function runCut(args: readonly string[]): Promise<number> {
  const { values } = readArgs('cut-test', args, {
    ...{ bed: text, zero: text, 'cut-read': text, 'cut-read-u': text, json: flag },
    ...{ ...PHOTO, out: text, keep: text },
  });
  const folder = textOf(values.out);
  if (folder === undefined) {
    if (values.picture === undefined)
      needed('cut-test', '--out, --cut-read or --picture', values['cut-read']);
    return runRead('cut-test', 'cutter', values, textOf(values.keep));
  }
  const bed = bedOf('cut-test', values);
  const force = values.force === true;
  if (profileMarks(bed).length === 0)
    throw new Usage('--bed has no room for the crosses: give 100 x 100 mm or more.');
  const job = { number: 'cut test', name: `${bed.widthMm} x ${bed.depthMm} mm` };
  const files = await seatFiles(cutTestSheet(bed), job, await loadPdfjs());
  await mayWriteInto(
    folder,
    files.map(({ name }) => name),
    force,
  );
  for (const { name, bytes } of files) await write(join(folder, name), bytes, force);
  console.log(`${files.map(({ name }) => name).join(', ')} in ${folder}`);
  return 0;
}

export const bedProfile: Verb = { help: bedHelp, run: runBed };
export const cutTest: Verb = { help: cutHelp, run: runCut };
