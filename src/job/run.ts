import { seatOutline, seatOutlines } from './seats.ts';
import type { ArtSheet, ArtworkSettings } from '../artwork/artwork.ts';
import { ofBack } from '../artwork/back.ts';
import { judgeArtwork, judgeBack } from '../artwork/judge.ts';
import { fontsOf, type PersonalRun, type ShippedFont, type Typeface } from '../artwork/run.ts';
import type { Point } from '../base/measure.ts';
import { reason, type Outcome, type Reason } from '../base/reason.ts';
import type { Progress } from '../base/progress.ts';
import type { Checks } from '../check/checked.ts';
import { factsOf } from '../check/facts.ts';
import type { Improved, Improvement } from '../check/improve.ts';
import type { Reading } from '../check/reading.ts';
import type { Asked } from '../check/tolerance.ts';
import { widenedBy, type Experience } from '../check/record.ts';
import { featureName } from '../check/words.ts';
import { withEnvelope, type Kind, type KindBy } from '../outline/kind.ts';
import type { Mend, Mended } from '../outline/mend.ts';
import type { Outline, Trace, TraceSettings } from '../outline/outline.ts';
import { boxRound, inPicture, type PictureBox } from '../outline/pictured.ts';
import type { PictureMeta } from '../picture/picture.ts';
import type { Axis, BedPlan } from '../plan/plan.ts';
import { clearances, type PocketSettings } from '../pocket/pocket.ts';
import type { Standing } from '../pocket/pocket-of.ts';
import { warpU } from '../pocket/warp.ts';
import type { Board } from '../view/board.ts';
import type { profileOf, PhotoSettings, Target } from '../view/profile.ts';
import type { Shot } from '../view/profile-photos.ts';
import { DPI_SHARE, NO_MARKS, type ScanSettings } from '../view/scan.ts';
import type { FirstLook } from '../view/first-look.ts';
import type { Eye, FoundMarks, View } from '../view/view.ts';
import type { JobFacts } from '../files/facts.ts';
import type { ReleaseFile } from '../files/release.ts';
import { fileSettings, type FileSettings } from '../files/settings.ts';
import type { Correction } from '../after/first-print.ts';
import {
  correctionFor,
  cutterProfileOf,
  printerProfileOf,
  type CutterProfile,
  type PrinterProfile,
} from './boards.ts';
import { profileWords } from '../plan/bed-profile.ts';
import { gateOf } from './gate.ts';
import { Memo } from './memo.ts';
import { jobFacts, registrationFor, standingOf, type Jig, type JigSettings } from './jig.ts';
import { orderOf, orderWords, type OrderSettings } from '../plan/order.ts';
import { AXES, byBack, turnedOver } from '../plan/turned-over.ts';
import { cutterInUse } from '../plan/machines.ts';
import { REGISTRATION } from '../plan/registration.ts';
import { growthU } from '../sheet/growth.ts';
import { canTrace, isBare, isScanned, type Job } from './job.ts';
import { fitFor } from '../pocket/fits.ts';

/** A picture as it came in: the file's bytes, and a name for the memo (its digest). */
export interface PictureFile {
  readonly name: string;
  readonly digest: string;
  readonly bytes: Blob;
}

/** A job file, read: the job, those of its files that are whole, and what is wrong with it. */
export interface ReadJob {
  readonly job: Job;
  readonly files: readonly PictureFile[];
  readonly reasons: readonly Reason[];
}

export interface PictureInfo {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly meta: PictureMeta;
}

