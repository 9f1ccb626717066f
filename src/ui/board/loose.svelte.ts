import type { LooseKind } from '../../after/lying.ts';
import type { LooseLoad, LooseSettings } from '../../after/loose.ts';
import { loosePlan } from '../../after/loose-plan.ts';
import type { Progress } from '../../base/progress.ts';
import { reason, Refusal, type Outcome, type Reason } from '../../base/reason.ts';
import type { LooseFile } from '../../files/loose-release.ts';
import { fileSettings, type FileSettings } from '../../files/settings.ts';
import { gateOf, type Demand } from '../../job/gate.ts';
import type { Jig } from '../../job/jig.ts';
import type { Job } from '../../job/job.ts';
import { looseKinds } from '../../job/loose.ts';
import { NO_LOOSE, type LooseBed, type LooseSeen } from '../../job/loose-bed.ts';
import {
  calibrationOf,
  traceOf,
  type Busy,
  type PictureFile,
  type SideOrder,
} from '../../job/run.ts';
import type { Step } from '../../job/steps.ts';
import type { Trace, TraceSettings } from '../../outline/outline.ts';
import type { BedPlan } from '../../plan/plan.ts';
import { REGISTRATION } from '../../plan/registration.ts';
import type { PhotoSettings } from '../../view/profile.ts';
import type { Desk, Workshop } from '../desk.svelte.ts';
import { today } from '../parts/today.ts';

/** Steps whose demands concern what is printed on pieces that lie loose; nothing is cut. */
const OF_OUTLINE = new Set<Step>(['jobs', 'sheet', 'picture', 'outline', 'check']);

/** Where the work is done. */
export interface LooseMachines {
  place(
    files: readonly PictureFile[],
    kinds: readonly LooseKind[],
    calibration: PhotoSettings,
    settings: TraceSettings,
    weigh: LooseSettings,
    bed: { readonly widthMm: number; readonly depthMm: number },
    progress: Progress,
  ): Promise<Outcome<LooseSeen>>;
  files(
    seen: LooseSeen,
    blanks: Jig['blanks'],
    settings: Parameters<typeof loosePlan>[2],
    trace: Pick<Trace, 'verdict' | 'reasons'>,
    on: string,
    headGapMm: number,
    said: FileSettings,
    artwork: SideOrder | undefined,
  ): Promise<Outcome<readonly LooseFile[]>>;
}

interface Files {
  take(file: File): Promise<PictureFile>;
  file(digest: string): Promise<PictureFile | undefined>;
}

/** The bed loaded without a board: its photos, what lies on it, and what is printed on that. */
export class Loose {
  seen = $state.raw<Outcome<LooseSeen>>();
  /** The file of the photo that the load is shown in. */
  photo = $state.raw<PictureFile>();
  shows = $state<'photo' | 'bed'>('photo');
  #files = $state.raw<{ readonly of: Job; readonly made: Outcome<readonly LooseFile[]> }>();
  /** Files are those of the job as it stands: any change of it takes them away. */
  readonly made = $derived.by(() =>
    this.#files && this.#files.of === this.desk.job ? this.#files.made : undefined,
  );
  busy = $state.raw<Busy>();
  readonly entered = $derived.by((): LooseBed => this.desk.job?.loose ?? NO_LOOSE);
  readonly load = $derived.by((): LooseLoad | undefined =>
    this.seen?.ok ? this.seen.value.load : undefined,
  );
  /** The bed with its pieces; nothing of it is cut. */
  readonly plan = $derived.by((): BedPlan | undefined => {
    const { job, results } = this.desk;
    if (!this.load || !job || !results.pockets?.ok) return undefined;
    return loosePlan(results.pockets.value, this.load, settingsOf(job));
  });
  readonly reasons = $derived.by((): readonly Reason[] => [
    ...(this.seen?.ok === false ? [this.seen.reason] : []),
    ...(this.plan?.reasons ?? []),
    ...(this.made?.ok === false ? [this.made.reason] : []),
  ]);
  /** What has to be settled of the outline before anything is printed by it, as for a board. */
  readonly shutBy = $derived.by((): readonly Demand[] => {
    const { job, results } = this.desk;
    if (!job) return [];
    return gateOf(job, results).shutBy.filter(({ step }) => OF_OUTLINE.has(step));
  });
  readonly fit = $derived.by(
    () =>
      this.plan !== undefined &&
      this.shutBy.length === 0 &&
      !this.plan.reasons.some(({ level }) => level === 'refuse'),
  );

  #of = '';
  #turn = 0;

  constructor(
    readonly desk: Desk,
    readonly start: () => Workshop,
    readonly files: Files,
    readonly fault: (error: unknown) => void,
  ) {}

  change(patch: Partial<LooseBed>): void {
    this.desk.change({ loose: { ...this.entered, ...patch } });
  }

  async take(given: readonly File[]): Promise<void> {
    const added = [];
    for (const file of given) {
      const { name, digest } = await this.files.take(file);
      added.push({ name, digest });
    }
    const pictures = [...this.entered.pictures, ...added].filter(
      (f, k, all) => all.findIndex((g) => g.digest === f.digest) === k,
    );
    this.change({ pictures });
  }

