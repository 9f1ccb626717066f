import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex } from '@noble/hashes/utils.js';
import { NEW_ARTWORK, type ArtworkSettings } from '../artwork/artwork.ts';
import { NEW_BACK, ofBack, withBack } from '../artwork/back.ts';
import { faceOf, type Face } from '../artwork/place.ts';
import { newLine, type Line } from '../artwork/run.ts';
import { columnsOf, tableOf, textOfTable } from '../artwork/table.ts';
import type { Point } from '../base/measure.ts';
import type { Progress } from '../base/progress.ts';
import { reason, Refusal, type Outcome, type Reason } from '../base/reason.ts';
import { without } from '../base/without.ts';
import type { Feature } from '../check/check.ts';
import { experienceOf, type Experience, type RecordEntry } from '../check/record.ts';
import type { Reading } from '../check/reading.ts';
import type { Match } from '../files/match.ts';
import {
  isScanned,
  jobLike,
  newJob,
  writeJob,
  type Job,
  type PictureReference,
} from '../job/job.ts';
import { artFilesOf, filesOf, isZip } from '../job/job-file.ts';
import { listed } from '../job/listed.ts';
import { salvageJob } from '../job/salvage.ts';
import type { LadderFile } from '../files/ladder.ts';
import type { ReleaseFile } from '../files/release.ts';
import type { AfterMachines } from '../job/after.ts';
import type { SeatFile } from '../files/seat.ts';
import { fileSettings, type FileSettings } from '../files/settings.ts';
import { aboutCentroid } from '../geometry/measure.ts';
import { toolRadiusMm } from '../pocket/pocket-of.ts';
import { plateHoles, platePockets } from '../seat/plates.ts';
import { SEATS, type SeatFrom, type SheetKind, type SeatSettings } from '../seat/kinds.ts';
import type { SeatSheet } from '../seat/seat.ts';
import { leftOver, type JigSettings } from '../job/jig.ts';
import {
  Run,
  type Busy,
  type Machines,
  type PictureFile,
  type ReadJob,
  type Results,
  type SideArtwork,
  flatCalibrationOf,
} from '../job/run.ts';
import { seatOutline, outlinesOf } from '../job/seats.ts';
import type { Correction } from '../after/first-print.ts';
import { correctionFor } from '../job/boards.ts';
import { gateOf } from '../job/gate.ts';
import { changed, lookingAsNow, NO_HISTORY, redo, undo, type History } from '../job/history.ts';
import type { KeptJob, KeptProfile, LostJob, Store } from '../job/store.ts';
import { withEnvelope } from '../outline/kind.ts';
import { profileFor } from '../job/profiles.ts';
import { cameraOf, entriesOf } from '../job/record.ts';
import { boardStand, standings, trust } from '../job/standing.ts';
import { STEPS, type Step } from '../job/steps.ts';
import type { Offer } from '../outline/mend.ts';
import type { Outline, Trace } from '../outline/outline.ts';
import { LADDER, type LadderSettings } from '../plan/ladder.ts';
import { withFit, withKerf, type KnownFit } from '../pocket/fits.ts';
import { refuseTooHeavy } from '../picture/formats.ts';
import type { PictureMeta } from '../picture/picture.ts';
import type { ShownPicture } from '../picture/shown-browser.ts';
import { onOtherPrinter, onPrinter, type Printer } from '../plan/machines.ts';
import { NEST_ROUNDS, type Nest } from '../plan/nest.ts';
import type { BedPlan } from '../plan/plan.ts';
import type { BedReading } from '../plan/bed-profile.ts';
import type { PhotoSettings } from '../view/profile.ts';
import { byBack, turnedOver } from '../plan/turned-over.ts';
import { profileKey } from '../view/profile-photos.ts';
import type { LensProfile } from '../view/profile.ts';
import { profileOf as scannerProfileOf, scannerKey } from '../view/scan-profile.ts';
import { AfterCut } from './board/after.svelte.ts';
import { Loose, type LooseMachines } from './board/loose.svelte.ts';
import { Placing } from './bed/placing.svelte.ts';
import { Batch } from './jobs/batch.svelte.ts';
import { Keeper, type Keepable } from './keeper.ts';
import type { Keeping, Safety } from './keeping.ts';
import { today } from './parts/today.ts';
import { Mending } from './outline/mending.svelte.ts';
import { LensBench } from './picture/lens-bench.svelte.ts';
import type { Proof } from './picture/proof.ts';
import { ShownPictures } from './picture/shown.ts';
import { Seating } from './pocket/seating.svelte.ts';

/** A job on the desk with its picture and what was last computed from them. */
export interface Entry {
  readonly id: string;
  /** Place in the list of jobs. */
  readonly place: number;
  readonly job: Job;
  readonly history: History;
  readonly file?: PictureFile;
  /** Further photos that are at hand. */
  readonly more: readonly PictureFile[];
  readonly results: Results;
  /** They are what a list shows and no more. */
  readonly listed?: true;
  /** What was entered last is kept on this machine. */
  readonly kept: boolean;
  /** It was changed in this visit. */
  readonly changedHere: boolean;
}

/** The machines, and what ends them when the operator presses Stop. */
export interface Workshop {
  readonly machines: Machines;
  /** Ends all work at once; the next step starts fresh. */
  stop(): void;
  /** Shapes that an outline comes near to. */
  offers(outline: Outline): Promise<readonly Offer[]>;
  /** A picture that was opened, to be drawn. */
  shown(file: PictureFile, meta: PictureMeta): Promise<ShownPicture>;
  /** Holds a file, as any program may have saved it, against the plan. */
  match(
    plan: BedPlan,
    settings: FileSettings,
    correction: Correction | undefined,
    bytes: Uint8Array,
    file: string,
  ): Promise<Outcome<Match>>;
  /** What a photo of crosses on the bed, the sheet lying with them, tells of their distances. */
  bedRead(
    file: PictureFile,
    settings: PhotoSettings,
    bed: BedReading['bed'],
    on: string,
  ): Promise<Outcome<BedReading>>;
  /** What is done once a board is cut. */
  readonly after: AfterMachines;
  /** What lies on a bed without a board. */
  readonly loose: LooseMachines;
  /** The cut files of a fit ladder for one blank, read back. */
  ladder(
    trace: Trace,
    blank: number,
    settings: JigSettings,
    steps: LadderSettings,
  ): Promise<Outcome<LadderBoard>>;
  /** A seat that needs no pocket, and its files, read back. */
  seat(
    kind: SheetKind,
    settings: SeatSettings,
    from: SeatFrom,
    job: { readonly number: string; readonly name: string },
    files: FileSettings,
  ): Promise<Outcome<SeatMade>>;
  /** All files of a release in one, with a list. */
  pack(plan: BedPlan, files: readonly ReleaseFile[]): Promise<Outcome<Uint8Array>>;
  /** Places for all that is asked for, or for as many as fit. */
  nest(
    trace: Trace,
    settings: Omit<JigSettings, 'job'>,
    fill: boolean,
    progress: Progress,
  ): Promise<Outcome<Nest>>;
  /** A job file, as far as it can be read. */
  readJob(file: Blob): Promise<Outcome<ReadJob>>;
  /** A job, or the text of one that cannot be read, with these files as one file. */
  writeJob(job: Job | string, files: readonly PictureFile[]): Promise<Blob>;
  /** Loads what is slow to load, and runs it once, before it is asked for. */
  warm(): void;
  /** Machines of their own, which work beside these. */
  another(): Workshop;
}

