import { basename } from 'node:path';
import {
  correctionOf,
  landingOf,
  leftAt,
  MISS_U_MM,
  moveWords,
  type Correction,
  type Landing,
  type Miss,
} from '../after/first-print.ts';
import type { Point } from '../base/measure.ts';
import { readPlanJson } from '../files/plan-json.ts';
import { inverse, mapPoint } from '../geometry/affine.ts';
import { bedReadOf } from './bed-profile.ts';
import { bytesOf } from './place.ts';
import {
  figure,
  listOf,
  needed,
  readArgs,
  readingsOf,
  refusing,
  Usage,
  type Verb,
} from './usage.ts';

const help = `first-print --plan plan.json --miss LIST [options]

Tells from the first print how the artwork has to be moved for the board as it lies on the printer: print set-up.pdf on tape or
film over the loaded board, and read at two pockets or more, far from each other, how far it lies off.

  --plan FILE     the plan of the board
  --miss LIST     pocket=RIGHT/REAR in mm, with commas between: 1=0.31/-0.12,12=0.25/0.40; plus is right and rear
  --miss-u MM     U (k = 2) of each reading (${MISS_U_MM})
  --bed-read LIST  what was read of the printer's bed, as for "bed-profile": the print that was read had not been corrected for it
  --json          one line of JSON

"jig" takes the same --miss and --miss-u, and writes artwork and its templates moved; cut files are never moved. It holds until
the board is seated anew.

Exit status: 0 done, doubts are said; 3 refused; 2 wrong usage.
`;

/** Misses as they are given, by pocket. @throws Usage */
export function missesOf(
  text: string,
  placeOf: (pocket: string) => Point<'bed'> | undefined,
): Miss[] {
  const { bare, named } = listOf(
    '--miss',
    text,
    (pocket) => pocket.trim(),
    (value) => {
      const [right, rear, ...more] = value.split('/');
      if (right === undefined || rear === undefined || more.length > 0)
        throw new Usage(
          `--miss cannot be "${value}": give RIGHT/REAR in mm, for instance 0.31/-0.12.`,
        );
      return [figure('--miss', right), figure('--miss', rear)] as const;
    },
  );
  if (bare !== undefined)
    throw new Usage(
      `--miss cannot be "${text}": name the pockets, as in 1=0.31/-0.12,12=0.25/0.40.`,
    );
  return [...named].map(([pocket, [dxMm, dyMm]]) => {
    const at = placeOf(pocket);
    if (!at) throw new Usage(`--miss names pocket ${pocket}, which the plan does not have.`);
    return { at, dxMm, dyMm };
  });
}

/** What --miss and --miss-u ask for; undefined where they are not given. @throws Usage, Refusal as `landingOf` */
export function firstPrintOf(
  values: Readonly<Record<string, string | boolean | undefined>>,
  placeOf: (pocket: string) => Point<'bed'> | undefined,
  ofPrinter?: Correction,
): { readonly landing: Landing; readonly correction: Correction } | undefined {
  const given = readingsOf(values, 'miss', MISS_U_MM);
  if (!given) return undefined;
  const landing = landingOf(
    missesOf(given.text, placeOf),
    given.uMm,
    ofPrinter && { map: inverse(ofPrinter.map), taken: false },
  );
  const holds = 'the board as it lay for the first print';
  return { landing, correction: correctionOf(landing, holds, ofPrinter) };
}

async function run(args: readonly string[]): Promise<number> {
  const { values } = readArgs('first-print', args, {
    plan: { type: 'string' },
    miss: { type: 'string' },
    'miss-u': { type: 'string' },
    'bed-read': { type: 'string' },
    'bed-read-u': { type: 'string' },
    json: { type: 'boolean' },
  });
  const file = needed('first-print', '--plan', values.plan);
  needed('first-print', '--miss', values.miss);
  return refusing(async () => {
    const bytes = await bytesOf(file, 'plan-file-unread');
    const { pockets, bedMm, zero } = readPlanJson(bytes, basename(file));
    const at = (id: string): Point<'bed'> | undefined => pockets.find((p) => p.id === id)?.place;
    const ofPrinter = bedReadOf(values, { widthMm: bedMm[0], depthMm: bedMm[1], zero })?.correction;
    const { landing, correction } = firstPrintOf(values, at, ofPrinter)!;
    const before = Math.max(
      ...pockets.map(({ place }) => {
        const there = mapPoint<'bed'>(landing.map, place);
        return Math.hypot(there.x - place.x, there.y - place.y);
      }),
    );
    const after = Math.max(...pockets.map(({ place }) => leftAt(landing, place)));
    if (values.json === true) {
      const { x, y, turnRad, longPerMille, middle } = landing;
      const [a, b, , , xMm, yMm] = correction.map;
      console.log(
        JSON.stringify({
          lands: {
            x_mm: x,
            y_mm: y,
            turn_rad: turnRad,
            long_per_mille: longPerMille,
            about: middle,
          },
          move: { x_mm: xMm, y_mm: yMm, turn_rad: Math.atan2(b, a), map: correction.map },
          before_mm: before,
          after_mm: after,
        }),
      );
    } else {
      const { x, y, turnRad } = landing;
      console.log(
        `${ofPrinter ? 'Beside what the printer itself does, the print' : 'The print'} lands ${moveWords(x.value, y.value, turnRad.value)} (U of the shift ${Math.max(x.U, y.U).toFixed(2)} mm, of the turn ${((turnRad.U * 180) / Math.PI).toFixed(3)} degrees).`,
      );
      console.log(
        `Artwork is moved ${correction.words}. Farthest off at any pocket: ${before.toFixed(2)} mm before, ${after.toFixed(2)} mm at most after.`,
      );
    }
    for (const { message, remedy } of landing.reasons)
      console.error(`snugline: ${message} ${remedy}`);
    return 0;
  });
}

export const firstPrint: Verb = { help, run };
