import { correctionOfPrinter, type Correction } from '../after/first-print.ts';
import { Refusal } from '../base/reason.ts';
import { INSTRUMENTS, readingU } from '../check/reading.ts';
import {
  bedProfileOf,
  BED_SPANS,
  edgeMark,
  printedFromMeant,
  profileMarks,
  profileWords,
  PARTS,
  type BedProfile,
  type BedReading,
} from '../plan/bed-profile.ts';
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

const ZEROS = ['top-left', 'top-right', 'bottom-left', 'bottom-right'] as const;
const READ_U_MM = readingU(INSTRUMENTS.rule);

const help = `bed-profile --bed WxH --bed-read LIST [options]

Tells what a printer makes of lengths and of a square: print the bed ruler ("seat --kind ruler") or set-up.pdf at 100 % on the bed,
and read, while it still lies there, how far its crosses are from each other. A is at the front left, B at the front right, C at the
rear right, D at the rear left.

  --bed WxH          the bed that the print was made for
  --zero CORNER      ${ZEROS.join(', ')}
  --bed-read LIST    in mm, with commas between: A-B=379.2,D-C=379.3,A-D=260.4,B-C=260.3,A-C=460.0,B-D=459.8; x=20.4,y=19.7 is
                     how far the cross nearest to zero lies from the bed's edges there
  --bed-read-u MM    U (k = 2) of each reading (${READ_U_MM.toFixed(1)}, a steel rule)
  --json             one line of JSON

"jig" and "match" take the same --bed-read and --bed-read-u: artwork and its templates are corrected; cut files and the set-up print
never are. Leave it out where the board is cut along lines that this very printer printed.

Exit status: 0 done, doubts are said; 3 refused, nothing would be corrected; 2 wrong usage.
`;

const REFUSED = 3;

/** What --bed-read and --bed-read-u ask for on a bed; undefined where they are not given. @throws Usage, Refusal as the profile has it */
export function bedReadOf(
  values: Readonly<Record<string, string | boolean | undefined>>,
  bed: BedReading['bed'],
): { readonly profile: BedProfile; readonly correction: Correction } | undefined {
  const text = textOf(values['bed-read']);
  const given = textOf(values['bed-read-u']);
  if (text === undefined) {
    if (given !== undefined) throw new Usage('--bed-read-u goes with --bed-read.');
    return undefined;
  }
  const profile = bedProfileOf(readingOf(text, given, bed));
  if (profile.against) {
    const { code, facts } = profile.against;
    throw new Refusal(code, facts);
  }
  return {
    profile,
    correction: correctionOfPrinter(
      printedFromMeant(profile),
      profileWords(profile),
      'the printer that was read',
    ),
  };
}

function readingOf(text: string, given: string | undefined, bed: BedReading['bed']): BedReading {
  const marks = profileMarks(bed);
  if (marks.length === 0)
    throw new Usage(`--bed-read needs a bed with room for the crosses, 100 x 100 mm or more.`);
  const names = [...BED_SPANS.map((s) => s.join('-')), 'x', 'y'];
  const { bare, named } = listOf(
    '--bed-read',
    text,
    (key) => oneOf('--bed-read, the distance', key, names),
    (value) => figure('--bed-read', value, { above: 0, most: 10_000 }),
  );
  if (bare !== undefined)
    throw new Usage(
      `--bed-read cannot be "${text}": name the distances, as in A-B=379.2,A-D=260.4.`,
    );
  const uMm =
    given === undefined ? READ_U_MM : figure('--bed-read-u', given, { above: 0, most: 5 });
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
    edges: (['x', 'y'] as const).flatMap((axis) => {
      const readMm = named.get(axis);
      return readMm === undefined ? [] : [{ axis, at: edgeMark(bed)!.at, readMm }];
    }),
    with: 'rule',
    instrument: { sharedU: sharedU * as, eachU: eachU * as },
  };
}

async function run(args: readonly string[]): Promise<number> {
  const { values } = readArgs('bed-profile', args, {
    bed: { type: 'string' },
    zero: { type: 'string' },
    'bed-read': { type: 'string' },
    'bed-read-u': { type: 'string' },
    json: { type: 'boolean' },
  });
  const [widthMm, depthMm] = pairOf('--bed', needed('bed-profile', '--bed', values.bed));
  const zero = oneOf('--zero', textOf(values.zero) ?? 'bottom-left', ZEROS);
  needed('bed-profile', '--bed-read', values['bed-read']);
  try {
    const { profile } = bedReadOf(values, { widthMm, depthMm, zero })!;
    if (values.json === true)
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
        `The printer prints ${profileWords(profile)}: up to ${profile.farthestMm.toFixed(2)} mm off on this bed. Corrected, ± ${profile.farthestU.toFixed(2)} mm are left of that (U, k = 2).`,
      );
    for (const { message, remedy } of profile.doubts)
      console.error(`snugline: ${message} ${remedy}`);
    return 0;
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    console.error(`snugline: ${error.message}`);
    return REFUSED;
  }
}

export const bedProfile: Verb = { help, run };
