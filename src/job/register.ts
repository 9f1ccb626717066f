import { reason, type Reason } from '../base/reason.ts';
import { PROGRAM } from '../base/program.ts';
import type { FiledPlan } from '../files/plan-json.ts';
import { boardLies, boardRing, seatHoles } from '../plan/board-on-bed.ts';
import type { BedPlan } from '../plan/plan.ts';
import { materialOf } from '../pocket/material.ts';
import { toolWords } from '../pocket/trails.ts';
import { lensOf, type Board } from './boards.ts';
import type { Job } from './job.ts';

/** A board that lay longer than this without being measured may have moved. Common practice, no source. */
export const OLD_DAYS = 90;
/** Step in relative humidity that a board in store may have seen, per cent. Common practice, no source. */
const DAMP_PERCENT = 20;
const DAY_MS = 86_400_000;

const daysBetween = (from: string, to: string): number =>
  Math.round((Date.parse(to) - Date.parse(from)) / DAY_MS);

/** How often a board was printed, and how many pieces that made. */
export const runsOf = ({ runs }: Pick<Board, 'runs'>): { times: number; pieces: number } => ({
  times: runs.length,
  pieces: runs.reduce((sum, r) => sum + r.pieces, 0),
});

/**
 * What has changed since a board was entered, and what wants doing before it is printed again, the gravest first.
 *
 * @param filed the plan that it was cut by
 * @param plan the job's plan as it is now; undefined while there is none
 * @param today ISO 8601
 */
export function changesSince(
  board: Board,
  filed: FiledPlan,
  job: Job,
  plan: BedPlan | undefined,
  today: string,
): readonly Reason[] {
  const found: Reason[] = [];
  const { number } = board;
  if (board.worn) found.push(reason('board-worn', { board: number, ...board.worn }));
  if (!plan) found.push(reason('again-no-plan', { board: number }));
  else if (plan.digest !== board.digest) {
    const what =
      differences(filed, plan).join('; ') || 'the outline that the pockets are made from';
    found.push(reason('again-plan', { board: number, what }));
  }
  const heights = plan?.heights?.prints ?? [];
  for (const { what, valueMm } of filed.heights) {
    const now = heights.find((h) => h.what === what);
    if (now && Math.abs(now.valueMm - valueMm) > 0.005)
      found.push(
        reason('again-height', {
          what,
          wasMm: valueMm.toFixed(2),
          nowMm: now.valueMm.toFixed(2),
        }),
      );
  }
  const since = board.picturedOn ?? board.on;
  const days = daysBetween(since, today);
  const material = filed.material;
  const perPercent = material && materialOf(material).movement?.dampPerPercent;
  if (days > OLD_DAYS) {
    const reachMm = Math.hypot(...filed.bedMm);
    found.push(
      perPercent === undefined
        ? reason('again-old', { days, on: since })
        : reason('again-damp', {
            days,
            on: since,
            material: materialOf(material!).words,
            percent: DAMP_PERCENT,
            byMm: (perPercent * DAMP_PERCENT * reachMm).toFixed(2),
          }),
    );
  }
  if (board.made.program !== PROGRAM)
    found.push(reason('again-program', { was: board.made.program, now: PROGRAM }));
  if (board.made.lens !== lensOf(job)) found.push(reason('again-lens'));
  if (!board.print || board.print.voidOn !== null)
    found.push(reason('again-print', { machine: board.print?.machine || 'the printer' }));
  const rank = { refuse: 0, doubt: 1, note: 2 };
  return found.sort((a, b) => rank[a.level] - rank[b.level]);
}

/** In which of its settings a plan differs from the one that a board was cut by, in words. */
function differences(filed: FiledPlan, { bed, pockets, pocketSettings }: BedPlan): string[] {
  const { clearanceMm, tool, material } = pocketSettings;
  const mm = (v: number): string => `${Number(v.toFixed(3))} mm`;
  const told: readonly (readonly [string, string, string])[] = [
    ['clearance', mm(filed.clearanceMm), mm(clearanceMm)],
    ['tool', toolWords(filed.tool), toolWords(tool)],
    ['pockets', String(filed.pockets.length), String(pockets.length)],
    ['bed', filed.bedMm.map(mm).join(' x '), [bed.widthMm, bed.depthMm].map(mm).join(' x ')],
    [
      'board',
      boardLies(filed.board?.edge, filed.board?.holes ?? []),
      boardLies(bed.board && boardRing(bed), seatHoles(bed)),
    ],
    ['zero corner', filed.zero, bed.zero],
    ['board', filed.material ?? 'not said', material ?? 'not said'],
  ];
  return told
    .filter(([, was, now]) => was !== now)
    .map(([what, was, now]) => `${what} ${was}, now ${now}`);
}