/** A seat as it leaves; without files where something refuses them. */
export interface SeatMade {
  readonly sheet: SeatSheet;
  readonly files: readonly SeatFile[];
  /** All of them in one. */
  readonly all: Uint8Array;
}

/** A fit ladder as files, and the size of its board. */
export interface LadderBoard {
  readonly widthMm: number;
  readonly depthMm: number;
  readonly files: readonly LadderFile[];
}

/** Features that the operator points out by laying jaws on the drawing. */
export type LaidKind = Exclude<Feature['kind'], 'main' | 'thickness' | 'step'>;

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
  /** What the step Release shows: the files that leave, or the artwork as it lies. */
  part = $state<'files' | 'artwork'>('files');
  /** Which side of the pieces the artwork is about, where both are printed. */
  side = $state<'front' | 'back'>('front');
  /** The file that was held against the plan last, and which plan that was. */
  matched = $state.raw<{ readonly digest: string; readonly match: Match; readonly file: File }>();
  /** Its name, while it is read. */
  matching = $state('');
  /** Why jobs are not kept on this machine; undefined while they are. */
  unkept = $state.raw<Reason>();
  /** What the browser says of how safe that is. */
  safety = $state.raw<Safety>();
  /** Kept jobs that cannot be read. */
  lost = $state.raw<readonly LostJob[]>([]);
  /** The job that was taken off the list last, to be brought back. */
  removed = $state.raw<Entry>();
  /** What undoing or doing again came to, for those who listen. */
  said = $state('');
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
  /** What is being done just now. */
  readonly working = $derived.by(() => this.busy ?? this.after.busy ?? this.loose.busy);
  readonly standings = $derived.by(() =>
    this.job
      ? {
          ...standings(this.job, this.results, this.blank),
          board: boardStand(this.job, this.after.board, this.after.results),
        }
      : undefined,
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
  /** Mending by hand: the tool, and what is laid. */
  readonly mending = new Mending(this);
  /** The seat that needs no pocket, where one is looked at. */
  readonly seating: Seating = new Seating(this);
  /** Laying pockets one by one on the bed. */
  readonly placing: Placing = new Placing(this);
  /** The kind of feature that jaws are being laid on. */
  laying = $state<LaidKind>();

  /** Lens and scanner profiles of this machine. */
  profiles = $state.raw<readonly KeptProfile[]>([]);
  /** Every reading that was held against an outline on this machine. */
  record = $state.raw<readonly RecordEntry[]>([]);
  /** Photos on their way to a lens profile, and whether they are looked at. */
  readonly bench: LensBench;
  benchOpen = $state(false);

  /** The picture as the drawings show it. */
  readonly shown: ShownPictures;

  /** Many pictures at once, one job each. */
  readonly batch: Batch;

  /** Boards that were cut from the open job. */
  readonly after: AfterCut;
  readonly loose: Loose;

  readonly #workshop: Workshop;
  #run: Run;
  /** Id of the entry that is computed. */
  #running = '';
  readonly #keeper: Keeper = new Keeper(
    (id) => this.entries.find((e) => e.id === id),
    (answer) => this.#kept(answer),
  );
  #elsewhere = false;
  /** Where pictures of earlier visits are; another window may be the one that writes there. */
  #pictures: Store | undefined;

  constructor(workshop: Workshop) {
    this.#workshop = workshop;
    this.shown = new ShownPictures((file, meta) => workshop.shown(file, meta));
    const fault = (error: unknown): void => {
      this.fault = error instanceof Error ? (error.stack ?? error.message) : String(error);
    };
    this.bench = new LensBench(workshop.machines, pictureFile, fault);
    this.batch = new Batch(
      () => workshop.another(),
      (id) => this.entries.find((e) => e.id === id),
      (entry, results) => {
        const now = this.entries.find((e) => e.id === entry.id);
        // One that was opened meanwhile is computed at the desk.
        if (now?.job === entry.job && now.id !== this.#running)
          this.#replace(asListed({ ...now, results }));
      },
      fault,
    );
    const files = {
      take: async (file: File) => {
        const taken = await pictureFile(file);
        this.#keeper.remember(taken);
        return taken;
      },
      file: (digest: string) => this.#keeper.picture(digest, this.#pictures),
    };
    this.after = new AfterCut(this, () => workshop.another(), files, fault);
    this.loose = new Loose(this, () => workshop.another(), files, fault);
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
    const entry = this.entries.find((e) => e.id === this.#running);
    if (!entry) return;
    this.busy = busy;
    if (entry.results === results) return;
    const known = entry.results.info;
    this.#replace({ ...entry, results });
    if (results.info !== known) this.#fitProfile();
    if (results.checks && results.checks !== entry.results.checks) this.#remember();
  }

  /** What the record says of U for pictures of one camera; the job's own readings must not widen what they are held against. */
  #experience(id: string, job: Job, results: Results): Experience & { of: string } {
    const of = cameraOf(job, results) ?? '';
    const others = this.record.filter((e) => e.camera === of && !e.key.startsWith(`${id} `));
    return { of, ...experienceOf(others) };
  }

  /** Puts the job's readings, as they are now held against its outline, into the record. */
  #remember(): void {
    const { entry } = this;
    if (!entry?.results.checks?.ok || entry.id !== this.#running) return;
    const { id, job, results } = entry;
    const old = this.record.filter((e) => e.key.startsWith(`${id} `));
    const { factor } = this.#experience(id, job, results);
    const made = entriesOf(id, job, results, factor, today()).map((e) => ({
      ...e,
      on: old.find((o) => o.key === e.key && o.readMm === e.readMm)?.on ?? e.on,
    }));
    if (JSON.stringify(made) === JSON.stringify(old)) return;
    const gone = old.filter((o) => !made.some((e) => e.key === o.key)).map((o) => o.key);
    this.record = [...this.record.filter((e) => !e.key.startsWith(`${id} `)), ...made];
    if (this.#elsewhere) return;
    this.#pictures?.keepRecord(made, gone).catch((error: unknown) => {
      if (!(error instanceof Refusal)) throw error;
      this.unkept = error.reason;
    });
  }

  /**
   * Takes the profile that is kept for the picture at hand, and gives up one that is of another camera. It follows from the
   * picture and from what is kept, and is no step of the operator's that she could undo; she can do without it.
   */
  #fitProfile(): void {
    const { entry } = this;
    if (!entry?.results.info?.ok || entry.id !== this.#running) return;
    const patch = profileFor(entry.job, entry.results.info.value, this.profiles);
    if (!patch) return;
    this.#settle({ ...entry, job: { ...entry.job, ...patch } });
    void this.#compute();
  }

  /** Keeps a lens profile on this machine, in place of an older one of the same lens, and measures by it what it fits. */
  async keepLens(profile: LensProfile): Promise<boolean> {
    const kept = await this.#keepProfile({
      key: `lens ${profileKey(profile)}`,
      on: today(),
      kind: 'lens',
      profile,
    });
    const { job } = this;
    // One that was measured by the older profile of this lens now goes by the newer.
    if (job?.lens && job.lens !== 'none' && profileKey(job.lens) === profileKey(profile))
      this.change({ lens: profile });
    return kept;
  }

  /** Keeps what the scan of a measured sheet tells of its scanner. */
  async keepScanner(): Promise<boolean> {
    const { info, view } = this.results;
    if (!info?.ok || !view?.ok) return false;
    const profile = scannerProfileOf([{ view: view.value, meta: info.value.meta }]);
    return this.#keepProfile({
      key: `scanner ${scannerKey(profile)}`,
      on: today(),
      kind: 'scanner',
      profile,
    });
  }

  async #keepProfile(kept: KeptProfile): Promise<boolean> {
    this.profiles = [...this.profiles.filter((p) => p.key !== kept.key), kept];
    let done = false;
    try {
      await this.#pictures?.keepProfile(kept);
      done = this.#pictures !== undefined;
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.notice = error.reason;
    }
    this.#fitProfile();
    return done;
  }

  async forgetProfile(key: string): Promise<void> {
    this.profiles = this.profiles.filter((p) => p.key !== key);
    try {
      await this.#pictures?.forgetProfile(key);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.notice = error.reason;
    }
  }

  #replace(entry: Entry): void {
    this.entries = this.entries.map((e) => (e.id === entry.id ? entry : e));
  }

  /** An entry whose job is another now; it is kept at once. */
  #settle(entry: Entry): void {
    this.#replace({ ...entry, kept: false, changedHere: true });
    this.#keeper.keep(entry.id);
  }

  #kept(answer: Keepable | Reason): void {
    if ('code' in answer) {
      this.unkept = answer;
      return;
    }
    this.unkept = undefined;
    const now = this.entries.find((e) => e.id === answer.id);
    if (now && now.job === answer.job) this.#replace({ ...now, kept: true });
  }

  /** Brings back what was kept on earlier visits, and keeps from now on. `stood` is the job and the step that were open. */
  async restore(
    opening: Promise<Keeping>,
    stood: { readonly id: string | null; readonly step: string },
  ): Promise<void> {
    let keeping: Keeping;
    let before: readonly Entry[];
    let lost: readonly LostJob[];
    try {
      keeping = await opening;
      const jobs = await keeping.store.jobs();
      before = jobs.kept.map((job) => restored(job));
      lost = jobs.lost;
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.unkept = error.reason;
      return;
    }
    const { store, elsewhere, ours } = keeping;
    void keeping.safety.then((safety) => (this.safety = safety));
    const profiles = await store.profiles();
    this.profiles = [...profiles, ...this.profiles];
    this.record = [...(await store.record()), ...this.record];
    this.#elsewhere = elsewhere;
    // What was begun while this was being read comes after it.
    const { entry } = this;
    const most = Math.max(0, ...before.map((e) => e.place));
    const begun = this.entries.map((e) => ({ ...e, place: e.place + most }));
    this.entries = [...before, ...begun];
    this.open = entry ? this.entries.findIndex((e) => e.id === entry.id) : -1;
    this.lost = lost;
    if (lost.length > 0)
      this.notice = reason('job-lost', {
        count: lost.length,
        what: lost[0]!.reason.message.replace(/\.$/, ''),
      });
    if (elsewhere) {
      this.unkept = reason('other-window', {});
      void ours.then(() => this.#takeOver(store));
    } else {
      await store.tidy();
      this.#keeper.begin(store);
    }
    this.#pictures = store;
    this.#fitProfile();
    const at = this.entries.findIndex((e) => e.id === stood.id);
    if (entry || at < 0) return;
    this.openEntry(
      at,
      STEPS.find((step) => step === stood.step),
    );
  }

  /** The other window was closed. What was changed here meanwhile becomes jobs of their own: it may have been changed there too. */
  async #takeOver(store: Store): Promise<void> {
    // What the other window did meanwhile: all that was not changed here is as it left it.
    const { kept } = await store.jobs();
    this.#elsewhere = false;
    this.unkept = undefined;
    const own = this.entries.filter((e) => e.changedHere);
    const theirs = kept.map((job) =>
      restored(
        job,
        this.entries.filter((e) => !e.changedHere),
      ),
    );
    const most = Math.max(0, ...[...kept, ...own].map((e) => e.place));
    const moved = own.map((entry, k) => ({
      ...entry,
      id: newId(),
      place: most + 1 + k,
      job: { ...entry.job, name: `${entry.job.name}, from the second window` },
    }));
    const idNow = (id: string | undefined): string | undefined =>
      moved[own.findIndex((e) => e.id === id)]?.id ?? id;
    const open = idNow(this.entry?.id);
    this.#running = idNow(this.#running) ?? '';
    this.entries = [...theirs, ...moved];
    this.open = this.entries.findIndex((e) => e.id === open);
    for (const { id } of own) this.#keeper.leave(id);
    for (const { id } of moved) this.#keeper.keep(id);
    this.#keeper.begin(store);
    if (this.entry) void this.#compute();
  }

  /** The picture of the open job, from the store where this visit has not seen it. */
  async #fetchPicture(): Promise<void> {
    const entry = this.entry;
    const digest = entry?.job.picture?.digest;
    if (entry) await this.#fetchMore(entry.id);
    if (!entry || entry.file || !digest) return;
    const file = await this.#keeper.picture(digest, this.#pictures);
    const now = this.entries.find((e) => e.id === entry.id);
    if (file && now && !now.file && now.job.picture?.digest === digest)
      this.#replace({ ...now, file });
  }

  /** The further photos, as far as this visit or the store has seen them. */
  async #fetchMore(id: string): Promise<void> {
    const wanted = this.entries.find((e) => e.id === id)?.job.more ?? [];
    const more: PictureFile[] = [];
    for (const { digest } of wanted) {
      const file = await this.#keeper.picture(digest, this.#pictures);
      if (file) more.push(file);
    }
    const now = this.entries.find((e) => e.id === id);
    const same = (a: readonly PictureFile[], b: readonly PictureFile[]): boolean =>
      a.length === b.length && a.every((f, k) => f.digest === b[k]!.digest);
    if (now && now.job.more === wanted && !same(more, now.more)) this.#replace({ ...now, more });
  }

  /** Files by their digests, as far as this visit or the store has seen them. */
  async #atHand(digests: readonly string[]): Promise<readonly PictureFile[]> {
    const files: PictureFile[] = [];
    for (const digest of digests) {
      const file = await this.#keeper.picture(digest, this.#pictures);
      if (file) files.push(file);
    }
    return files;
  }

  /** Files that the job names, as far as they are at hand. */
  #seenOf(named: readonly PictureReference[]): Promise<readonly PictureFile[]> {
    return this.#atHand(named.map(({ digest }) => digest));
  }

  /** Whether the artwork of the back is shown. */
  get onBack(): boolean {
    return this.side === 'back' && this.job?.bed.turnedAbout !== undefined;
  }

  /** How the artwork of the side that is shown is printed. */
  get artwork(): ArtworkSettings {
    const whole = this.job?.artwork ?? NEW_ARTWORK;
    const { art } = this.results;
    return this.onBack ? ofBack(whole, art?.ok ? art.value.sheets.length : 0) : whole;
  }

  /** What that artwork holds; undefined before it is read. */
  get art(): SideArtwork | undefined {
    const { art } = this.results;
    if (!art?.ok) return undefined;
    return this.onBack ? art.value.back : art.value;
  }

  /** The plan that it lies on, every blank described by that side. */
  readonly artPlan: BedPlan | undefined = $derived.by(() => {
    const { plan } = this.results;
    const axis = this.job?.bed.turnedAbout;
    if (!plan?.ok) return undefined;
    return this.onBack && axis ? byBack(turnedOver(plan.value, axis).plan) : plan.value;
  });

  /** Changes how the artwork of the side that is shown is printed. */
  changeArt(patch: Partial<ArtworkSettings>): void {
    const next = { ...this.artwork, ...patch };
    const whole = this.job?.artwork ?? NEW_ARTWORK;
    this.change({ artwork: this.onBack ? withBack(whole, next) : next });
  }

  /** Files read and remembered, as a job names them; undefined, and told, where one is refused. */
  async #taken(files: readonly File[]): Promise<PictureReference[] | undefined> {
    const named: PictureReference[] = [];
    try {
      for (const file of files) {
        const { name, digest, bytes } = await pictureFile(file);
        this.#keeper.remember({ name, digest, bytes });
        named.push({ name, digest });
      }
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.notice = error.reason;
      return undefined;
    }
    return named;
  }

  /** Adds files of artwork; several of them go one into each pocket. */
  async addArt(files: readonly File[]): Promise<void> {
    const named = await this.#taken(files);
    if (!named) return;
    const before = this.artwork.files;
    const all = [...before, ...named].filter(
      (f, k, list) => list.findIndex((g) => g.digest === f.digest) === k,
    );
    this.part = 'artwork';
    this.changeArt({ files: all, ...(all.length > 1 && { share: 'in turn' }) });
  }

  /** Further pictures with pieces of the kind that the first one shows, laid anew. */
  async addPieces(files: readonly File[]): Promise<void> {
    const { job } = this;
    if (!job) return;
    const named = await this.#taken(files);
    if (!named) return;
    const first = [...(job.picture ? [job.picture] : []), ...job.more];
    const all = [...(job.pieces ?? []), ...named].filter(
      (f, k, list) =>
        list.findIndex((g) => g.digest === f.digest) === k &&
        first.every((g) => g.digest !== f.digest),
    );
    this.change({ pieces: all, oneKind: true });
  }

  /** Takes a table of names and numbers, a row for each piece; lines of words stay where their column is still there. */
  setTable(text: string, file?: string): void {
    this.#refusing(() => {
      const table = tableOf(text, file);
      const columns = columnsOf(table).length;
      const kept = (lines: readonly Line[] = []) => lines.filter((l) => l.column < columns);
      const whole = this.job?.artwork ?? NEW_ARTWORK;
      const { run, back } = whole;
      const [front, rear] = [kept(run?.lines), kept(back?.lines)];
      const first = front.length + rear.length > 0 ? [] : [newLine(0, 0, this.firstFace())];
      this.part = 'artwork';
      const onBack = this.onBack;
      this.change({
        artwork: {
          ...whole,
          run: { table, lines: onBack ? front : [...front, ...first] },
          ...((back || onBack) && {
            back: { ...(back ?? NEW_BACK), lines: onBack ? [...rear, ...first] : rear },
          }),
        },
      });
    });
  }

  /** The face of the blank in the first pocket; undefined before there is one. */
  firstFace(): Face | undefined {
    const { plan } = this.results;
    const [pocket] = plan?.ok ? plan.value.pockets : [];
    return pocket && faceOf(pocket);
  }

  async addTable(file: File): Promise<void> {
    const bytes = new Uint8Array(await file.arrayBuffer());
    this.#refusing(() => this.setTable(textOfTable(bytes, file.name), file.name));
  }

  /** Sets a line of a run in a font that was dropped; the first line where none is named. */
  async addFont(file: File, at = 0): Promise<void> {
    const { run } = this.artwork;
    if (!run) {
      this.notice = reason('font-without-run', { file: file.name });
      return;
    }
    const { name, digest, bytes } = await pictureFile(file);
    this.#keeper.remember({ name, digest, bytes });
    const lines = run.lines.map((l, k) => (k === at ? { ...l, font: { name, digest } } : l));
    this.part = 'artwork';
    this.changeArt({ run: { ...run, lines } });
  }

  /** Does something whose refusal is told at the head of the page. */
  #refusing(work: () => void): void {
    try {
      work();
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.notice = error.reason;
    }
  }

  /** Computes again what follows from a change. */
  async #compute(): Promise<void> {
    await this.#fetchPicture();
    const entry = this.entry;
    if (!entry) return;
    this.#running = entry.id;
    const run = this.#run;
    try {
      const results = await run.start(
        entry.job,
        entry.file ? [entry.file, ...entry.more] : [],
        this.step === 'release',
        (so) => this.#experience(entry.id, entry.job, so),
        await this.#seenOf(artFilesOf(entry.job)),
        await this.#seenOf(entry.job.pieces ?? []),
      );
      if (run === this.#run && this.entry?.results === results) this.busy = undefined;
      if (run === this.#run && this.step === 'board') {
        await this.after.compute();
        await this.loose.compute();
      }
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
    const job = { ...entry.job, ...patch };
    this.#settle({ ...entry, job, history: changed(entry.history, entry.job, job, Date.now()) });
    void this.#compute();
  }

  /** The outlines that pockets are made from. */
  #laidTrace(): Trace | undefined {
    const { trace, kind } = this.results;
    if (!trace?.ok) return undefined;
    return kind?.ok ? withEnvelope(trace.value, kind.value) : trace.value;
  }

  /** Lays the pockets by nesting; what finds no room is said. Stop leaves them where they are. */
  async nest(fill: boolean): Promise<void> {
    const { job, entry } = this;
    const trace = this.#laidTrace();
    if (!job || !trace) return;
    const run = this.#run;
    const told: Progress = (step, done, of) => {
      if (run === this.#run) this.busy = { step, done, of };
    };
    told('Nesting: orders tried', 0, NEST_ROUNDS);
    const { pocket, bed, counts } = job;
    const settings = { pocket, bed, ...(counts && { counts }) };
    const answer = await this.#workshop.nest(trace, settings, fill, told);
    if (run !== this.#run || this.entry?.id !== entry?.id) return;
    this.busy = undefined;
    if (!answer.ok) {
      this.notice = answer.reason;
      return;
    }
    const { places } = answer.value;
    this.change({ bed: { ...this.job!.bed, layout: 'free', places } });
    const short = fill ? undefined : leftOver(answer.value);
    if (short) this.notice = short;
    this.said = `${places.length} pockets nested`;
  }

  /** What the same job is on another printer, as far as there is a plan; nothing of the job changes. */
  async onPrinter(printer: Printer): Promise<readonly Reason[]> {
    const { job } = this;
    const { plan, pockets } = this.results;
    if (!job || !plan?.ok || !pockets?.ok) return [];
    const { number, name, pocket, counts } = job;
    const moved = onPrinter(job.bed, job.heights, printer);
    const answer = await this.#workshop.machines.plan(pockets.value, {
      job: { number, name },
      pocket,
      ...moved,
      ...(counts && { counts }),
    });
    return answer.ok ? onOtherPrinter(plan.value, answer.value, printer.name) : [answer.reason];
  }

  /** The seat of the kind that is looked at; undefined while that is a pocket. */
  async makeSeat(): Promise<Outcome<SeatMade> | undefined> {
    const { job, seat } = this;
    const settings = job?.seats ?? SEATS;
    if (!job || settings.kind === 'pocket') return undefined;
    const { widthMm, depthMm, zero, board } = job.bed;
    const outline = seat && {
      ring: aboutCentroid(seat.region.outer),
      thicknessMm: seat.thicknessMm,
    };
    const { number, name } = job;
    const { plan } = this.results;
    const needsBed = settings.kind === 'plates' || settings.kind === 'rim';
    const onBed = needsBed && plan?.ok && plan.value.pockets.length > 0 ? plan.value : undefined;
    return this.#workshop.seat(
      settings.kind,
      settings,
      {
        bed: { widthMm, depthMm, zero, ...(board && { board }) },
        toolMm: toolRadiusMm(job.pocket.tool),
        ...(outline && { outline }),
        clearanceMm: job.pocket.clearanceMm,
        ...(onBed && {
          pockets: [
            ...platePockets(onBed),
            ...(settings.kind === 'plates' ? plateHoles(onBed) : []),
          ],
        }),
        ...(onBed &&
          this.results.pockets?.ok && {
            thinnestMm: Math.min(
              ...this.results.pockets.value.flatMap((b) => b.seat.thicknessMm ?? []),
            ),
          }),
        ...(job.inserts && { inserts: job.inserts }),
        clearName: job.artwork?.inks.find((i) => i.kind === 'clear')?.name ?? 'Clear',
      },
      { number, name },
      fileSettings(job.files),
    );
  }

  /** Crosses for the job's cutter to score, as files, on the bed of the job. */
  async cutTest(): Promise<Outcome<SeatMade> | undefined> {
    const { job } = this;
    if (!job) return undefined;
    const { number, name, files } = job;
    const { widthMm, depthMm, zero } = job.bed;
    const from = { bed: { widthMm, depthMm, zero }, toolMm: 0 };
    return this.#workshop.seat('cut-test', SEATS, from, { number, name }, fileSettings(files));
  }

  /** The fit ladder of the blank that is looked at; undefined before it has an outline. */
  async makeLadder(): Promise<Outcome<LadderBoard> | undefined> {
    const { job } = this;
    const laid = this.#laidTrace();
    if (!job || !laid) return undefined;
    const { number, name, pocket, bed, heights } = job;
    const settings = { job: { number, name }, pocket, bed, heights };
    return this.#workshop.ladder(laid, this.blank, settings, job.ladder ?? LADDER);
  }

  /** The release in one file; undefined before there is one. */
  async pack(): Promise<Outcome<Uint8Array> | undefined> {
    const { plan, release } = this.results;
    return plan?.ok && release?.ok ? this.#workshop.pack(plan.value, release.value) : undefined;
  }

  /** What a test board showed: kept for that material and cutter, and used at once. */
  found(fit: KnownFit): void {
    const job = this.job;
    if (!job) return;
    const { tool } = job.pocket;
    this.change({
      fits: withFit(job.fits ?? [], fit),
      pocket: {
        ...job.pocket,
        ...(fit.clearanceMm !== undefined && { clearanceMm: fit.clearanceMm }),
        ...(fit.kerfMm !== undefined && { tool: withKerf(tool, fit.kerfMm) }),
      },
    });
  }

  /** Shapes that an outline comes near to; found beside the page, for it takes longer than a frame. */
  readonly offers = (outline: Outline): Promise<readonly Offer[]> => this.#workshop.offers(outline);

  /** Takes the last change of the open job back, or does again what was taken back. */
  undo(): void {
    this.#timeTravel(undo, 'Undone');
  }

  redo(): void {
    this.#timeTravel(redo, 'Done again');
  }

  #timeTravel(way: typeof undo, said: string): void {
    const entry = this.entry;
    const to = entry && way(entry.history, entry.job);
    if (!entry || !to) return;
    const job = lookingAsNow(to.job, entry.job);
    const digest = job.picture?.digest;
    const { file, ...rest } = entry;
    const other = digest === undefined ? undefined : this.#keeper.seen(digest);
    const kept = file?.digest === digest ? file : other;
    const more = job.more.flatMap((m) => this.#keeper.seen(m.digest) ?? []);
    this.#settle({
      ...rest,
      job,
      history: to.history,
      more,
      ...(kept && { file: kept }),
      results: kept === file ? entry.results : {},
    });
    this.feature = undefined;
    this.laying = undefined;
    this.mending.take(undefined);
    const [from, onto] = [entry.history.done, to.history.done];
    const step = from.length > onto.length ? from[from.length - 1] : onto[onto.length - 1];
    this.said = `${said}: ${step?.words ?? ''}`;
    void this.#compute();
  }

  go(step: Step): void {
    if (step !== 'jobs' && !this.job) return;
    this.step = step;
    this.notice = undefined;
    if ((step === 'release' || step === 'board') && this.job) void this.#compute();
  }

  /** To the neighbouring step. */
  turn(by: 1 | -1): void {
    const next = STEPS[STEPS.indexOf(this.step) + by];
    if (next) this.go(next);
  }

  stop(): void {
    this.after.stop();
    this.#run.stop();
    this.#workshop.stop();
    this.#run = this.#newRun();
    this.busy = undefined;
  }

  /** Goes on with what Stop left undone. */
  resume(): void {
    void this.#compute();
  }

  #add(job: Job, file?: PictureFile, more: readonly PictureFile[] = []): void {
    this.#run.stop();
    const place = Math.max(0, ...this.entries.map((e) => e.place)) + 1;
    const id = newId();
    const entry = {
      id,
      place,
      job,
      history: NO_HISTORY,
      more,
      results: {},
      kept: false,
      changedHere: true,
    };
    this.entries = [...this.entries, { ...entry, ...(file && { file }) }];
    if (file) this.#keeper.remember(file);
    this.#show(this.entries.length - 1);
    this.#keeper.keep(id);
  }

  /** A job for each of many pictures, set up as the open one where there is one, measured beside whatever is open. */
  async takeMany(files: readonly File[]): Promise<void> {
    this.notice = undefined;
    const template = this.job;
    const made: Entry[] = [];
    for (const given of files) {
      let file: PictureFile;
      try {
        file = await pictureFile(given);
      } catch (error) {
        if (!(error instanceof Refusal)) throw error;
        this.notice = error.reason;
        continue;
      }
      const number = this.#nextNumber();
      const name = given.name.replace(/\.\w+$/, '');
      const bare = template ? jobLike(template, number, name) : newJob(number, name);
      const job = { ...bare, picture: { name: file.name, digest: file.digest } };
      const place = Math.max(0, ...this.entries.map((e) => e.place)) + 1;
      const fresh = { history: NO_HISTORY, more: [], results: {}, kept: false, changedHere: true };
      const entry: Entry = { id: newId(), place, job, file, ...fresh };
      this.entries = [...this.entries, entry];
      this.#keeper.remember(file);
      this.#keeper.keep(entry.id);
      made.push(entry);
    }
    if (made.length > 0) await this.batch.add(made.map((e) => e.id));
  }

  /** Another job with the same entries and picture. */
  copyEntry(at: number): void {
    const entry = this.entries[at];
    if (!entry) return;
    // Boards were cut from the one that is copied.
    const name = `${entry.job.name}, copy`;
    const job = { ...entry.job, number: this.#nextNumber(), name, boards: [] };
    this.#add(job, entry.file, entry.more);
    this.go('jobs');
  }

  /** Takes a job off the list; it can be brought back until the next one is taken off. */
  removeEntry(at: number): void {
    const entry = this.entries[at];
    if (!entry) return;
    if (at === this.open) {
      if (this.working) this.stop();
      this.open = -1;
    } else if (at < this.open) this.open--;
    this.entries = this.entries.filter((e) => e !== entry);
    this.removed = entry;
    this.said = `Taken off the list: ${entry.job.name}`;
    if (!this.#elsewhere) this.#keeper.drop(entry.id);
  }

  bringBack(): void {
    const entry = this.removed;
    if (!entry) return;
    const open = this.entry;
    this.entries = [...this.entries, entry].sort((a, b) => a.place - b.place);
    this.open = open ? this.entries.indexOf(open) : -1;
    this.removed = undefined;
    this.#settle(entry);
  }

  #nextNumber(): string {
    const used = this.entries.map((e) => Number(e.job.number.replace(/\D/g, '')) || 0);
    return `S-${String(Math.max(0, ...used) + 1).padStart(4, '0')}`;
  }

  #show(at: number): void {
    if (at !== this.open && this.busy) this.stop();
    if (at !== this.open) {
      this.after.clear();
      this.loose.clear();
    }
    const { entry } = this;
    if (entry && at !== this.open) this.#replace(asListed(entry));
    const next = this.entries[at];
    if (next?.listed) this.#replace({ ...without(next, 'listed'), results: {} });
    this.open = at;
    // It waits for its picture, which should be judged at once.
    if (next && !next.job.picture) this.#workshop.warm();
    this.blank = 1;
    this.feature = undefined;
    this.laying = undefined;
    this.mending.take(undefined);
    this.placing.chosen = undefined;
    this.placing.back = false;
    this.notice = undefined;
  }

  newJob(): void {
    const number = this.#nextNumber();
    // A caliper that was tried today need not be tried for every job.
    const day = today();
    const zero = this.entries.map((e) => e.job.zero).find((z) => z?.on === day) ?? null;
    // What a board and a cutter were found to do holds for the next job too.
    const fits = this.entries.reduce<readonly KnownFit[]>(
      (all, e) => (e.job.fits ?? []).reduce(withFit, all),
      [],
    );
    // So do its machines.
    const machines = this.entries.findLast((e) => e.job.machines)?.job.machines;
    this.#add({
      ...newJob(number, `Job ${number}`),
      zero,
      ...(fits.length > 0 && { fits }),
      ...(machines && {
        machines: { printers: machines.printers, cutters: machines.cutters },
      }),
    });
    this.go('sheet');
  }

  /** Opens a job of the list, at a step or at the one that it is about now. */
  openEntry(at: number, step?: Step): void {
    this.#show(at);
    this.go(step ?? (this.job?.picture ? 'outline' : 'sheet'));
    void this.#compute();
  }

  /** Opens a board of a job to be printed again: taken off the printer since, it lies anew, and what was read of its print is void. */
  printAgain(at: number, number: number): void {
    const board = this.entries[at]?.job.boards?.find((b) => b.number === number);
    if (!board) return;
    this.#show(at);
    this.step = 'board';
    this.notice = undefined;
    this.after.again(board, today());
  }

  /** The sample, its picture included. */
  async openSample(job: Job, picture: File): Promise<void> {
    const before = this.entries.findIndex((e) => e.job.number === job.number && e.job.invented);
    if (before >= 0) {
      this.openEntry(before);
      return;
    }
    const file = await pictureFile(picture);
    this.#add({ ...job, picture: { name: file.name, digest: file.digest } }, file);
    this.go('picture');
    void this.#compute();
  }

  /** Settled once a job file that is being read is open: what is dropped meanwhile is meant for that job. */
  #opening: Promise<unknown> = Promise.resolve();

  /** Whatever was dropped or chosen: a picture for the open job, or a job file. */
  async take(files: readonly File[]): Promise<void> {
    const before = this.#opening;
    let opened = (): void => {};
    if (files.some((f) => JOB_FILE.test(f.name)))
      this.#opening = new Promise<void>((done) => (opened = done));
    await before;
    try {
      await this.#takeNow(files, opened);
    } finally {
      opened();
    }
  }

  /** @param opened to be called once the job of a job file is the open one */
  async #takeNow(files: readonly File[], opened: () => void): Promise<void> {
    this.notice = undefined;
    const [first, ...others] = files;
    if (!first) return;
    if (this.step === 'release' && files.length === 1 && /\.(csv|tsv|txt)$/i.test(first.name)) {
      await this.addTable(first);
      return;
    }
    if (this.step === 'release' && files.length === 1 && FONT_FILE.test(first.name)) {
      await this.addFont(first);
      return;
    }
    const art = files.every((f) => ARTWORK_FILE.test(f.name));
    const pictures = files.every((f) => /\.(png|jpe?g|tiff?)$/i.test(f.name));
    if (this.step === 'release' && art && (this.part === 'artwork' || pictures)) {
      await this.addArt(files);
      return;
    }
    if (this.step === 'board' && this.job && (await this.after.take(files))) return;
    if (this.step === 'release' && files.length === 1 && /\.(dxf|svg|pdf|eps)$/i.test(first.name)) {
      await this.match(first);
      return;
    }
    if (others.length > 0) {
      const scanned = this.job !== undefined && isScanned(this.job);
      if (scanned || files.some((f) => JOB_FILE.test(f.name)))
        this.notice = reason('two-files', { count: files.length });
      else await this.addPhotos(files);
      return;
    }
    if (JOB_FILE.test(first.name) || isZip(new Uint8Array(await first.slice(0, 4).arrayBuffer()))) {
      await this.#takeJobFile(first, opened);
      return;
    }
    if (!this.job) this.newJob();
    if (this.entry!.more.length > 0) {
      await this.addPhotos([first]);
      return;
    }
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
    const { kept, ...sheet } = entry.job.sheet;
    // Another picture is of another day: whether the sheet has moved since its spans were read is asked again.
    const another = expected !== null && expected.digest !== file.digest;
    const job = {
      ...entry.job,
      sheet: kept && !another ? { ...sheet, kept } : sheet,
      picture: { name: file.name, digest: file.digest },
    };
    this.#keeper.remember(file);
    const history = changed(entry.history, entry.job, job, Date.now());
    this.#settle({ ...entry, file, results: {}, job, history });
    if (this.step !== 'outline') this.step = 'picture';
    if (expected && !entry.file && expected.digest !== file.digest)
      this.notice = reason('picture-another', { name: file.name, expected: expected.name });
    await this.#compute();
  }

  /** Distances between the crosses of a print, read off a photo; undefined, and told, where it shows none. */
  async readBed(file: File, bed: BedReading['bed']): Promise<BedReading | undefined> {
    this.notice = undefined;
    try {
      const named = await pictureFile(file);
      const read = await this.#workshop.bedRead(named, flatCalibrationOf(this.job!), bed, today());
      if (read.ok) return read.value;
      this.notice = read.reason;
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.notice = error.reason;
    }
    return undefined;
  }

  /** Whether what was held against the plan is no file of it at all, but may be printed on the blanks. */
  get mayBeArtwork(): boolean {
    const { matched } = this;
    return (
      matched !== undefined &&
      ARTWORK_FILE.test(matched.file.name) &&
      matched.match.reasons.some((r) => r.code === 'match-none')
    );
  }

  /** Takes it for artwork instead. */
  async takeAsArtwork(): Promise<void> {
    const file = this.matched?.file;
    this.matched = undefined;
    if (file) await this.addArt([file]);
  }

  /** Holds a file against the plan; nothing of the job changes. */
  async match(file: File): Promise<void> {
    const plan = this.results.plan?.ok ? this.results.plan.value : undefined;
    this.matched = undefined;
    if (!plan) {
      this.notice = reason('match-without-plan');
      return;
    }
    this.matching = file.name;
    try {
      refuseTooHeavy(file.size, file.name);
      const bytes = new Uint8Array(await file.arrayBuffer());
      const settings = fileSettings(this.job?.files);
      const correction = this.job && correctionFor(this.job, plan);
      const answer = await this.#workshop.match(plan, settings, correction, bytes, file.name);
      if (!answer.ok) {
        this.notice = answer.reason;
        return;
      }
      this.matched = { digest: plan.digest, match: answer.value, file };
      this.said = `${file.name} ${answer.value.verdict === 'agrees' ? 'agrees with the plan' : 'does not agree with the plan'}`;
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.notice = error.reason;
    } finally {
      this.matching = '';
    }
  }

  /** Further photos of the same blanks, none moved in between; the first of them is the one looked at where there was none. */
  async addPhotos(files: readonly File[]): Promise<void> {
    if (!this.job) this.newJob();
    const entry = this.entry!;
    const photos: PictureFile[] = [];
    try {
      for (const file of files) photos.push(await pictureFile(file));
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.notice = error.reason;
      return;
    }
    const old = entry.file ? [entry.file, ...entry.more] : entry.more;
    const all = [...old, ...photos].filter(
      (f, k, list) => list.findIndex((g) => g.digest === f.digest) === k,
    );
    if (all.length > MOST_PHOTOS) {
      this.notice = reason('too-many-photos', { count: all.length });
      return;
    }
    for (const photo of photos) this.#keeper.remember(photo);
    if (this.step !== 'outline') this.step = 'picture';
    this.#lay(all);
  }

  /** Looks at another of the photos, or takes one off. */
  lookAt(digest: string): void {
    const all = this.#photos();
    this.#lay(
      [...all.filter((f) => f.digest === digest), ...all.filter((f) => f.digest !== digest)],
      false,
    );
  }

  dropPhoto(digest: string): void {
    this.#lay(this.#photos().filter((f) => f.digest !== digest));
  }

  #photos(): readonly PictureFile[] {
    const entry = this.entry;
    return entry?.file ? [entry.file, ...entry.more] : [];
  }

  /** Where the photos are the same as before, which of them comes first is nothing to undo. */
  #lay([file, ...more]: readonly PictureFile[], undoable = true): void {
    const entry = this.entry;
    if (!entry || !file) return;
    const named = ({ name, digest }: PictureFile): { name: string; digest: string } => ({
      name,
      digest,
    });
    const job = { ...entry.job, picture: named(file), more: more.map(named) };
    const history = undoable ? changed(entry.history, entry.job, job, Date.now()) : entry.history;
    this.#settle({ ...entry, file, more, job, history });
    void this.#compute();
  }

  async #takeJobFile(file: File, opened: () => void): Promise<void> {
    try {
      refuseTooHeavy(file.size, file.name);
      const read = await this.#openJobFile(file);
      if (!read) return;
      opened();
      await this.#compute();
      const { job, reasons } = read;
      if (reasons[0]) this.notice = reasons[0];
      else if (job.picture && !this.entry?.file)
        this.notice = reason('picture-wanted', { name: job.picture.name });
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.notice = error.reason;
    }
  }

  /** Puts the job of a file on the list and opens it; nothing, and told, where it cannot be read. */
  async #openJobFile(
    file: File,
  ): Promise<{ readonly job: Job; readonly reasons: readonly Reason[] } | undefined> {
    const read = await this.#workshop.readJob(file);
    if (!read.ok) {
      this.notice = read.reason;
      return undefined;
    }
    const { job, files } = read.value;
    for (const picture of files) this.#keeper.remember(picture);
    const first = files.find((f) => f.digest === job.picture?.digest);
    const more = job.more.flatMap((m) => files.find((f) => f.digest === m.digest) ?? []);
    this.#add(job, first, more);
    this.step = 'picture';
    return read.value;
  }

  /** A job of the list as one file, its pictures included as far as they are at hand; of the open one where none is named. */
  async jobFile(at = this.open): Promise<{ name: string; bytes: Blob } | undefined> {
    const entry = this.entries[at];
    if (!entry) return undefined;
    const { job } = entry;
    const digests = filesOf(job).map((p) => p.digest);
    return {
      name: `${job.number.replace(/[^\w.-]+/g, '_')}.job.zip`,
      bytes: await this.#workshop.writeJob(job, await this.#atHand(digests)),
    };
  }

  /** A kept job that cannot be read, as a file: its record as it is, and the pictures that this names. */
  async lostFile({ id, text }: LostJob): Promise<{ name: string; bytes: Blob }> {
    const digests = [...text.matchAll(/\b[0-9a-f]{64}\b/g)].map(([digest]) => digest);
    const once = digests.filter((d, k) => digests.indexOf(d) === k);
    const bytes = await this.#workshop.writeJob(text, await this.#atHand(once));
    return { name: `unread-${id.slice(0, 8)}.job.zip`, bytes };
  }

  /** Opens what can be read of a kept job that cannot be read whole, as a job of its own. */
  openLost({ text }: LostJob): void {
    try {
      const { job } = salvageJob(text);
      this.#add(job);
      this.step = 'sheet';
      void this.#compute();
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.notice = error.reason;
    }
  }

  /** The place of an edge near a place of the picture; undefined where none stands out. */
  async snap(at: Point<'picture'>, reachPx: number): Promise<Point<'picture'> | undefined> {
    const file = this.entry?.file;
    return file && this.#workshop.machines.snap(file, at, reachPx);
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
    this.mending.take(undefined);
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

/** The file of a job with its pictures, or its text alone. */
const JOB_FILE = /\.(json|zip)$/i;

/** What may be artwork, by its name. */
const ARTWORK_FILE = /\.(pdf|svg|png|jpe?g|tiff?)$/i;

const FONT_FILE = /\.(ttf|otf|woff2?)$/i;

/** Photos of one job. */
const MOST_PHOTOS = 8;

/** A kept job as an entry; with what was computed of it, where it is as it was. */
function restored({ id, place, job, history }: KeptJob, before: readonly Entry[] = []): Entry {
  const known = before.find((e) => e.id === id);
  if (known && writeJob(known.job) === writeJob(job)) return known;
  return {
    id,
    place,
    job,
    history,
    more: [],
    results: {},
    kept: true,
    changedHere: false,
  };
}

/** One that is not looked at: of fifty jobs on the list all that was computed would be more than a page should hold. */
const asListed = (entry: Entry): Entry => ({
  ...entry,
  results: listed(entry.results),
  listed: true,
});

/** `randomUUID` is not there on pages that came over plain http. */
const newId = (): string => bytesToHex(crypto.getRandomValues(new Uint8Array(16)));

/** @throws Refusal `picture-too-heavy` */
async function pictureFile(file: File): Promise<PictureFile> {
  refuseTooHeavy(file.size, file.name);
  return { name: file.name, digest: await digestOf(await file.arrayBuffer()), bytes: file };
}

/** SHA-256, by the browser off this thread; by our own code on pages that came over plain http, which lack it. */
async function digestOf(bytes: ArrayBuffer): Promise<string> {
  const own = globalThis.isSecureContext ? crypto.subtle : undefined;
  const hash = own
    ? new Uint8Array(await own.digest('SHA-256', bytes))
    : sha256(new Uint8Array(bytes));
  return bytesToHex(hash);
}