  /** Another job is looked at. */
  clear(): void {
    this.#turn++;
    this.#of = '';
    this.seen = undefined;
    this.photo = undefined;
    this.#files = undefined;
    this.busy = undefined;
  }

  /** Places what the photos show, where anything that bears on it has changed. */
  async compute(): Promise<void> {
    const { job, results } = this.desk;
    const { pictures } = this.entered;
    if (!job || pictures.length === 0 || !results.pockets?.ok) return this.clear();
    const blanks = results.pockets.value;
    const calibration = calibrationFor(job);
    const weigh = weighOf(job);
    const { widthMm, depthMm } = job.bed;
    const of = JSON.stringify([
      this.entered,
      calibration,
      traceOf(job),
      weigh,
      [widthMm, depthMm],
      blanks.map(({ seat }) => [seat.id, seat.thicknessMm, seat.region.outer[0]]),
    ]);
    if (of === this.#of) return;
    this.clear();
    this.#of = of;
    await this.#working(async (machines, progress) => {
      const found: PictureFile[] = [];
      for (const { digest, name } of pictures) {
        const file = await this.files.file(digest);
        if (file) found.push(file);
        else this.desk.notice = reason('board-file-wanted', { file: name });
      }
      if (found.length < pictures.length) return;
      const counts = Object.keys(this.entered.counts).length > 0 ? this.entered.counts : undefined;
      const kinds = looseKinds(blanks, counts);
      const settings = { ...traceOf(job), face: 'print' as const };
      const bed = { widthMm, depthMm };
      const seen = await machines.place(found, kinds, calibration, settings, weigh, bed, progress);
      if (of !== this.#of) return;
      this.photo = found[0];
      this.seen = seen;
    });
  }

  /** Writes the files of the load, each read back. */
  async make(): Promise<void> {
    const { job, results } = this.desk;
    const { seen } = this;
    if (!job || !seen?.ok || !results.pockets?.ok || !results.trace?.ok) return;
    const blanks = results.pockets.value;
    const { verdict, reasons } = results.trace.value;
    await this.#working(async (machines) => {
      this.busy = { step: 'Writing the files of the load', done: 0, of: 1 };
      const made = await machines.files(
        seen.value,
        blanks,
        settingsOf(job),
        { verdict, reasons },
        today(),
        job.heights.headGapMm,
        fileSettings(job.files),
        await this.#artwork(job),
      );
      this.#files = { of: job, made };
    });
  }

  async #artwork({ artwork }: Job): Promise<SideOrder | undefined> {
    if (!artwork || (artwork.files.length === 0 && !artwork.run)) return undefined;
    const files = await Promise.all(artwork.files.map(({ digest }) => this.files.file(digest)));
    const fonts = await Promise.all(
      (artwork.run?.lines ?? []).map(({ font }) =>
        typeof font === 'string' ? font : this.files.file(font.digest),
      ),
    );
    // Nothing is printed without what it was to be printed with.
    const lost = artwork.files.find((_, k) => !files[k]);
    if (lost) throw new Refusal('artwork-wanted', { file: lost.name });
    const font = (artwork.run?.lines ?? []).find((_, k) => !fonts[k])?.font;
    if (font !== undefined && typeof font !== 'string')
      throw new Refusal('font-wanted', { file: font.name });
    return {
      files: files.filter((f) => f !== undefined),
      settings: artwork,
      fonts: fonts.filter((f) => f !== undefined),
    };
  }

  async #working(
    work: (machines: LooseMachines, progress: Progress) => Promise<void>,
  ): Promise<void> {
    const turn = ++this.#turn;
    const workshop = this.start();
    const progress: Progress = (step, done, of) => {
      if (turn === this.#turn) this.busy = { step, done, of };
    };
    progress('Placing the pieces', 0, 1);
    try {
      await work(workshop.loose, progress);
    } catch (error) {
      if (error instanceof Refusal) this.desk.notice = error.reason;
      else this.fault(error);
    } finally {
      workshop.stop();
      if (turn === this.#turn) this.busy = undefined;
    }
  }
}

const settingsOf = (job: Job): Parameters<typeof loosePlan>[2] => ({
  pocket: job.pocket,
  bed: job.bed,
  job: { number: job.number, name: job.name },
});

/** The marked sheet of the bed is another one than the job's: its own spans. */
function calibrationFor(job: Job): PhotoSettings {
  const { spansMm, kept = 'today' } = job.loose ?? NO_LOOSE;
  const sheet = { ...job.sheet, by: 'camera' as const, spansMm, kept };
  return calibrationOf({ ...job, blocksMm: [], sheet }) as PhotoSettings;
}

function weighOf(job: Job): LooseSettings {
  const { printerMm, spreadMm } = job.registration ?? REGISTRATION;
  const { bleedMm, safeMm } = job.pocket;
  return { printerMm, spreadMm, bleedMm, safeMm };
}
