import { MISS_U_MM } from '../../after/first-print.ts';
import { reason, Refusal, type Reason } from '../../base/reason.ts';
import { planJson, readPlanJson, type FiledPlan } from '../../files/plan-json.ts';
import { fileSettings, type CutterScale } from '../../files/settings.ts';
import { AfterRun, atHand, type AfterMachines, type AfterResults } from '../../job/after.ts';
import {
  boardInUse,
  landingOn,
  newBoard,
  NO_PIECES,
  type Board,
  type FirstPrint,
  type NewPieces,
} from '../../job/boards.ts';
import type { Job, PictureReference } from '../../job/job.ts';
import { changesSince } from '../../job/register.ts';
import type { Busy, PictureFile, Results } from '../../job/run.ts';
import { withEnvelope } from '../../outline/kind.ts';
import type { Trace } from '../../outline/outline.ts';
import { toolRadiusMm } from '../../pocket/pocket-of.ts';
import { withKerf } from '../../pocket/fits.ts';
import type { Desk, Workshop } from '../desk.svelte.ts';
import { today } from '../parts/today.ts';

/** Where files are taken in, and found again by their digest. */
interface Files {
  /** @throws Refusal for a file that is too heavy */
  take(file: File): Promise<PictureFile>;
  file(digest: string): Promise<PictureFile | undefined>;
}

const NO_PRINT: Omit<FirstPrint, 'on' | 'voidOn'> = { machine: '', misses: [], uMm: MISS_U_MM };

/** What is said of a blank, where the board is what was traced. */
const ofBoard = (r: Reason): Reason => ({
  ...r,
  message: r.message.replace(/\bBlank \d+/g, 'The board').replace(/\bblank \d+/g, 'the board'),
});

/** What the step Board shows: walls against the plan, new pieces in the pockets, where the print lands, what is known of it. */
export type Part = 'walls' | 'pieces' | 'print' | 'register' | 'loose';

/** The boards of the open job: entered, pictured, measured, on machines of their own. */
export class AfterCut {
  results = $state.raw<AfterResults>({});
  busy = $state.raw<Busy>();
  /** What the step shows of it. */
  part = $state<Part>('walls');
  /** The pocket that is drawn large, by its number on the board; of new pieces, the piece that is drawn in its own. */
  pocket = $state<string>();
  piece = $state(0);
  readonly board = $derived.by(() => this.desk.job && boardInUse(this.desk.job));
  /** There are blanks to lay. */
  readonly plannable = $derived.by(() => this.desk.results.pockets?.ok === true);
  /** The plan that it was cut by. */
  filed = $state.raw<FiledPlan>();
  readonly landing = $derived.by(
    () => this.board && this.desk.job && landingOn(this.board, this.desk.job),
  );
  readonly report = $derived(this.results.board?.ok ? this.results.board.value : undefined);
  readonly delivery = $derived(this.results.delivery?.ok ? this.results.delivery.value : undefined);
  /** What there is to know of the board. */
  readonly reasons = $derived.by((): readonly Reason[] => {
    const { job } = this.desk;
    const { found, traced, board, pieces = {}, delivery } = this.results;
    if (!job) return [];
    if (this.part === 'loose') return this.desk.loose.reasons;
    if (this.part === 'pieces') {
      return [
        ...Object.values(pieces).flatMap(({ found, traced }) => [
          ...(found.ok ? [] : [found.reason]),
          ...(traced ? (traced.ok ? traced.value.reasons : [traced.reason]) : []),
        ]),
        ...(delivery ? (delivery.ok ? delivery.value.delivery.reasons : [delivery.reason]) : []),
      ];
    }
    if (this.part === 'register') {
      const { plan } = this.desk.results;
      const { board: of, filed } = this;
      return of && filed?.digest === of.digest
        ? changesSince(of, filed, job, plan?.ok ? plan.value : undefined, today())
        : [];
    }
    if (this.part === 'print') {
      const { plan } = this.desk.results;
      const { board: of, landing } = this;
      return [
        ...(landing ? (landing.ok ? landing.value.reasons : [landing.reason]) : []),
        ...(of?.print?.voidOn ? [reason('print-void', { on: of.print.voidOn })] : []),
        ...(of && plan?.ok && plan.value.digest !== of.digest
          ? [reason('print-other-plan', { board: of.number })]
          : []),
      ];
    }
    return [
      ...(found?.ok === false ? [found.reason] : []),
      ...(traced ? (traced.ok ? traced.value.reasons : [traced.reason]) : []).map(ofBoard),
      ...(board ? (board.ok ? board.value.board.reasons : [board.reason]) : []),
    ];
  });