/** Where each step's work is done. The shells decide: in workers, or in this very thread. */
export interface Machines {
  open(file: PictureFile, progress: Progress): Promise<Outcome<PictureInfo>>;
  /** @param scanned marks of a strip, or of a sheet on the glass; else of a photographed sheet */
  find(file: PictureFile, scanned: boolean, progress: Progress): Promise<Outcome<FoundMarks>>;
  /** What can be said of a photo as soon as its marks are found. */
  look(file: PictureFile): Promise<Outcome<FirstLook>>;
  /** Of the first of several photos, all adjusted together; the order of the others does not matter. */
  view(
    files: readonly PictureFile[],
    settings: PhotoSettings | ScanSettings,
    progress: Progress,
  ): Promise<Outcome<View>>;
  /** What no photo rules out. */
  trace(
    files: readonly PictureFile[],
    calibration: PhotoSettings | ScanSettings,
    settings: TraceSettings,
    progress: Progress,
  ): Promise<Outcome<Trace>>;
  /** The place of an edge of the picture near another place, picture px; undefined where none stands out. */
  snap(
    file: PictureFile,
    at: Point<'picture'>,
    reachPx: number,
  ): Promise<Point<'picture'> | undefined>;
  /** Pieces of one kind laid on each other. */
  kind(seats: readonly Outline[], by: KindBy): Promise<Outcome<Kind>>;
  /** @param eyes how each picture was taken, by its digest */
  mend(
    trace: Trace,
    mends: readonly Mend[],
    eyes: readonly (readonly [digest: string, eye: Eye])[],
  ): Promise<Outcome<Mended>>;
  improve(
    trace: Trace,
    seats: readonly Outline[],
    readings: readonly Reading[],
    instruments: Job['instruments'],
  ): Promise<Outcome<Improved>>;
  check(
    seats: readonly Outline[],
    readings: readonly Reading[],
    instruments: Job['instruments'],
    clearanceMm: number,
    corrected: readonly number[],
    asked: Asked,
  ): Promise<Outcome<Checks>>;
  /** One photo for a lens profile: of a plain checkerboard, or without one of the sheet. */
  shot(file: PictureFile, board: Board | undefined): Promise<Outcome<Shot>>;
  lens(shots: readonly Shot[], target: Target): Promise<Outcome<ReturnType<typeof profileOf>>>;
  pockets(
    trace: Trace,
    settings: PocketSettings,
    standing: Standing,
  ): Promise<Outcome<Jig['blanks']>>;
  plan(blanks: Jig['blanks'], settings: JigSettings): Promise<Outcome<BedPlan>>;
  /** A part of a picture as a JPEG of pixels alone, its longest side no more than `mostPx`. */
  photo(file: PictureFile, box: PictureBox, mostPx: number): Promise<Outcome<Photo>>;
  /** What an artwork file holds, and how it looks. */
  art(file: PictureFile): Promise<Outcome<ArtRead>>;
  /** The words of a run, set in the fonts of its lines. */
  letters(run: PersonalRun, fonts: readonly FontSource[]): Promise<Outcome<readonly Typeface[]>>;
  /** What the job sheet says of each outline's shape, a sentence each. */
  facts(seats: readonly Outline[]): Promise<Outcome<readonly string[]>>;
  /** @param order of pieces, whose last board may be filled in part; absent: full boards only */
  release(
    jig: Jig,
    order: OrderSettings | undefined,
    facts: JobFacts,
    files: FileSettings,
    artwork: PrintOrder | undefined,
    correction: Correction | undefined,
  ): Promise<Outcome<readonly ReleaseFile[]>>;
}

/** A picture, or a part of it, to be shown on paper. */
export interface Photo {
  readonly jpeg: Uint8Array;
  readonly widthPx: number;
  readonly heightPx: number;
}

/** Longest side of the job sheet's picture, px: 200 to the inch across the sheet. */
const PHOTO_PX = 1400;

/** One artwork file, read. */
export interface ArtRead {
  readonly sheets: readonly ArtSheet[];
  /** How each of them looks, as far as it shows anything; as many as are worth drawing. */
  readonly pictures: readonly Blob[];
}

/** Where a font comes from: a file that was dropped, or the program. */
export type FontSource = PictureFile | ShippedFont;

/** The artwork of one side. */
export interface SideArtwork extends ArtRead {
  /** Of the lines of a personalised run, in their order. */
  readonly typefaces: readonly Typeface[];
}

/** All artwork of a job, and what is wrong with it as it lies. */
export interface Artwork extends SideArtwork {
  /** Of pieces that are turned over. */
  readonly back?: SideArtwork;
  readonly reasons: readonly Reason[];
}

/** Artwork to be printed: the files, in order, and how they lie. */
export interface PrintOrder extends SideOrder {
  readonly back?: SideOrder;
}

/** The same of one side. */
export interface SideOrder {
  readonly files: readonly PictureFile[];
  readonly settings: ArtworkSettings;
  /** One for each line of a personalised run. */
  readonly fonts: readonly FontSource[];
}

/** What has been computed so far; an absent entry has not been asked for, or waits for the one before it. */
export interface Results {
  readonly info?: Outcome<PictureInfo>;
  readonly found?: Outcome<FoundMarks>;
  /** What is said of a photo at once; of a scan there is none. */
  readonly look?: Outcome<FirstLook>;
  /** What was found in each of several photos, by digest. */
  readonly photos?: Readonly<Record<string, Outcome<FoundMarks>>>;
  /** With the thickness that was entered; without one, `guess` says what the rider tells. */
  readonly view?: Outcome<View>;
  readonly guess?: Outcome<View>;
  /** What each mend did; absent without any. */
  readonly mended?: Mended['effects'];
  /** As mended by hand, and corrected by readings, where the operator asked for it and they agree with each other. */
  readonly trace?: Outcome<Trace>;
  /** What they did to it, or why not; absent where she did not ask. */
  readonly improved?: Outcome<Improved>;
  readonly checks?: Outcome<Checks>;
  /** Where the operator said that the blanks are pieces of one kind. */
  readonly kind?: Outcome<Kind>;
  readonly pockets?: Outcome<Jig['blanks']>;
  readonly plan?: Outcome<BedPlan>;
  /** Absent where there is none. */
  readonly art?: Outcome<Artwork>;
  readonly release?: Outcome<readonly ReleaseFile[]>;
}

