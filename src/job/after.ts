import { measureBoard, type BoardMeasured, type BoardOutline } from '../after/board.ts';
import { tryDelivery, type Delivery, type NewPiece, type Tried } from '../after/delivery.ts';
import { keptPocket, type KeptPocket } from '../after/kept.ts';
import type { Measured } from '../after/room.ts';
import type { Progress } from '../base/progress.ts';
import type { Outcome } from '../base/reason.ts';
import type { FiledPlan } from '../files/plan-json.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { perimeter } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import type { Outline, Trace } from '../outline/outline.ts';
import { toolRadiusMm } from '../pocket/pocket-of.ts';
import { NO_MARKS } from '../view/scan.ts';
import type { FoundMarks } from '../view/view.ts';
import { jobOfBoard, type Board } from './boards.ts';
import { canTrace, isBare, isScanned, type Job } from './job.ts';
import { Memo } from './memo.ts';
import { anotherSheet } from './paper.ts';
import {
  calibrationOf,
  seatOutlines,
  traceOf,
  type Busy,
  type Machines,
  type PictureFile,
} from './run.ts';

/** A blank as its pocket was made for it. */
export type Blank = Measured & Pick<Outline, 'id' | 'blank'>;

/** A board that was cut, measured; `planned` are its pockets as they should stand, `tried` the blanks laid into the real ones, by pocket. */
export interface BoardReport {
  readonly bedMm: FiledPlan['bedMm'];
  readonly zero: FiledPlan['zero'];
  readonly tool: FiledPlan['tool'];
  readonly clearanceMm: number;
  readonly cutterPerMille: FiledPlan['cutterPerMille'];
  readonly planned: readonly KeptPocket[];
  readonly board: BoardMeasured;
  readonly tried: Readonly<
    Record<string, { readonly tried: Tried; readonly region: Region<'sheet'> }>
  >;
}

/** The board itself among what was traced: the largest outline. */
export const boardOutlineOf = (trace: Trace): Outline =>
  seatOutlines(trace).reduce((a, b) =>
    perimeter(b.region.outer) > perimeter(a.region.outer) ? b : a,
  );

/**
 * The walls of a cut board against its plan, and whether each pocket takes the blank that it was made for.
 *
 * @param blanks measured; a pocket whose blank is not among them is not tried
 * @throws Refusal as `measureBoard`
 */
export function reportBoard(
  clipper: Clipper,
  plan: FiledPlan,
  outline: BoardOutline,
  blanks: readonly Blank[],
  progress?: Progress,
): BoardReport {
  const planned = plan.pockets.map((p) => keptPocket(clipper, p, plan.tool));
  const board = measureBoard(planned, outline, 2 * toolRadiusMm(plan.tool));
  // A blank that was traced anew may have another name.
  const named = blanks.some((b) => planned.some((p) => p.outlineId === b.id));
  const tried: Record<string, { tried: Tried; region: Region<'sheet'> }> = {};
  board.pockets.forEach(({ id, kept }, k) => {
    const { outlineId } = planned.find((p) => p.id === id)!;
    const blank = named ? blanks.find((b) => b.id === outlineId) : blanks[0];
    if (!blank) return;
    progress?.('Trying the blank in each pocket', k, board.pockets.length);
    const [one] = tryDelivery([kept], [blank], plan.clearanceMm).tried;
    tried[id] = { tried: one!, region: blank.region };
  });
  const { bedMm, zero, tool, clearanceMm, cutterPerMille } = plan;
  return { bedMm, zero, tool, clearanceMm, cutterPerMille, planned, board, tried };
}

/** Where each step after the cut is done. */
export interface AfterMachines extends Pick<Machines, 'find' | 'view' | 'trace'> {
  board(
    plan: PictureFile,
    outline: Outline,
    blanks: readonly Blank[],
    progress: Progress,
  ): Promise<Outcome<BoardReport>>;
}

/** What has been computed of a board so far; an absent entry waits for the one before it, or for an answer of the operator's. */
export interface AfterResults {
  /** The marks in the picture of the board. */
  readonly found?: Outcome<FoundMarks>;
  /** They are those of the job's own sheet. */
  readonly sameSheet?: boolean;
  readonly traced?: Outcome<Trace>;
  readonly board?: Outcome<BoardReport>;
}

