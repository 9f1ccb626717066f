import { basename } from 'node:path';
import { Refusal } from '../base/reason.ts';
import { tryDelivery, type NewPiece, type Tried } from '../after/delivery.ts';
import { keptPocket, WALL_U_MM } from '../after/kept.ts';
import { readOutlineJson } from '../files/outline-json.ts';
import { readPlanJson } from '../files/plan-json.ts';
import { loadClipper } from '../geometry/load-clipper-node.ts';
import { seatOutlines } from '../job/seats.ts';
import { PICTURE_HELP, PICTURE_OPTIONS, pictureOptions, withProfiles } from './picture-options.ts';
import { traceOf } from './measured.ts';
import { bytesOf } from './place.ts';
import { figure, needed, readArgs, REFUSED, refusing, textOf, Usage, type Verb } from './usage.ts';

const help = `fits --plan plan.json PICTURE ... --thickness MM [options]
fits --plan plan.json outline.json ...

Tries new pieces in the pockets of a board that was cut: each piece is laid into the pocket that was made for its like, at
the place that leaves it the most room. Says whether it goes in (proven, not proven, proven not), where it is tightest (zones of the
pocket: letters A to E from the far side, figures 1 to 8 from the left), what clearance would take them all, and how far
these pieces speak for their delivery. Pieces may be pictured, all of one picture numbered from left to right, or come from
outline files.

  --plan FILE             the plan of the board
  --wall-u MM             how far the walls may stand from where they are drawn, all round (k = 1, ${WALL_U_MM})
  --json                  one line of JSON per piece, and one for the delivery

Of pictures, as for "trace":
${PICTURE_HELP}

Exit status: 0 all go in, proven; 4 at least one does not, or is not proven to; 3 refused; 2 wrong usage.
`;

const NOT_ALL = 4;

async function run(args: readonly string[]): Promise<number> {
  const { values, positionals } = readArgs(
    'fits',
    args,
    {
      plan: { type: 'string' },
      'wall-u': { type: 'string' },
      json: { type: 'boolean' },
      ...PICTURE_OPTIONS,
    },
    { positionals: 'some' },
  );
  const plan = needed('fits', '--plan', values.plan);
  if (positionals.length === 0)
    throw new Usage('fits needs pictures of new pieces, or their outline files.');
  const wall = textOf(values['wall-u']);
  const growthU = wall === undefined ? WALL_U_MM : figure('--wall-u', wall, { least: 0, most: 5 });
  const files = positionals.filter((p) => p.endsWith('.json'));
  const pictures = positionals.filter((p) => !p.endsWith('.json'));
  const options =
    pictures.length > 0 ? await withProfiles(pictureOptions('fits', values), values) : undefined;
  return refusing(async () => {
    const board = readPlanJson(await bytesOf(plan, 'plan-file-unread'), basename(plan));
    const clipper = await loadClipper();
    const pockets = board.pockets.map((p) => keptPocket(clipper, p, board.tool, growthU));
    const pieces: NewPiece[] = [];
    for (const path of files) {
      const { outlines, verdict, reasons } = readOutlineJson(
        await bytesOf(path, 'outline-file-unread'),
        basename(path),
      );
      if (verdict === 'refused')
        throw new Refusal('outline-refused', {
          why: reasons[0]?.message ?? 'No reason is given.',
          remedy: reasons[0]?.remedy ?? 'Trace the picture again.',
        });
      const seats = seatOutlines({
        outlines: outlines.filter((o) => o.at !== 'envelope' && o.at !== 'mean'),
      });
      pieces.push(...seats.map((o) => ({ ...o, picture: basename(path) })));
    }
    for (const path of pictures) {
      const { trace } = await traceOf([path], options!);
      for (const { message, remedy } of trace.reasons)
        console.error(`snugline: ${basename(path)}: ${message} ${remedy}`);
      if (trace.verdict === 'refused') return REFUSED;
      pieces.push(...seatOutlines(trace).map((o) => ({ ...o, picture: basename(path) })));
    }
    const delivery = tryDelivery(pockets, pieces, board.clearanceMm);
    for (const t of delivery.tried) console.log(values.json === true ? jsonOf(t) : wordsOf(t));
    if (values.json === true)
      console.log(
        JSON.stringify({
          pieces: delivery.tried.length,
          go_in: delivery.goIn,
          do_not: delivery.doNot,
          not_proven: delivery.open,
          clearance_mm: Number(delivery.clearanceMm.toFixed(2)),
          share: Number(delivery.share.toFixed(4)),
        }),
      );
    for (const { message, remedy } of delivery.reasons)
      console[values.json === true ? 'error' : 'log'](`${message} ${remedy}`);
    return delivery.goIn === delivery.tried.length ? 0 : NOT_ALL;
  });
}

const wordsOf = ({ picture, blank, pocket, sentence }: Tried): string =>
  `${picture === undefined ? '' : `${picture}, `}piece ${blank}, pocket ${pocket}: ${sentence}`;

const jsonOf = (t: Tried): string =>
  JSON.stringify({
    picture: t.picture,
    blank: t.blank,
    pocket: t.pocket,
    answer: t.answer,
    room_mm: Number(t.roomMm.toFixed(4)),
    u_mm: Number(t.uMm.toFixed(4)),
    tight: t.tight.map((p) => [Number(p.x.toFixed(3)), Number(p.y.toFixed(3))]),
    zones: t.zones,
    more_mm: Number(t.moreMm.toFixed(4)),
  });

export const fits: Verb = { help, run };