export interface Busy {
  readonly step: string;
  readonly done: number;
  readonly of: number;
}

const BY_CLEARANCE: Asked = { by: 'clearance' };

/** Where nothing is known of the height: wide enough that the rider alone decides, mm. */
const UNKNOWN_HEIGHT_U = 60;

/** What the job says about the calibration. */
export function calibrationOf(job: Job, unknownThickness = false): PhotoSettings | ScanSettings {
  const { lens, scanner, dpi } = job;
  const heights = thicknesses(job);
  return {
    thicknessMm: unknownThickness || heights.length === 0 ? [0] : heights,
    thicknessU: unknownThickness ? UNKNOWN_HEIGHT_U : job.thicknessU,
    // How high a block is helps little where the blank's own height is asked for.
    ...(!unknownThickness && !isScanned(job) && job.blocksMm && { blocksMm: job.blocksMm }),
    spansMm: job.sheet.spansMm,
    spanU: job.sheet.spanU,
    growthU: growthU(job.sheet.kept, job.sheet.carrier),
    riderSpansMm: Object.fromEntries(
      Object.entries(job.sheet.riderSpansMm).map(([size, span]) => [Number(size), span]),
    ),
    riderSpanU: job.sheet.riderSpanU,
    // A height that is only asked for may be as uncertain as it is.
    wantMm: unknownThickness ? UNKNOWN_HEIGHT_U : job.wantMm,
    ...(isScanned(job)
      ? {
          dpiShare: DPI_SHARE,
          ...(isBare(job) && { bare: true as const }),
          ...(isBare(job) && isProfile(scanner) && { profile: scanner }),
          ...(isBare(job) && dpi !== null && { dpi }),
        }
      : isProfile(lens) && { lens }),
  };
}

/** The same for a photo of something flat that a sheet lies on. */
export const flatCalibrationOf = (job: Job): PhotoSettings => {
  const { spansMm, spanU, kept, carrier } = job.sheet;
  return {
    thicknessMm: [0],
    thicknessU: 0,
    spansMm,
    spanU,
    growthU: growthU(kept, carrier),
    riderSpansMm: {},
    riderSpanU: job.sheet.riderSpanU,
    wantMm: job.wantMm,
    ...(isProfile(job.lens) && { lens: job.lens }),
  };
};

const isProfile = <P>(profile: P | 'none' | null): profile is P =>
  profile !== null && profile !== 'none';

/** The distinct thicknesses, blank 1's first. */
const thicknesses = (job: Job): number[] => [
  ...new Set(
    Object.entries(job.thicknessMm)
      .sort(([a], [b]) => Number(a) - Number(b))
      .map(([, mm]) => mm),
  ),
];

/** What the job says about the tracing. */
export function traceOf(job: Job): TraceSettings {
  const strokes = job.mends.filter((m) => m.kind === 'paint');
  return {
    thicknessMm: Object.fromEntries(
      Object.entries(job.thicknessMm).map(([blank, mm]) => [Number(blank), mm]),
    ),
    ...(job.widestMm === null ? {} : { widestMm: job.widestMm }),
    widestU: job.widestU,
    face: job.face ?? 'print',
    ...(job.heights.rockMm && { warpU: warpU(job.heights.rockMm) }),
    wantMm: job.wantMm,
    ...(strokes.length > 0 && { strokes }),
  };
}

/**
 * The way from a job and its picture to its files. Each step is a function of its inputs alone and keeps its last
 * answer, so that a change computes again only what follows from it. A later `start` overtakes an earlier one, whose
 * answers are then kept for the memo but no longer shown.
 */
