import { reason, Refusal, type Reason } from '../../base/reason.ts';
import { planJson, readPlanJson } from '../../files/plan-json.ts';
import { fileSettings } from '../../files/settings.ts';
import { AfterRun, type AfterMachines, type AfterResults } from '../../job/after.ts';
import { filesOfBoard, newBoard, type Board } from '../../job/boards.ts';
import type { Job } from '../../job/job.ts';
import { sheetReasons } from '../../job/standing.ts';
import type { Busy, PictureFile } from '../../job/run.ts';
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

/** The boards of the open job: entered, pictured, measured, on machines of their own. */
export class AfterCut {
  results = $state.raw<AfterResults>({});
  busy = $state.raw<Busy>();
  /** Number of the board that is looked at; absent: the last. */
  number = $state<number>();
  /** The pocket that is drawn large, by its number on the board. */
  pocket = $state<string>();
  readonly board = $derived.by((): Board | undefined => {
    const boards = this.desk.job?.boards ?? [];
    return boards.find((b) => b.number === this.number) ?? boards.at(-1);
  });
  readonly report = $derived(this.results.board?.ok ? this.results.board.value : undefined);
  /** What there is to know of the board. */
  readonly reasons = $derived.by((): readonly Reason[] => {
    const { job } = this.desk;
    const { found, traced, board } = this.results;
    if (!job) return [];
    return [
      ...(found?.ok === false ? [found.reason] : []),
      // Another sheet than the job's is no matter where its own spans were read.
      ...(found?.ok && !this.board?.sheet.spansMm ? sheetReasons(job, found.value) : []),
      ...(traced ? (traced.ok ? traced.value.reasons : [traced.reason]) : []),
      ...(board ? (board.ok ? board.value.board.reasons : [board.reason]) : []),
    ];
  });

  #workshop: Workshop | undefined;
  #run: AfterRun | undefined;

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

  /** What follows from the board's entries; memory is given back when it is done. */
  async compute(): Promise<void> {
    const { board } = this;
    const { job, results } = this.desk;
    if (!board || !job) {
      this.results = {};
      return;
    }
    const files = new Map<string, PictureFile>();
    for (const { digest } of filesOfBoard(board)) {
      const file = await this.files.file(digest);
      if (file) files.set(digest, file);
    }
    const wanted = filesOfBoard(board).find((f) => !files.has(f.digest));
    if (wanted) this.desk.notice = reason('board-file-wanted', { file: wanted.name });
    const run = this.#runNow();
    const trace = results.trace?.ok ? results.trace.value : undefined;
    try {
      await run.start(job, board, { files, trace });
      if (run === this.#run) this.busy = undefined;
    } catch (error) {
      if (run !== this.#run) return;
      this.busy = undefined;
      this.fault(error);
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
    this.number = undefined;
    this.pocket = undefined;
  }

  #end(): void {
    this.#run?.stop();
    this.#workshop?.stop();
    this.#run = undefined;
    this.#workshop = undefined;
    this.busy = undefined;
  }

  look(number: number): void {
    this.number = number;
    this.pocket = undefined;
    this.results = {};
    void this.compute();
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
    this.number = board.number;
    this.pocket = undefined;
    this.results = {};
    this.desk.change({ boards: [...(this.desk.job?.boards ?? []), board] });
  }

  /** Enters a board as cut by the plan as it stands now. */
  async enter(): Promise<void> {
    const board = this.desk.job && (await this.#fromPlan(this.desk.job));
    if (board) this.#enter(board);
  }

  /** A picture of the board, or the plan.json that it was cut by; false where the file is neither. */
  async take([file, ...others]: readonly File[]): Promise<boolean> {
    const { job } = this.desk;
    if (!file || !job) return false;
    const isPlan = /\.json$/i.test(file.name) && /"pockets"/.test(await file.text());
    if (/\.(json|zip)$/i.test(file.name) && !isPlan) return false;
    try {
      if (others.length > 0) throw new Refusal('two-files', { count: others.length + 1 });
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

  /** What the cutter takes away, as the board shows it: for the next board of this material. */
  takeKerf(): void {
    const { job } = this.desk;
    const { report } = this;
    if (!job || !report) return;
    const { value, U } = report.board.kerfMm;
    const kerfMm = Math.round(value * 1000) / 1000;
    const { material, tool } = job.pocket;
    if (material === undefined) this.desk.change({ pocket: { ...job.pocket, tool: withKerf(tool, kerfMm) } });
    else this.desk.found({ material, tool: tool.kind, kerfMm, kerfU: U / 2, on: today() });
    this.desk.said = `Kerf ${kerfMm.toFixed(3)} mm taken for the next board`;
  }

  /** What the board shows of the cutter's scale, on top of what was allowed for when it was cut. */
  readonly scalePerMille = $derived.by((): readonly [number, number] | undefined => {
    const { report } = this;
    if (!report) return undefined;
    const { x, y } = report.board.scalePerMille;
    const round = (v: number): number => Math.round(v * 100) / 100;
    const [ax, ay] = report.cutterPerMille;
    return [
      round(ax + (Math.abs(x.value) > x.U ? x.value : 0)),
      round(ay + (Math.abs(y.value) > y.U ? y.value : 0)),
    ];
  });
  takeScale(): void {
    const { scalePerMille } = this;
    const { job } = this.desk;
    if (scalePerMille && job)
      this.desk.change({ files: { ...job.files, cutterPerMille: scalePerMille } });
  }

  /** The kerf in force is the one that the board shows. */
  readonly kerfTaken = $derived.by(() => {
    const { tool } = this.desk.job?.pocket ?? {};
    const found = this.report?.board.kerfMm.value;
    return tool && found !== undefined && Math.abs(2 * toolRadiusMm(tool) - found) < 6e-4;
  });
}
