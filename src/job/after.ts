import {
  measureBoard,
  type BoardMeasured,
  type BoardOutline,
  type MeasuredPocket,
} from '../after/board.ts';
import { tryDelivery, type Delivery, type NewPiece, type Tried } from '../after/delivery.ts';
import { keptPocket, type KeptPocket } from '../after/kept.ts';
import type { Measured } from '../after/room.ts';
import { silent, type Progress } from '../base/progress.ts';
import type { Outcome } from '../base/reason.ts';
import type { FiledPlan } from '../files/plan-json.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { perimeter } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import type { Outline, Trace } from '../outline/outline.ts';
import { toolRadiusMm } from '../pocket/pocket-of.ts';
import { NO_MARKS } from '../view/scan.ts';
import type { FoundMarks } from '../view/view.ts';
import { filesOfBoard, jobOfBoard, jobOfPieces, type Board } from './boards.ts';
import { canTrace, isBare, isScanned, type Job, type PictureReference } from './job.ts';
import { Memo } from './memo.ts';
import { anotherSheet } from './paper.ts';
import { calibrationOf, traceOf, type Busy, type Machines, type PictureFile } from './run.ts';
import { seatOutlines } from './seats.ts';

/** A blank as its pocket was made for it. */
export type Blank = Measured & Pick<Outline, 'id' | 'blank'>;

/** The plan of a board, as far as its pockets are measured and drawn by it; `planned` is what should be open. */
export interface PlanOfBoard extends Pick<
  FiledPlan,
  'bedMm' | 'zero' | 'tool' | 'clearanceMm' | 'cutterPerMille'
> {
  readonly planned: readonly KeptPocket[];
}

/** A piece in a pocket, with its outline in the frame of its own sheet. */
export interface LaidPiece {
  readonly tried: Tried;
  readonly region: Region<'sheet'>;
}

/** A board that was cut, measured, and the blanks laid into its real pockets, by the pocket's number. */
export interface BoardReport {
  readonly plan: PlanOfBoard;
  readonly board: BoardMeasured;
  readonly tried: Readonly<Record<string, LaidPiece>>;
}

/** New pieces laid into the pockets of a board. */
export interface DeliveryReport {
  readonly plan: PlanOfBoard;
  readonly delivery: Delivery;
  readonly laid: readonly LaidPiece[];
  /** The walls are those that were measured: of pockets that are alike, the tightest. */
  readonly measured: boolean;
}

function planOf(clipper: Clipper, plan: FiledPlan): PlanOfBoard {
  const { bedMm, zero, tool, clearanceMm, cutterPerMille } = plan;
  const planned = plan.pockets.map((p) => keptPocket(clipper, p, tool));
  return { bedMm, zero, tool, clearanceMm, cutterPerMille, planned };
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
  filed: FiledPlan,
  outline: BoardOutline,
  blanks: readonly Blank[],
  progress: Progress = silent,
): BoardReport {
  const plan = planOf(clipper, filed);
  const { planned, clearanceMm } = plan;
  const board = measureBoard(planned, outline, 2 * toolRadiusMm(plan.tool));
  // A blank that was traced anew may have another name.
  const named = blanks.some((b) => planned.some((p) => p.outlineId === b.id));
  const tried: Record<string, LaidPiece> = {};
  board.pockets.forEach(({ id, kept }, k) => {
    const { outlineId } = planned.find((p) => p.id === id)!;
    const blank = named ? blanks.find((b) => b.id === outlineId) : blanks[0];
    if (!blank) return;
    progress('Trying the blank in each pocket', k, board.pockets.length);
    const [one] = tryDelivery([kept], [blank], clearanceMm).tried;
    tried[id] = { tried: one!, region: blank.region };
  });
  return { plan, board, tried };
}

/**
 * Pieces of a delivery in the pockets of a board: as they were measured, where they were, else as they were drawn.
 */
export function reportDelivery(
  clipper: Clipper,
  filed: FiledPlan,
  pieces: readonly NewPiece[],
  board: BoardMeasured | undefined,
  progress: Progress = silent,
): DeliveryReport {
  const plan = planOf(clipper, filed);
  const pockets = board ? tightestOf(plan.planned, board) : plan.planned;
  const delivery = tryDelivery(pockets, pieces, plan.clearanceMm, progress);
  const laid = delivery.tried.map((tried, k) => ({ tried, region: pieces[k]!.region }));
  return { plan, delivery, laid, measured: board !== undefined };
}

/** Of the measured pockets that were made for one outline, the one that is tightest somewhere. */
function tightestOf(planned: readonly KeptPocket[], { pockets }: BoardMeasured): KeptPocket[] {
  const least = new Map<string, MeasuredPocket>();
  for (const pocket of pockets) {
    const { outlineId } = planned.find((p) => p.id === pocket.id)!;
    const before = least.get(outlineId);
    if (!before || pocket.tightest.mm.value < before.tightest.mm.value)
      least.set(outlineId, pocket);
  }
  return [...least].map(([outlineId, { kept }]) => ({ ...kept, outlineId }));
}

/** Where each step after the cut is done. */
export interface AfterMachines extends Pick<Machines, 'find' | 'view' | 'trace'> {
  board(
    plan: PictureFile,
    outline: Outline,
    blanks: readonly Blank[],
    progress: Progress,
  ): Promise<Outcome<BoardReport>>;
  delivery(
    plan: PictureFile,
    pieces: readonly NewPiece[],
    board: BoardMeasured | undefined,
    progress: Progress,
  ): Promise<Outcome<DeliveryReport>>;
}