export class Run {
  readonly #memo = new Memo(() => {
    this.#begin();
    if (this.#about !== undefined) this.show(this.#shown, { step: this.#about, done: 0, of: 1 });
  });
  #turn = 0;
  #shown: Results = {};
  #digest: string | undefined;
  /** What the next step is called, where it has work to do. */
  #about: string | undefined;
  /** Called when a step has to be computed: what follows from it is no longer shown. */
  #begin: () => void = () => undefined;

  constructor(
    readonly machines: Machines,
    readonly show: (results: Results, busy: Busy | undefined) => void,
  ) {}

  /** Forgets what is under way; its answers will not be shown. */
  stop(): void {
    this.#turn++;
    this.#memo.clear();
  }

  /**
   * Computes everything that can be. The release is made only when asked for and when the gate stands open.
   * Errors other than refusals are thrown.
   *
   * @param art the artwork files that the job names and that are at hand
   * @param pieces the further pictures of pieces of one kind that are at hand
   * @param experience what this machine's record of readings says of U, for a picture like this one
   */
  async start(
    job: Job,
    files: readonly PictureFile[],
    withRelease: boolean,
    experience?: (results: Results) => Experience & { readonly of: string },
    art: readonly PictureFile[] = [],
    pieces: readonly PictureFile[] = [],
  ): Promise<Results> {
    const [file, ...more] = files;
    const turn = ++this.#turn;
    let results: Results = {};
    // What was computed from another picture is not shown beside this one, not even for a moment.
    if (file?.digest !== this.#digest) this.#shown = results;
    this.#digest = file?.digest;
    const current = (): boolean => turn === this.#turn;
    const show = (): void => {
      if (!current()) return;
      this.#shown = results;
      this.show(results, undefined);
    };
    // As long as every answer is remembered what is shown stays: nothing vanishes under the operator's hand only to come back.
    let fresh = false;
    this.#begin = () => {
      if (fresh) return;
      fresh = true;
      show();
    };
    const add = (more: Partial<Results>): void => {
      results = { ...results, ...more };
      this.#about = undefined;
      if (fresh) show();
    };
    const done = (): Results => {
      show();
      return results;
    };
    // A step may be waited for by a later turn than the one that began it: its progress is always news.
    const progress: Progress = (step, done, of) => this.show(this.#shown, { step, done, of });
    /** Said when there is work to do; an answer that is at hand needs no words. */
    const about = (step: string): void => void (this.#about = step);
    const { machines } = this;
    if (!file) {
      return done();
    }

    const calibration = calibrationOf(job);
    const settings = traceOf(job);
    about('Reading the picture');
    const info = await this.#memo.step('info', [file.digest], () => machines.open(file, progress));
    add({ info });
    if (!info.ok || !current()) return done();
    const scanned = isScanned(job);
    const bare = isBare(job);
    if (!bare) about('Finding marks');
    const found = await this.#memo.step(
      'found',
      [file.digest, scanned, bare],
      (): Promise<Outcome<FoundMarks>> =>
        bare
          ? Promise.resolve({ ok: true, value: NO_MARKS })
          : machines.find(file, scanned, progress),
    );
    add({ found });
    if (!current()) return done();
    // One that is refused does not keep the others from being told how they stand.
    if (more.length > 0) {
      const photos: Record<string, Outcome<FoundMarks>> = { [file.digest]: found };
      for (const other of more) {
        about(`Finding marks in ${other.name}`);
        const seen = await this.#memo.step(`found ${other.digest}`, [other.digest, scanned], () =>
          machines.find(other, scanned, progress),
        );
        photos[other.digest] = seen;
        add({ photos: { ...photos } });
        if (!current()) return done();
      }
      const bad = more.find((m) => !photos[m.digest]!.ok);
      if (bad && found.ok) {
        const { reason: why } = photos[bad.digest] as { readonly reason: Reason };
        const what = why.message.replace(/\.$/, '');
        add({ view: { ok: false, reason: reason('photo-refused', { name: bad.name, what }) } });
        return done();
      }
    }
    if (!found.ok) return done();
    if (!scanned) {
      const look = await this.#memo.step('look', [file.digest], () => machines.look(file));
      add({ look });
      if (!current()) return done();
    }
    const all = files.map((f) => f.digest);

    if (!canTrace(job)) {
      if (found.value.riders.length === 0) return done();
      const open = calibrationOf(job, true);
      about('Asking the rider for its height');
      add({
        guess: await this.#memo.step('guess', [...all, JSON.stringify(open)], () =>
          machines.view(files, open, progress),
        ),
      });
      return done();
    }

    about(scanned ? 'Adjusting the scanner' : 'Adjusting the camera');
    const view = await this.#memo.step('view', [...all, JSON.stringify(calibration)], () =>
      machines.view(files, calibration, progress),
    );
    add({ view });
    if (!view.ok || !current()) return done();

    about('Tracing the outline');
    // The same whichever of the photos is looked at.
    const key = [...[...all].sort(), JSON.stringify(calibration), JSON.stringify(settings)];
    const traced = await this.#memo.step('trace', key, () =>
      machines.trace(files, calibration, settings, progress),
    );
    const { readings, instruments, mends } = job;
    const fitted = readings.some((r) => r.use === 'fit');
    if (!traced.ok) add({ trace: traced });
    if (!traced.ok || !current()) return done();
    let trace: { readonly ok: true; readonly value: Trace } = traced;
    if (mends.length > 0) {
      about('Mending the outline');
      const eyes = [[file.digest, view.value.eye]] as [string, Eye][];
      for (const other of more.filter((m) => mends.some(({ picture }) => picture === m.digest))) {
        const order = [other, ...files.filter((f) => f !== other)];
        const seen = await machines.view(order, calibration, progress);
        if (seen.ok) eyes.push([other.digest, seen.value.eye]);
      }
      const result = await this.#memo.step('mended', [traced, mends], () =>
        machines.mend(traced.value, mends, eyes),
      );
      if (!result.ok) add({ trace: result });
      if (!result.ok || !current()) return done();
      trace = await this.#memo.step('mended trace', [result], () =>
        Promise.resolve({ ok: true as const, value: result.value.trace }),
      );
      add({ mended: result.value.effects });
    }
    const known = experience?.(results);
    if (known && known.factor > 1) {
      const plain = trace.value;
      trace = await this.#memo.step('widened', [trace, JSON.stringify(known)], () =>
        Promise.resolve({ ok: true as const, value: widenedBy(plain, known.of, known) }),
      );
    }
    if (!fitted) add({ trace });
    const source = trace;
    let corrected: readonly number[] = [];
    if (fitted) {
      const improved = await this.#memo.step(
        'improve',
        [source, JSON.stringify([readings, instruments])],
        async () =>
          machines.improve(source.value, seatOutlines(source.value), readings, instruments),
      );
      if (improved.ok) {
        trace = await this.#memo.step('improved trace', [improved], () =>
          Promise.resolve({ ok: true as const, value: improved.value.trace }),
        );
        corrected = improved.value.improvements.map((i) => i.blank);
      }
      add({ trace, improved });
      if (!current()) return done();
    }

    const clearance = clearances(job.pocket).leastMm;
    const asked = job.tolerance ?? BY_CLEARANCE;
    add({
      checks: await this.#memo.step(
        'checks',
        [trace, JSON.stringify([readings, instruments, asked]), clearance],
        () =>
          machines.check(
            seatOutlines(trace.value),
            readings,
            instruments,
            clearance,
            corrected,
            asked,
          ),
      ),
    });
    if (!current()) return done();

    let laid = trace;
    if (job.oneKind) {
      const others = await this.#pieces(job, pieces, progress);
      if (!others.ok) add({ kind: others });
      if (!others.ok || !current()) return done();
      about('Laying the pieces on each other');
      const by = job.kindBy ?? 'envelope';
      const kind = await this.#memo.step('kind', [trace, ...others.value, by], () => {
        const widened = (t: Trace): Trace =>
          known && known.factor > 1 ? widenedBy(t, known.of, known) : t;
        return machines.kind(piecesOf(trace.value, others.value.map(widened)), by);
      });
      add({ kind });
      if (!kind.ok || !current()) return done();
      laid = await this.#memo.step('enveloped trace', [kind], () =>
        Promise.resolve({ ok: true as const, value: withEnvelope(trace.value, kind.value) }),
      );
    }

    const standing = standingOf(job.pocket, job.heights);
    const pockets = await this.#memo.step(
      'pockets',
      [laid, job.pocket, JSON.stringify(standing)],
      () => machines.pockets(laid.value, job.pocket, standing),
    );
    add({ pockets });
    if (!pockets.ok || !current()) return done();
    const { number, name, bed, counts, heights } = job;
    const { registration = REGISTRATION } = job;
    const cutter = bed.board && cutterInUse(job.machines);
    const inputs = [pockets, bed, number, name, counts, heights, registration, cutter];
    const plan = await this.#memo.step('plan', inputs, () =>
      machines.plan(pockets.value, {
        job: { number, name },
        pocket: job.pocket,
        bed,
        heights,
        registration,
        ...(counts && { counts }),
        ...(cutter && { cutter }),
      }),
    );
    add({ plan });
    if (!plan.ok || !current()) return done();
    const order = await this.#artwork(job, plan.value, art, add);
    if (!withRelease || !current()) return done();
    if (gateOf(job, results).shutBy.length > 0) return done();

    about('Writing the files and reading them back');
    const seats = await this.#memo.step('facts', [trace], () =>
      machines.facts(seatOutlines(trace.value)),
    );
    if (!seats.ok) add({ release: seats });
    if (!seats.ok || !current()) return done();
    const plain = { ...sheetFactsOf(job, results, seats.value), boardMm: job.heights.boardMm };
    const said = results.art?.ok ? results.art.value.reasons : [];
    const facts = { ...plain, reasons: [...plain.reasons, ...said] };
    const printed = order && JSON.stringify([order.files.map((f) => f.digest), order.settings]);
    const { order: ordered } = job;
    const correction = correctionFor(job, plan.value);
    const size = info.value;
    const picture = await this.#memo.step('photo', [file.digest, view, trace], () =>
      this.#photo(file, size, view.value.eye, trace.value),
    );
    if (!current()) return done();
    add({
      release: await this.#memo.step(
        'release',
        [plan, JSON.stringify([facts, correction]), job.files, printed, ordered, picture],
        () =>
          machines.release(
            { plan: plan.value, blanks: pockets.value },
            ordered,
            { ...facts, ...(picture && { picture }) },
            fileSettings(job.files),
            order,
            correction,
          ),
      ),
    });
    return done();
  }

  /** The picture for the job sheet, with every blank's outline on it; undefined where none lies in it. */
  async #photo(
    file: PictureFile,
    { widthPx, heightPx }: PictureInfo,
    eye: Eye,
    trace: Trace,
  ): Promise<JobFacts['picture']> {
    const outlines = seatOutlines(trace).map((o) => {
      const place = inPicture(eye, o);
      return {
        blank: o.blank,
        rings: [o.region.outer, ...o.region.holes].map((r) => r.map(place)),
      };
    });
    const box = boxRound(
      outlines.flatMap(({ rings }) => rings),
      widthPx,
      heightPx,
    );
    const photo = box && (await this.machines.photo(file, box, PHOTO_PX));
    if (!photo?.ok) return undefined;
    const scale = photo.value.widthPx / (box!.right - box!.left);
    return {
      ...photo.value,
      outlines: outlines.map(({ blank, rings }) => ({
        blank,
        // From the centres of pixels to the corner of the upper left one.
        rings: rings.map((ring) =>
          ring.map(({ x, y }) => [(x + 0.5 - box!.left) * scale, (y + 0.5 - box!.top) * scale]),
        ),
      })),
    };
  }

  /** What further pictures of pieces of one kind show, each by itself, in the order of the job. */
  async #pieces(
    job: Job,
    files: readonly PictureFile[],
    progress: Progress,
  ): Promise<Outcome<readonly Trace[]>> {
    const traces: Trace[] = [];
    const calibration = calibrationOf(job);
    // Thicknesses are entered by the numbers of the first picture; all pieces are as thick as its first one.
    const settings = { ...traceOf(job), thicknessMm: {} };
    for (const { digest, name } of job.pieces ?? []) {
      const file = files.find((f) => f.digest === digest);
      if (!file) return { ok: false, reason: reason('piece-picture-wanted', { file: name }) };
      this.#about = `Measuring the pieces in ${name}`;
      const key = [digest, JSON.stringify([calibration, settings])];
      const traced = await this.#memo.step(`pieces ${digest}`, key, async () => {
        const view = await this.machines.view([file], calibration, progress);
        return view.ok ? this.machines.trace([file], calibration, settings, progress) : view;
      });
      const refusal = traced.ok
        ? traced.value.reasons.find((r) => r.level === 'refuse')
        : traced.reason;
      if (!traced.ok || refusal) {
        const what = refusal!.message.replace(/\.$/, '');
        return { ok: false, reason: reason('piece-picture-refused', { name, what }) };
      }
      traces.push(traced.value);
    }
    return { ok: true, value: traces };
  }

  /** Reads the artwork and judges how it lies; what is to be printed, undefined where there is nothing or it cannot be read. */
  async #artwork(
    { artwork, order }: Job,
    plan: BedPlan,
    files: readonly PictureFile[],
    add: (more: Partial<Results>) => void,
  ): Promise<PrintOrder | undefined> {
    if (!artwork) return undefined;
    const side = async (settings: ArtworkSettings): Promise<Side | undefined> => {
      const read = await this.#side(settings, files);
      if (read.ok) return read.value;
      add({ art: read });
      return undefined;
    };
    const isMade = ({ files: named, run }: ArtworkSettings): boolean =>
      named.length > 0 || (run !== undefined && run.lines.length > 0);
    const { turnedAbout } = plan.bed;
    const has = turnedAbout !== undefined && artwork.back !== undefined;
    if (artwork.files.length === 0 && !artwork.run && !(has && artwork.back.files.length > 0))
      return undefined;
    const front = await side(artwork);
    if (!front) return undefined;
    const { sheets, typefaces } = front.art;
    const turned = has ? ofBack(artwork, sheets.length) : undefined;
    const back = turned && isMade(turned) ? await side(turned) : undefined;
    if (turned && isMade(turned) && !back) return undefined;
    const reasons = [
      ...judgeArtwork(plan, sheets, artwork, typefaces, order?.pieces),
      ...(back
        ? judgeBack(
            byBack(turnedOver(plan, turnedAbout!).plan),
            back.art.sheets,
            turned!,
            back.art.typefaces,
          )
        : []),
    ];
    add({
      art: { ok: true, value: { ...front.art, ...(back && { back: back.art }), reasons } },
    });
    return { ...front.order, ...(back && { back: back.order }) };
  }

  /** The artwork files and fonts of one side, read. */
  async #side(settings: ArtworkSettings, files: readonly PictureFile[]): Promise<Outcome<Side>> {
    const { run } = settings;
    const at = (wanted: { readonly digest: string }): PictureFile | undefined =>
      files.find(({ digest }) => digest === wanted.digest);
    for (const [code, list] of [
      ['artwork-wanted', settings.files],
      ['font-wanted', fontsOf(run?.lines)],
    ] as const) {
      const wanted = list.find((f) => !at(f));
      if (wanted) return { ok: false, reason: reason(code, { file: wanted.name }) };
    }
    const ordered = settings.files.map((f) => at(f)!);
    const reads: ArtRead[] = [];
    for (const file of ordered) {
      this.#about = `Reading ${file.name}`;
      const read = await this.#memo.step(`art ${file.digest}`, [file.digest], () =>
        this.machines.art(file),
      );
      if (!read.ok) return read;
      reads.push(read.value);
    }
    const lines = run?.lines ?? [];
    const fonts = lines.map(({ font }) => (typeof font === 'string' ? font : at(font)!));
    let typefaces: readonly Typeface[] = [];
    if (run && lines.length > 0) {
      const sets = JSON.stringify(lines.map(({ font, column }) => [font, column]));
      const step = settings.pieces === undefined ? 'letters' : 'letters of the back';
      const set = await this.#memo.step(step, [run.table, sets], () =>
        this.machines.letters(run, fonts),
      );
      if (!set.ok) return set;
      typefaces = set.value;
    }
    const sheets = reads.flatMap((r) => r.sheets);
    const pictures = reads.flatMap((r) => r.pictures);
    return {
      ok: true,
      value: {
        art: { sheets, pictures, typefaces },
        order: { files: ordered, settings, fonts },
      },
    };
  }
}

