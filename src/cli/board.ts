import { basename } from 'node:path';
import type { MeasuredPocket } from '../after/board.ts';
import { readOutlineJson } from '../files/outline-json.ts';
import { readPlanJson } from '../files/plan-json.ts';
import { loadClipper } from '../geometry/load-clipper-node.ts';
import { boardOutlineOf, reportBoard } from '../job/after.ts';
import { seatOutlines } from '../job/seats.ts';
import { PICTURE_HELP, PICTURE_OPTIONS, pictureOptions, withProfiles } from './picture-options.ts';
import { traceOf } from './measured.ts';
import { bytesOf } from './place.ts';
import { needed, readArgs, REFUSED, refusing, textOf, Usage, type Verb } from './usage.ts';

const help = `board --plan plan.json PICTURE ... --thickness MM [options]

Measures a board that was cut: photograph (or scan) it empty and face up on the reference sheet, so that the stage shows
through its pockets; --thickness is the board's. Each pocket's wall stands against the plan, with U; the kerf
and the cutter's scale are learnt from all of them; with --blank, each pocket is tried with the measured blank.

  --plan FILE             the plan of the board
  --blank outline.json    the blank that goes in, as it was traced
  --json                  one line of JSON per pocket, and one for the board

${PICTURE_HELP}

Exit status: 0 measured; 3 refused; 2 wrong usage.
`;

async function run(args: readonly string[]): Promise<number> {
  const { values, positionals } = readArgs(
    'board',
    args,
    {
      plan: { type: 'string' },
      blank: { type: 'string' },
      json: { type: 'boolean' },
      ...PICTURE_OPTIONS,
    },
    { positionals: 'some' },
  );
  const planFile = needed('board', '--plan', values.plan);
  if (positionals.length === 0) throw new Usage('board needs a picture of the empty board.');
  const options = await withProfiles(pictureOptions('board', values), values);
  const json = values.json === true;
  return refusing(async () => {
    const plan = readPlanJson(await bytesOf(planFile, 'plan-file-unread'), basename(planFile));
    const clipper = await loadClipper();
    const { trace } = await traceOf(positionals, options);
    for (const { message, remedy } of trace.reasons)
      console.error(`snugline: ${message} ${remedy}`);
    if (trace.verdict === 'refused') return REFUSED;
    const blank = textOf(values.blank);
    const blanks =
      blank === undefined
        ? []
        : seatOutlines(
            readOutlineJson(await bytesOf(blank, 'outline-file-unread'), basename(blank)),
          );
    const { board, tried } = reportBoard(clipper, plan, boardOutlineOf(trace), blanks);
    for (const pocket of board.pockets) {
      const verdict = tried[pocket.id]?.tried.sentence;
      console.log(json ? jsonOf(pocket, verdict) : wordsOf(pocket, verdict));
    }
    const { scalePerMille, growthMm, kerfMm } = board;
    if (json)
      console.log(
        JSON.stringify({
          growth_mm: growthMm,
          kerf_mm: kerfMm,
          scale_per_mille: scalePerMille,
          missing: board.missing,
        }),
      );
    else {
      for (const axis of ['x', 'y'] as const) {
        const { value, U } = scalePerMille[axis];
        console.log(
          `Along ${axis} the cutter runs ${value.toFixed(2)} ± ${U.toFixed(2)} parts in a thousand long.`,
        );
      }
    }
    for (const { message, remedy } of board.reasons)
      console[json ? 'error' : 'log'](`${message} ${remedy}`);
    return 0;
  });
}

const signed = (mm: number): string => `${mm < 0 ? '-' : '+'}${Math.abs(mm).toFixed(2)}`;

const wordsOf = (p: MeasuredPocket, verdict: string | undefined): string =>
  `Pocket ${p.id}: wall ${signed(p.growthMm.value)} ± ${p.growthMm.U.toFixed(2)} mm against the plan; from ${signed(p.tightest.mm.value)} ± ${p.tightest.mm.U.toFixed(2)} at ${p.tightest.zone} to ${signed(p.widest.mm.value)} ± ${p.widest.mm.U.toFixed(2)} at ${p.widest.zone}.${verdict === undefined ? '' : ` ${verdict}`}`;

const jsonOf = (p: MeasuredPocket, verdict: string | undefined): string =>
  JSON.stringify({
    id: p.id,
    growth_mm: p.growthMm,
    off_mm: [p.offMm.x, p.offMm.y],
    tightest: p.tightest,
    widest: p.widest,
    verdict,
  });

export const board: Verb = { help, run };
