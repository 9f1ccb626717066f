import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex } from '@noble/hashes/utils.js';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import type { Feature } from '../check/check.ts';
import type { Reading } from '../check/reading.ts';
import { newJob, readJob, writeJob, type Job } from '../job/job.ts';
import {
  Run,
  seatOutline,
  outlinesOf,
  type Busy,
  type Machines,
  type PictureFile,
  type Results,
} from '../job/run.ts';
import { gateOf } from '../job/gate.ts';
import { standings, trust } from '../job/standing.ts';
import { STEPS, type Step } from '../job/steps.ts';
import { refuseTooHeavy } from '../picture/formats.ts';
import type { PictureMeta } from '../picture/picture.ts';
import { today } from './parts/today.ts';
import type { Proof } from './picture/proof.ts';

/** A job on the desk with its picture and what was last computed from them. */
export interface Entry {
  readonly job: Job;
  readonly file?: PictureFile;
  readonly results: Results;
  /** Changed since it was last saved as a job file. */
  readonly unsaved: boolean;
}

/** The machines, and what ends them when the operator presses Stop. */
export interface Workshop {
  readonly machines: Machines;
  /** Ends all work at once; the next step starts fresh. */
  stop(): void;
  /** A picture that was opened, to be drawn. */
  shown(file: PictureFile, meta: PictureMeta): Promise<ImageBitmap>;
  /** Loads what is slow to load before it is asked for. */
  warm(): void;
}

/** Features that the operator points out by laying jaws on the drawing. */
export type LaidKind = Exclude<Feature['kind'], 'main'>;

export type Theme = 'as the system' | 'paper' | 'slate';

/** Everything the screens show, and the only place that changes it. */
export class Desk {
  entries = $state.raw<readonly Entry[]>([]);
  open = $state(-1);
  step = $state<Step>('jobs');
  /** Number of the blank that is looked at. */
  blank = $state(1);
  busy = $state.raw<Busy>();
  /** Answers to what was dropped or chosen, and why it could not be taken. */
  notice = $state.raw<Reason>();
  /** A fault of the program, said loudly. */
  fault = $state<string>();
  theme = $state<Theme>('as the system');
  /** What is drawn over the picture. */
  proof = $state<Proof>('marks');
  /** Which place the drawing is asked to show; a new object each time. */
  look = $state.raw<{ readonly x: number; readonly y: number }>();

  readonly entry = $derived(this.entries[this.open]);
  readonly job = $derived(this.entry?.job);
  readonly results = $derived<Results>(this.entry?.results ?? {});
  readonly standings = $derived(
    this.job ? standings(this.job, this.results, this.blank) : undefined,
  );
  readonly gate = $derived(this.job ? gateOf(this.job, this.results) : undefined);
  readonly trust = $derived(this.job ? trust(this.job, this.results, this.blank) : undefined);
  readonly outlines = $derived(
    this.results.trace?.ok ? outlinesOf(this.results.trace.value, this.blank) : [],
  );
  readonly seat = $derived(seatOutline(this.outlines));
  /** All readings, judged; sizes and suggestions. */
  readonly held = $derived(this.results.checks?.ok ? this.results.checks.value : undefined);
  /** The two main sizes of the blank that is looked at. */
  readonly sizes = $derived(this.held?.sizes[this.blank]);
  /** Its readings, judged. */
  readonly checks = $derived(
    (this.held?.checked ?? []).filter((c) => c.reading.blank === this.blank),
  );
  /** What jaws were laid on last, and is to be read. */
  feature = $state.raw<Feature>();
  /** The kind of feature that jaws are being laid on. */
  laying = $state<LaidKind>();

  readonly #workshop: Workshop;
  #run: Run;
  #running = -1;

  constructor(workshop: Workshop) {
    this.#workshop = workshop;
    this.#run = this.#newRun();
  }