/** One side of the artwork: what it holds, and what is to be printed. */
interface Side {
  readonly art: SideArtwork;
  readonly order: SideOrder;
}

/** Seat outlines of pieces in several pictures, each measured alone, numbered on through all of them. */
export function piecesOf(first: Trace, others: readonly Trace[]): readonly Outline[] {
  const seats = [...seatOutlines(first)];
  others.forEach((other, k) => {
    const most = Math.max(0, ...seats.map((o) => o.blank));
    for (const o of seatOutlines(other))
      seats.push({ ...o, blank: most + o.blank, inPicture: k + 1 });
  });
  return seats;
}

/** The outline of the face that is printed. */
export const faceOutline = (outlines: readonly Outline[]): Outline | undefined =>
  outlines.find((o) => o.at === 'face') ?? seatOutline(outlines);

/**
 * What the job sheet says beside the plan. Every reading on it, agreeing or not; none: NOT CHECKED.
 *
 * @param shapes what `factWords` says of every blank's seat outline
 */
export function sheetFactsOf(job: Job, results: Results, shapes: readonly string[]): JobFacts {
  const { trace, pockets, plan, checks, improved, kind } = results;
  if (!trace?.ok || !pockets?.ok || !plan?.ok) throw new Error('the plan comes before its facts');
  const made = (checks?.ok ? checks.value.checked : []).map(
    ({ reading, dimension, averaged, judgement, fit }) => ({
      blank: reading.blank,
      what: featureName(reading.feature, dimension.kind),
      with: reading.with,
      outlineMm: dimension.valueMm,
      outlineU: 2 * dimension.u,
      readingMm: averaged.readMm,
      readingU: 2 * averaged.u,
      readings: reading.valuesMm.length,
      judgement,
      ...(fit && { fit }),
    }),
  );
  const { passedOver } = gateOf(job, results);
  return jobFacts(
    { plan: plan.value, blanks: pockets.value },
    kind?.ok ? withEnvelope(trace.value, kind.value) : trace.value,
    new Date().toISOString().slice(0, 10),
    made,
    job.override && passedOver.length > 0
      ? {
          reason: job.override.reason,
          by: job.override.by,
          over: passedOver.map((d) => d.words),
        }
      : undefined,
    [
      ...shapes,
      ...(improved?.ok ? improved.value.improvements.map(correctionWords) : []),
      ...keptWords(job),
      ...(job.zero
        ? [`The caliper read ${job.zero.readMm.toFixed(2)} mm closed, tried on ${job.zero.on}.`]
        : []),
      ...fitWords(job),
      ...registrationWords(job, { plan: plan.value, blanks: pockets.value }),
      ...movedWords(job, plan.value),
      ...(job.order ? orderWords(orderOf(plan.value, pockets.value, job.order), job.order) : []),
      ...backWords(job.bed.turnedAbout),
    ],
  );
}