  #workshop: Workshop | undefined;
  #run: AfterRun | undefined;
  #turn = 0;

  constructor(
    readonly desk: Desk,
    readonly start: () => Workshop,
    readonly files: Files,
    readonly fault: (error: unknown) => void,
  ) {}

  #runNow(): AfterRun {
    if (this.#run) return this.#run;
    const { after } = (this.#workshop = this.start());
    const run: AfterRun = new AfterRun(after satisfies AfterMachines, (results, busy) => {
      if (run !== this.#run) return;
      this.results = results;
      this.busy = busy;
    });
    return (this.#run = run);
  }

  /** What follows from the board's entries. */
  async compute(): Promise<void> {
    const turn = ++this.#turn;
    const { board } = this;
    const { job, results } = this.desk;
    if (!board || !job) {
      this.results = {};
      return;
    }
    const { files, wanted } = await atHand(board, (digest) => this.files.file(digest));
    if (wanted) this.desk.notice = reason('board-file-wanted', { file: wanted.name });
    await this.#read(files.get(board.plan.digest));
    // One that was begun later goes on with what this one has asked for.
    if (turn !== this.#turn) return;
    const run = this.#runNow();
    const trace = this.#laid(results);
    try {
      await run.start(job, board, { files, trace });
      if (run !== this.#run || turn !== this.#turn) return;
      this.busy = undefined;
      // Its workers hold pictures; what they answered is kept without them.
      this.#workshop?.stop();
    } catch (error) {
      if (run !== this.#run) return;
      this.busy = undefined;
      this.fault(error);
    }
  }

  #made: { readonly of: readonly unknown[]; readonly trace: Trace } | undefined;
  /** The outlines that pockets are made from; the same object while they are the same. */
  #laid({ trace, kind }: Results): Trace | undefined {
    if (!trace?.ok) return undefined;
    if (!kind?.ok) return trace.value;
    if (this.#made?.of[0] !== trace || this.#made.of[1] !== kind)
      this.#made = { of: [trace, kind], trace: withEnvelope(trace.value, kind.value) };
    return this.#made.trace;
  }

  async #read(plan: PictureFile | undefined): Promise<void> {
    try {
      const bytes = plan && new Uint8Array(await plan.bytes.arrayBuffer());
      this.filed = bytes && readPlanJson(bytes, plan.name);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.desk.notice = error.reason;
    }
  }

  /** Ends what is under way; what was measured stays. */
  stop(): void {
    if (!this.busy) return;
    this.#end();
  }

  /** Another job is looked at. */
  clear(): void {
    this.#end();
    this.results = {};
    this.filed = undefined;
    this.pocket = undefined;
    this.piece = 0;
    this.part = 'walls';
  }

  #end(): void {
    this.#turn++;
    this.#run?.stop();
    this.#workshop?.stop();
    this.#run = undefined;
    this.#workshop = undefined;
    this.busy = undefined;
  }

  /** A board of the open job is fetched to be printed again. */
  again(board: Board, on: string): void {
    this.part = 'register';
    const { job } = this.desk;
    const print = board.print && !board.print.voidOn && { ...board.print, voidOn: on };
    const boards = job!.boards!.map((b) => (b === board && print ? { ...b, print } : b));
    this.desk.change({ boards, board: board.number });
  }

  /** Another board of the job lies on the printer. */
  use(number: number): void {
    this.pocket = undefined;
    this.desk.change({ board: number });
  }

  /** Changes the board that is looked at. */
  change(patch: Partial<Board>): void {
    const { board } = this;
    if (!board) return;
    const boards = this.desk.job!.boards!.map((b) => (b === board ? { ...b, ...patch } : b));
    this.desk.change({ boards });
  }

  /** A board by the plan as it stands now; undefined, and why, where there is none. */
  async #fromPlan(job: Job): Promise<Board | undefined> {
    const { plan } = this.desk.results;
    if (!plan?.ok || plan.value.pockets.length === 0) {
      this.desk.notice = reason('board-without-plan');
      return undefined;
    }
    const bytes = planJson(plan.value, fileSettings(job.files)) as Uint8Array<ArrayBuffer>;
    return this.#fromFile(job, new File([bytes], 'plan.json', { type: 'application/json' }));
  }

  /** @throws Refusal `plan-file-unread` */
  async #fromFile(job: Job, file: File): Promise<Board> {
    const { digest } = readPlanJson(new Uint8Array(await file.arrayBuffer()), file.name);
    const { name, digest: of } = await this.files.take(file);
    return newBoard(job, { name, digest: of }, digest, today());
  }

  #enter(board: Board): void {
    this.pocket = undefined;
    this.desk.change({ boards: [...(this.desk.job?.boards ?? []), board], board: board.number });
  }

  /** Enters a board as cut by the plan as it stands now. */
  async enter(): Promise<void> {
    const board = this.desk.job && (await this.#fromPlan(this.desk.job));
    if (board) this.#enter(board);
  }

  /** A picture of the board, or the plan.json that it was cut by; false where the file is neither. */
  async take(given: readonly File[]): Promise<boolean> {
    const { job } = this.desk;
    const [file, ...others] = given;
    if (!file || !job) return false;
    if (this.part === 'loose') {
      if (given.some((f) => /\.(json|zip)$/i.test(f.name))) return false;
      await this.desk.loose.take(given);
      return true;
    }
    const isPlan = /\.json$/i.test(file.name) && /"pockets"/.test(await file.text());
    if (/\.(json|zip)$/i.test(file.name) && !isPlan) return false;
    try {
      if (this.part === 'pieces' && this.board && !isPlan) {
        await this.#addPieces(this.board, given);
        return true;
      }
      if (others.length > 0) throw new Refusal('two-boards', { count: others.length + 1 });
      if (isPlan) {
        this.#enter(await this.#fromFile(job, file));
        return true;
      }
      const { name, digest } = await this.files.take(file);
      const pictured = { picture: { name, digest }, picturedOn: today() };
      if (this.board) this.change(pictured);
      else {
        const board = await this.#fromPlan(job);
        if (board) this.#enter({ ...board, ...pictured });
      }
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.desk.notice = error.reason;
    }
    return true;
  }

  async #addPieces(board: Board, given: readonly File[]): Promise<void> {
    const pieces = board.pieces ?? NO_PIECES;
    const added: PictureReference[] = [];
    for (const file of given) {
      const { name, digest } = await this.files.take(file);
      added.push({ name, digest });
    }
    const pictures = [...pieces.pictures, ...added].filter(
      (f, k, all) => all.findIndex((g) => g.digest === f.digest) === k,
    );
    this.piece = 0;
    this.change({ pieces: { ...pieces, pictures } });
  }

  changePieces(patch: Partial<NewPieces>): void {
    this.piece = 0;
    this.change({ pieces: { ...(this.board?.pieces ?? NO_PIECES), ...patch } });
  }

  changePrint(patch: Partial<FirstPrint>): void {
    const before = this.board?.print ?? NO_PRINT;
    this.change({ print: { ...before, on: today(), voidOn: null, ...patch } });
  }

  /** The board was taken off and laid in again: what was read of its print no longer holds. */
  seatedAnew(): void {
    if (this.board?.print) this.change({ print: { ...this.board.print, voidOn: today() } });
  }

  /** What the cutter takes away, as the board shows it: for the next board of this material. */
  takeKerf(): void {
    const { job } = this.desk;
    const { report } = this;
    if (!job || !report) return;
    const { value, U } = report.board.kerfMm;
    const kerfMm = Math.round(value * 1000) / 1000;
    const { material, tool } = job.pocket;
    if (material === undefined)
      this.desk.change({ pocket: { ...job.pocket, tool: withKerf(tool, kerfMm) } });
    else this.desk.found({ material, tool: tool.kind, kerfMm, kerfU: U / 2, on: today() });
    this.desk.said = `Kerf ${kerfMm.toFixed(3)} mm taken for the next board`;
  }

  /** What the board shows of the cutter's scale, on top of what was allowed for when it was cut. */
  readonly scalePerMille = $derived.by((): CutterScale | undefined => {
    const { report } = this;
    if (!report) return undefined;
    const { x, y } = report.board.scalePerMille;
    const round = (v: number): number => Math.round(v * 100) / 100;
    // A board tells nothing of the angle between the axes: what is allowed for of that stays.
    const [ax, ay, ...square] = report.plan.cutterPerMille;
    return [
      round(ax + (Math.abs(x.value) > x.U ? x.value : 0)),
      round(ay + (Math.abs(y.value) > y.U ? y.value : 0)),
      ...square,
    ];
  });
  takeScale(): void {
    const { scalePerMille } = this;
    const { job } = this.desk;
    if (scalePerMille && job)
      this.desk.change({ files: { ...job.files, cutterPerMille: scalePerMille, cutterBy: '' } });
  }

  /** The kerf in force is the one that the board shows. */
  readonly kerfTaken = $derived.by(() => {
    const { tool } = this.desk.job?.pocket ?? {};
    const found = this.report?.board.kerfMm.value;
    return tool && found !== undefined && Math.abs(2 * toolRadiusMm(tool) - found) < 6e-4;
  });
}