  /** What a stopped run had sent already may still arrive; it is no news. */
  #newRun(): Run {
    const run: Run = new Run(this.#workshop.machines, (results, busy) => {
      if (run === this.#run) this.#take(results, busy);
    });
    return run;
  }

  #take(results: Results, busy: Busy | undefined): void {
    const at = this.#running;
    const entry = this.entries[at];
    if (!entry) return;
    this.busy = busy;
    if (entry.results !== results) this.#replace(at, { ...entry, results });
  }

  #replace(at: number, entry: Entry): void {
    this.entries = this.entries.map((e, k) => (k === at ? entry : e));
  }

  /** Computes again what follows from a change. */
  async #compute(): Promise<void> {
    const entry = this.entry;
    if (!entry) return;
    this.#running = this.open;
    const run = this.#run;
    try {
      const results = await run.start(entry.job, entry.file, this.step === 'release');
      if (run === this.#run && this.entry?.results === results) this.busy = undefined;
    } catch (error) {
      if (run !== this.#run) return;
      this.busy = undefined;
      this.fault = error instanceof Error ? (error.stack ?? error.message) : String(error);
      throw error;
    }
  }

  /** Changes the open job. */
  change(patch: Partial<Job>): void {
    const entry = this.entry;
    if (!entry) return;
    this.#replace(this.open, { ...entry, job: { ...entry.job, ...patch }, unsaved: true });
    void this.#compute();
  }

  go(step: Step): void {
    if (step !== 'jobs' && !this.job) return;
    this.step = step;
    this.notice = undefined;
    if (step === 'release' && this.job) void this.#compute();
  }

  /** To the neighbouring step. */
  turn(by: 1 | -1): void {
    const next = STEPS[STEPS.indexOf(this.step) + by];
    if (next) this.go(next);
  }

  stop(): void {
    this.#run.stop();
    this.#workshop.stop();
    this.#run = this.#newRun();
    this.busy = undefined;
  }

  /** Goes on with what Stop left undone. */
  resume(): void {
    void this.#compute();
  }

  #add(entry: Entry): void {
    this.#run.stop();
    this.entries = [...this.entries, entry];
    this.#show(this.entries.length - 1);
  }

  #show(at: number): void {
    if (at !== this.open && this.busy) this.stop();
    this.open = at;
    this.blank = 1;
    this.feature = undefined;
    this.laying = undefined;
    this.notice = undefined;
  }

  newJob(): void {
    const used = this.entries.map((e) => Number(e.job.number.replace(/\D/g, '')) || 0);
    const number = `S-${String(Math.max(0, ...used) + 1).padStart(4, '0')}`;
    // A caliper that was tried today need not be tried for every job.
    const day = today();
    const zero = this.entries.map((e) => e.job.zero).find((z) => z?.on === day) ?? null;
    const job = { ...newJob(number, `Job ${number}`), zero };
    this.#add({ job, results: {}, unsaved: false });
    this.go('sheet');
    this.#workshop.warm();
  }

  openEntry(at: number): void {
    this.#show(at);
    this.go(this.job?.picture ? 'outline' : 'sheet');
    void this.#compute();
  }

  /** The sample, its picture included. */
  async openSample(job: Job, picture: File): Promise<void> {
    const before = this.entries.findIndex((e) => e.job.number === job.number && e.job.invented);
    if (before >= 0) {
      this.openEntry(before);
      return;
    }
    const file = await pictureFile(picture);
    this.#add({
      job: { ...job, picture: { name: file.name, digest: file.digest } },
      file,
      results: {},
      unsaved: false,
    });
    this.go('picture');
    void this.#compute();
  }

  /** Whatever was dropped or chosen: a picture for the open job, or a job file. */
  async take(files: readonly File[]): Promise<void> {
    this.notice = undefined;
    const [first, ...others] = files;
    if (!first) return;
    if (others.length > 0) {
      this.notice = reason('two-files', { count: files.length });
      return;
    }
    if (/\.json$/i.test(first.name)) {
      await this.#takeJobFile(first);
      return;
    }
    if (!this.job) this.newJob();
    let file: PictureFile;
    try {
      file = await pictureFile(first);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.notice = error.reason;
      return;
    }
    const entry = this.entry!;
    const expected = entry.job.picture;
    this.#replace(this.open, {
      ...entry,
      file,
      results: {},
      job: { ...entry.job, picture: { name: file.name, digest: file.digest } },
      unsaved: true,
    });
    if (this.step !== 'outline') this.step = 'picture';
    if (expected && !entry.file && expected.digest !== file.digest)
      this.notice = reason('picture-another', { name: file.name, expected: expected.name });
    await this.#compute();
  }

  readonly shown = (file: PictureFile, meta: PictureMeta): Promise<ImageBitmap> =>
    this.#workshop.shown(file, meta);

  async #takeJobFile(file: File): Promise<void> {
    try {
      const job = readJob(await file.text());
      this.#add({ job, results: {}, unsaved: false });
      this.step = 'picture';
      this.notice = job.picture ? reason('picture-wanted', { name: job.picture.name }) : undefined;
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.notice = error.reason;
    }
  }

  /** The job as a file; what was entered, not the picture. */
  saveJob(): { name: string; text: string } | undefined {
    const entry = this.entry;
    if (!entry) return undefined;
    this.#replace(this.open, { ...entry, unsaved: false });
    return { name: `${entry.job.number}.job.json`, text: writeJob(entry.job) };
  }

  #walked = -1;
  /** To the next of the places that want looking at. */
  walk(places: readonly { readonly x: number; readonly y: number }[]): void {
    if (places.length === 0) return;
    this.#walked = (this.#walked + 1) % places.length;
    this.look = { ...places[this.#walked]! };
  }

  choose(blank: number): void {
    this.blank = blank;
    this.feature = undefined;
    this.laying = undefined;
  }

  /** Uses readings of the blank that is looked at to correct its outline (one feature's, or all), or takes that back. */
  correct(on: boolean, feature?: Feature): void {
    const { job } = this;
    if (!job) return;
    const meant = (r: Reading): boolean =>
      r.blank === this.blank && (!feature || JSON.stringify(r.feature) === JSON.stringify(feature));
    this.change({
      readings: job.readings.map((r) => {
        if (!meant(r)) return r;
        const check: Reading = {
          blank: r.blank,
          feature: r.feature,
          valuesMm: r.valuesMm,
          with: r.with,
        };
        return on ? { ...check, use: 'fit' } : check;
      }),
    });
  }

  /** Sets what was read of a feature of the blank that is looked at; no figures take the reading away. */
  read(feature: Feature, valuesMm: readonly number[]): void {
    const { job } = this;
    if (!job) return;
    const same = (r: Reading): boolean =>
      r.blank === this.blank && JSON.stringify(r.feature) === JSON.stringify(feature);
    const before = job.readings.find(same);
    const next: Reading = {
      blank: this.blank,
      feature,
      valuesMm,
      with: before?.with ?? job.instrument,
      ...(before?.use && { use: before.use }),
    };
    const others = job.readings.filter((r) => !same(r));
    this.change({
      readings:
        valuesMm.length === 0
          ? others
          : before
            ? job.readings.map((r) => (same(r) ? next : r))
            : [...others, next],
    });
  }
}

/** @throws Refusal `picture-too-heavy` */
async function pictureFile(file: File): Promise<PictureFile> {
  refuseTooHeavy(file.size, file.name);
  const bytes = new Uint8Array(await file.arrayBuffer());
  return { name: file.name, digest: bytesToHex(sha256(bytes)), bytes: file };
}