/** How pieces are turned over for their back, for job sheet and terminal. */
export const backWords = (axis: Axis | undefined): string[] =>
  axis
    ? [
        `Both sides are printed: turn every piece over ${AXES[axis]}; the card of the back (back-card.pdf) shows where each then lies. Files of the back begin with "back".`,
      ]
    : [];

/** Where the sheet was since its spans were read, for the job sheet. */
function keptWords({ sheet: { kept, carrier, spansMm } }: Job): string[] {
  if (Object.keys(spansMm).length === 0) return [];
  const where = {
    today: 'on the day of the picture',
    room: 'earlier; the sheet lay in the same room',
    elsewhere: 'earlier; the sheet was elsewhere, or damp',
  };
  const percent = (200 * growthU(kept, carrier)).toFixed(2);
  return [
    kept
      ? `The spans of the sheet (${carrier ?? 'paper'}) were read ${where[kept]}${kept === 'today' ? '' : `: it may have moved by ${percent} % (U, k = 2), which is in every U`}.`
      : 'Nobody has said when the spans of the sheet were read.',
  ];
}

/** The registration budget, for the job sheet. */
function registrationWords(job: Job, jig: Jig): string[] {
  const { inputs, offMm, leastMm, growthKnown } = registrationFor(
    jig,
    job.registration ?? REGISTRATION,
  );
  const each = inputs
    .filter(({ share }) => share >= 0.01)
    .map(({ name, share }) => `${name} ${(100 * share).toFixed(0)} %`);
  return [
    `Registration: the print may land ${offMm.toFixed(2)} mm off along one direction (U, k = 2): ${each.join(', ')} of its square${growthKnown ? '' : '; growth of the board not counted, its material is not told or has no figure'}. Least bleed, safe area and white choke ${leastMm.toFixed(2)} mm.`,
  ];
}