/** What has been computed of a board so far; an absent entry waits for the one before it, or for an answer of the operator's. */
export interface AfterResults {
  /** The marks in the picture of the board. */
  readonly found?: Outcome<FoundMarks>;
  /** They are those of the job's own sheet. */
  readonly sameSheet?: boolean;
  readonly traced?: Outcome<Trace>;
  readonly board?: Outcome<BoardReport>;
  /** Of each picture of new pieces, by its digest: the sheet that it shows, and what was traced. */
  readonly pieces?: Readonly<Record<string, PiecesSeen>>;
  readonly delivery?: Outcome<DeliveryReport>;
}

export interface PiecesSeen {
  readonly found: Outcome<FoundMarks>;
  readonly sameSheet: boolean;
  readonly traced?: Outcome<Trace>;
}

/** What a board is measured from: the files that are at hand, by digest, and the job's blanks as they were traced. */
export interface AfterInputs {
  readonly files: ReadonlyMap<string, PictureFile>;
  readonly trace: Trace | undefined;
}

/** The files of a board as far as they are found, and the first that is not. */
export async function atHand(
  board: Board,
  find: (digest: string) => Promise<PictureFile | undefined>,
): Promise<{
  readonly files: AfterInputs['files'];
  readonly wanted: PictureReference | undefined;
}> {
  const files = new Map<string, PictureFile>();
  const named = filesOfBoard(board);
  for (const { digest } of named) {
    const file = await find(digest);
    if (file) files.set(digest, file);
  }
  return { files, wanted: named.find((f) => !files.has(f.digest)) };
}

type Adds = (more: AfterResults) => boolean;

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
    const add: Adds = (more) => {
      results = { ...results, ...more };
      if (turn === this.#turn) this.#shown = results;
      return turn === this.#turn;
    };
    await this.#measure(job, board, inputs, add);
    if (turn === this.#turn) this.show(results, undefined);
    return results;
  }

  /** @param add takes what was computed; false where it is wanted no more */
  async #measure(job: Job, board: Board, inputs: AfterInputs, add: Adds): Promise<void> {
    const plan = inputs.files.get(board.plan.digest);
    if (!plan) return;
    const report = await this.#board(job, board, plan, inputs, add);
    await this.#pieces(job, board, plan, report, inputs, add);
  }

  /** The board as measured; undefined where it is not. */
  async #board(
    job: Job,
    board: Board,
    plan: PictureFile,
    { files, trace }: AfterInputs,
    add: Adds,
  ): Promise<BoardMeasured | undefined> {
    const picture = board.picture && files.get(board.picture.digest);
    if (!picture) return undefined;
    const { found, sameSheet } = await this.#find(job, picture);
    const own = jobOfBoard(job, board, sameSheet);
    if (!add({ found, sameSheet }) || !found.ok || !canTrace(own)) return undefined;
    const traced = await this.#trace(own, picture);
    if (!add({ traced }) || !traced.ok) return undefined;
    const blanks = trace ? seatOutlines(trace) : [];
    const report = await this.#memo.step('board', [plan.digest, traced, trace], () => {
      this.#told('Laying the board on its plan', 0, 1);
      return this.machines.board(plan, boardOutlineOf(traced.value), blanks, this.#told);
    });
    add({ board: report });
    return report.ok ? report.value.board : undefined;
  }

  /** One picture that is refused does not keep the others from being tried. */
  async #pieces(
    job: Job,
    { pieces: given }: Board,
    plan: PictureFile,
    board: BoardMeasured | undefined,
    { files }: AfterInputs,
    add: Adds,
  ): Promise<void> {
    const seen: Record<string, PiecesSeen> = {};
    const pieces: NewPiece[] = [];
    const traces: unknown[] = [];
    for (const { digest, name } of given?.pictures ?? []) {
      const picture = files.get(digest);
      if (!picture) continue;
      const { found, sameSheet } = await this.#find(job, picture);
      const own = jobOfPieces(job, given!, sameSheet);
      seen[digest] = { found, sameSheet };
      if (!add({ pieces: { ...seen } })) return;
      if (!found.ok || !canTrace(own)) continue;
      const traced = await this.#trace(own, picture);
      seen[digest] = { found, sameSheet, traced };
      if (!add({ pieces: { ...seen } })) return;
      if (!traced.ok) continue;
      traces.push(traced);
      pieces.push(...seatOutlines(traced.value).map((o) => ({ ...o, picture: name })));
    }
    if (pieces.length === 0) return;
    const inputs = [plan.digest, board, ...traces];
    const delivery = await this.#memo.step('delivery', inputs, () => {
      this.#told('Laying pieces into their pockets', 0, pieces.length);
      return this.machines.delivery(plan, pieces, board, this.#told);
    });
    add({ delivery });
  }

  /** Where something is computed, so that its step is news. */
  readonly #told: Progress = (step, done, of) => this.show(this.#shown, { step, done, of });

  async #find(
    job: Job,
    picture: PictureFile,
  ): Promise<{ readonly found: Outcome<FoundMarks>; readonly sameSheet: boolean }> {
    if (isBare(job)) return { found: { ok: true, value: NO_MARKS }, sameSheet: true };
    const scanned = isScanned(job);
    const found = await this.#memo.step(`find ${picture.digest}`, [scanned], () => {
      this.#told(`Finding marks in ${picture.name}`, 0, 1);
      return this.machines.find(picture, scanned, this.#told);
    });
    // Spans of another sheet than the job's are not this one's.
    const sameSheet = found.ok && anotherSheet(job.sheet, found.value.sheet).length === 0;
    return { found, sameSheet };
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