/** What a board is measured from: the files that are at hand, by digest, and the job's blanks as they were traced. */
export interface AfterInputs {
  readonly files: ReadonlyMap<string, PictureFile>;
  readonly trace: Trace | undefined;
}

/** The way from the picture of a board to its verdicts, as `Run` is the one to the files. */
export class AfterRun {
  readonly #memo = new Memo();
  #turn = 0;
  #shown: AfterResults = {};

  constructor(
    readonly machines: AfterMachines,
    readonly show: (results: AfterResults, busy: Busy | undefined) => void,
  ) {}

  /** Forgets what is under way; its answers will not be shown. */
  stop(): void {
    this.#turn++;
    this.#memo.clear();
  }

  /** Computes everything that can be; what is known already is shown at once with what is new. Errors other than refusals are thrown. */
  async start(job: Job, board: Board, inputs: AfterInputs): Promise<AfterResults> {
    const turn = ++this.#turn;
    let results: AfterResults = {};
    this.#shown = results;
    const add = (more: AfterResults): boolean => {
      results = { ...results, ...more };
      if (turn === this.#turn) this.#shown = results;
      return turn === this.#turn;
    };
    await this.#measure(job, board, inputs, add);
    if (turn === this.#turn) this.show(results, undefined);
    return results;
  }

  /** @param add takes what was computed; false where it is wanted no more */
  async #measure(
    job: Job,
    board: Board,
    { files, trace }: AfterInputs,
    add: (more: AfterResults) => boolean,
  ): Promise<void> {
    const picture = board.picture && files.get(board.picture.digest);
    const plan = files.get(board.plan.digest);
    if (!picture || !plan) return;
    const found = await this.#find(job, picture);
    const sameSheet = found.ok && showsOwnSheet(job, found.value);
    const own = jobOfBoard(job, board, sameSheet);
    if (!add({ found, sameSheet }) || !found.ok || !canTrace(own)) return;
    const traced = await this.#trace(own, picture);
    if (!add({ traced }) || !traced.ok) return;
    const blanks = trace ? seatOutlines(trace) : [];
    const report = await this.#memo.step('board', [plan.digest, traced, trace], () => {
      this.#told('Laying the board on its plan', 0, 1);
      return this.machines.board(plan, boardOutlineOf(traced.value), blanks, this.#told);
    });
    add({ board: report });
  }

  /** Where something is computed, so that its step is news. */
  readonly #told: Progress = (step, done, of) => this.show(this.#shown, { step, done, of });

  #find(job: Job, picture: PictureFile): Promise<Outcome<FoundMarks>> {
    if (isBare(job)) return Promise.resolve({ ok: true, value: NO_MARKS });
    const scanned = isScanned(job);
    return this.#memo.step(`find ${picture.digest}`, [scanned], () => {
      this.#told(`Finding marks in ${picture.name}`, 0, 1);
      return this.machines.find(picture, scanned, this.#told);
    });
  }

  /** A trace that was refused is a refusal. */
  async #trace(job: Job, picture: PictureFile): Promise<Outcome<Trace>> {
    const [calibration, settings] = [calibrationOf(job), traceOf(job)];
    const key = [JSON.stringify([calibration, settings])];
    return this.#memo.step(`trace ${picture.digest}`, key, async (): Promise<Outcome<Trace>> => {
      this.#told(`Adjusting the view of ${picture.name}`, 0, 1);
      const view = await this.machines.view([picture], calibration, this.#told);
      if (!view.ok) return view;
      this.#told(`Tracing ${picture.name}`, 0, 1);
      const trace = await this.machines.trace([picture], calibration, settings, this.#told);
      if (!trace.ok) return trace;
      const refused = trace.value.reasons.find(({ level }) => level === 'refuse');
      return trace.value.verdict === 'refused' && refused ? { ok: false, reason: refused } : trace;
    });
  }
}

/** Whether the marks are those of the sheet that the job has measured. */
const showsOwnSheet = (job: Job, found: FoundMarks): boolean =>
  isBare(job) || anotherSheet(job.sheet, found.sheet).length === 0;