/** What artwork is moved by and why it is not, for the job sheet. */
function movedWords(job: Job, plan: BedPlan): string[] {
  const of = printerProfileOf(job);
  const correction = correctionFor(job, plan);
  const cutter = cutterProfileOf(job);
  return [
    ...(of ? profileSaid(of) : []),
    ...(correction ? [correctionSaid(correction)] : []),
    ...(cutter ? [cutterSaid(cutter)] : []),
  ];
}

/** What the files do about a correction, for job sheet and terminal. */
export const correctionSaid = ({ asks, words, holds, until }: Correction): string =>
  `Artwork is moved as ${asks}: ${words}. It holds for ${holds}, ${until}; cut files and the set-up print are not moved.`;

/** What is known of the printer's bed, for job sheet and screen. */
export function profileSaid({ printer, profile, against, own }: PrinterProfile): string[] {
  const measured = `Bed profile of ${printer}, measured on ${profile.on}: ${profileWords(profile)}; U (k = 2) ${profile.farthestU.toFixed(2)} mm where it is most.`;
  if (own)
    return [
      `${measured} The board is cut along lines of that very printer: artwork is not corrected by it.`,
    ];
  return [
    measured,
    ...[...(against ? [against] : []), ...profile.doubts].map((r) => `${r.message} ${r.remedy}`),
  ];
}

/** What is known of the cutter's own lengths, for the job sheet. */
const cutterSaid = ({ cutter, profile, against, taken }: CutterProfile): string =>
  `Cut test of ${cutter}, ${profile.on}: it cuts ${profileWords(profile)}; U (k = 2) ${profile.farthestU.toFixed(2)} mm where it is most. ${
    against
      ? `${against.message} ${against.remedy}`
      : taken
        ? 'Cut files are corrected by it.'
        : 'Cut files are not corrected by it.'
  }`;

/** What test boards of this material and cutter showed, for the job sheet. */
function fitWords({ fits = [], pocket }: Job): string[] {
  const known = fitFor(fits, pocket, pocket.tool.kind);
  if (!known) return [];
  const { clearanceMm, stepMm = 0, kerfMm, kerfU = 0, on } = known;
  const said = [
    clearanceMm === undefined
      ? ''
      : `the fit ladder was snug at a clearance of ${clearanceMm.toFixed(2)} mm per side, to a step of ${stepMm.toFixed(2)} mm`,
    kerfMm === undefined
      ? ''
      : `the cutter took away ${kerfMm.toFixed(3)} ±${(2 * kerfU).toFixed(3)} mm (U, k = 2)`,
  ].filter(Boolean);
  return [
    `Test board of this ${known.stock === undefined ? 'material' : `board (${known.stock})`} and cutter, ${on}: ${said.join('; ')}.`,
  ];
}

/** Facts of a blank's outline, for the job sheet. */
export function factWords(outline: Outline): string {
  const { areaMm2, perimeterMm, largest, holes } = factsOf(outline);
  const fact = (value: number, u: number): string =>
    `${value.toFixed(2)} ±${Math.max(0.01, 2 * u).toFixed(2)}`;
  const round = holes.flatMap((h) => (h.kind === 'round' ? [h.diameter] : []));
  return `Blank ${outline.blank}: area ${fact(areaMm2.value / 100, areaMm2.u / 100)} cm², perimeter ${fact(perimeterMm.value, perimeterMm.u)} mm, widest ${fact(largest.valueMm, largest.u)} mm${round.length > 0 ? `, round holes ${round.map((d) => fact(d.value, d.u)).join(', ')} mm` : ''} (U, k = 2).`;
}

/** What readings did to a blank's outline, for the job sheet. */
function correctionWords({ blank, changes }: Improvement): string {
  const each = changes
    .filter((c) => c.used)
    .map(
      (c) =>
        `${c.name} from ${c.beforeMm.toFixed(2)} ±${c.beforeU.toFixed(2)} to ${c.afterMm.toFixed(2)} ±${c.afterU.toFixed(2)} mm (read ${c.readMm.toFixed(2)})`,
    );
  return `The outline of blank ${blank} was corrected by readings, which no longer count as checks: ${each.join('; ')}.`;
}
