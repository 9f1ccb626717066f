import { performance } from 'node:perf_hooks';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import { silent, type Progress } from '../base/progress.ts';
import type { Trace, TraceSettings } from '../outline/outline.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { loadClipper } from '../geometry/load-clipper-node.ts';
import { piecesOf } from '../job/run.ts';
import { ofOneKind, withEnvelope, type KindBy } from '../outline/kind.ts';
import { curvesOfMask } from '../outline/potrace.ts';
import { combined, type Shown } from '../outline/several.ts';
import { trace } from '../outline/trace.ts';
import { readPicture } from '../picture/decode-node.ts';
import type { Picture } from '../picture/picture.ts';
import { asStored } from '../picture/turn.ts';
import { findMarks } from '../view/marks.ts';
import { readProfile, viewsOf, type PhotoSettings } from '../view/profile.ts';
import { DPI_SHARE, type ScannerProfile } from '../view/scan.ts';
import { findScanMarks } from '../view/scan-marks.ts';
import { scanView } from '../view/scan-profile.ts';
import type { CalibrationSettings, FoundMarks, PhotoView, View } from '../view/view.ts';
import type { Vision } from '../vision/cv.ts';
import { loadVision } from '../vision/load-node.ts';

/** What bears on one picture, as the command line takes it. Lengths in mm, uncertainties standard (k = 1). */
export interface TraceOptions {
  /** For every blank that is not named; absent when each must be named. */
  readonly thicknessMm?: number;
  readonly thicknessOfBlankMm: Readonly<Record<number, number>>;
  readonly thicknessU: number;
  readonly spansMm: Readonly<Partial<Record<'x' | 'y' | 'd', number>>>;
  readonly spanU: number;
  /** Share by which the sheet may have moved since its spans were read; absent: 0. */
  readonly growthU?: number;
  /** Heights of blocks beside the blanks that only carry a rider. */
  readonly blocksMm?: readonly number[];
  readonly riderSpansMm: Readonly<Record<number, number>>;
  readonly riderSpanU: number;
  /** A lens profile as its file holds it, and that file's name. */
  readonly lens?: { readonly name: string; readonly text: string };
  /** Height of the widest edge; absent: the face's. */
  readonly widestMm?: number;
  readonly face: 'print' | 'back';
  readonly wantMm: number;
  /** A flatbed scan; absent for a photo. */
  readonly scan?: {
    readonly profile?: ScannerProfile;
    readonly dpi?: number;
    /** Standard uncertainty of `dpi`, as a share. */
    readonly dpiShare?: number;
  };
  /** The blanks are pieces of one kind: their envelope is wanted too. */
  readonly pieces?: boolean;
  /** Further pictures with pieces of that kind, each measured alone. */
  readonly piecesIn?: readonly PictureFile[];
  /** What the pocket of all is made for; absent: their envelope. */
  readonly piecesBy?: KindBy;
}

export const DEFAULT_TRACE: Omit<TraceOptions, 'thicknessMm'> = {
  thicknessOfBlankMm: {},
  thicknessU: 0.05,
  spansMm: {},
  spanU: 0.03,
  riderSpansMm: {},
  riderSpanU: 0.03,
  face: 'print',
  wantMm: 0.3,
};

/** Milliseconds of each step, in order; `decode` is the time to read and decode the file. */
export type Timings = Readonly<Record<'decode' | 'marks' | 'view' | 'outline', number>>;

export interface Traced {
  readonly trace: Trace;
  readonly view?: View;
  readonly picture?: Picture;
  readonly timings: Partial<Timings>;
}

/** Runs a step and notes how long it took. */
const stopwatch =
  (timings: Partial<Record<keyof Timings, number>>) =>
  async <T>(step: keyof Timings, work: () => T | Promise<T>): Promise<T> => {
    const start = performance.now();
    try {
      return await work();
    } finally {
      timings[step] = performance.now() - start;
    }
  };

/**
 * From a picture file to outlines, as `trace` does it: decode, find the marks, calibrate, trace.
 * A refusal of any step is a refused trace without outlines; other errors are faults and are thrown.
 *
 * @param bytes the whole file
 * @param name as the operator knows it
 */
export const traceFile = (
  bytes: Uint8Array,
  name: string,
  options: TraceOptions,
  progress: Progress = silent,
): Promise<Traced> => traceAlone(() => readPicture(bytes, name), options, progress);

/** The same of a picture that is read by `reading`, as a large one is where it lies. */
export async function traceAlone(
  reading: () => Promise<Picture>,
  options: TraceOptions,
  progress: Progress = silent,
): Promise<Traced> {
  const timings: Partial<Record<keyof Timings, number>> = {};
  const timed = stopwatch(timings);
  let picture: Picture | undefined;
  let view: View | undefined;
  try {
    const read = (picture = await timed('decode', reading));
    const vision = { cv: loadVision().cv };
    const clipper = await loadClipper();
    const found = await timed('marks', () => marksIn(vision, read, options, progress));
    const seen = (view = await timed('view', () => viewOf(found, read, options)));
    const traced = await timed('outline', () =>
      trace(clipper, curvesOfMask, read, seen, traceSettingsOf(options), progress),
    );
    nameEveryBlank(traced, options);
    const whole = options.pieces ? await envelopedIn(clipper, traced, options) : traced;
    const told = { ...whole, reasons: [...seen.reasons, ...whole.reasons] };
    return { trace: withPictureReasons(told, read), view, picture, timings };
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return {
      trace: { outlines: [], verdict: 'refused', reasons: [error.reason] },
      ...(view && { view }),
      ...(picture && { picture }),
      timings,
    };
  }
}

/** A picture file. */
export interface PictureFile {
  readonly name: string;
  readonly bytes: Uint8Array;
}

/**
 * The same for several pictures of the same blanks on one sheet, none moved in between: one adjustment of all, then what no
 * picture rules out. The order of the pictures does not matter.
 */
export async function traceFiles(
  files: readonly PictureFile[],
  options: TraceOptions,
  progress: Progress = silent,
): Promise<Traced> {
  const [only, ...more] = files;
  if (more.length === 0) return traceFile(only!.bytes, only!.name, options, progress);
  const timings: Partial<Record<keyof Timings, number>> = {};
  const timed = stopwatch(timings);
  let views: PhotoView[] = [];
  let pictures: Picture[] = [];
  try {
    const vision = { cv: loadVision().cv };
    const clipper = await loadClipper();
    pictures = await timed('decode', async () => {
      const read: Picture[] = [];
      // In an order of their own, so that the last digit does not depend on how they were named on the command line.
      for (const { bytes, name } of [...files].sort(byContent))
        read.push(asStored(await readPicture(bytes, name)));
      return read;
    });
    const photos = await timed('marks', () =>
      pictures.map((picture) => {
        const { widthPx, heightPx } = picture;
        const found = findMarks(vision, picture, progress);
        return { found, meta: picture.meta, widthPx, heightPx };
      }),
    );
    views = await timed('view', () => viewsOf(photos, withLens(options)));
    const settings = traceSettingsOf(options);
    const traced = await timed('outline', async () => {
      const shown: Shown[] = [];
      for (const [p, picture] of pictures.entries()) {
        const view = views[p]!;
        const alone = { ...settings, face: 'print' as const, oneOfSeveral: true };
        const one = await trace(clipper, curvesOfMask, picture, view, alone, progress);
        const refused = one.reasons.find((r) => r.level === 'refuse');
        if (refused && refused.code !== 'outline-too-uncertain')
          throw new Refusal(refused.code, refused.facts);
        nameEveryBlank(one, options);
        shown.push({ trace: one, view });
      }
      const all = combined(clipper, shown, settings);
      return options.pieces ? envelopedIn(clipper, all, options) : all;
    });
    const withReasons = pictures.reduce(withPictureReasons, traced);
    return { trace: withReasons, view: views[0]!, picture: pictures[0]!, timings };
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return {
      trace: { outlines: [], verdict: 'refused', reasons: [error.reason] },
      ...(views[0] && { view: views[0] }),
      ...(pictures[0] && { picture: pictures[0] }),
      timings,
    };
  }
}

/** @throws Refusal as `ofOneKind`, `piece-picture-refused` */
async function envelopedIn(
  clipper: Clipper,
  traced: Trace,
  { pieces: _, piecesIn = [], piecesBy, ...options }: TraceOptions,
): Promise<Trace> {
  const others: Trace[] = [];
  for (const file of piecesIn) {
    // Blanks are named by their numbers in the first picture; all pieces are as thick as its first one.
    const thicknessMm = options.thicknessMm ?? options.thicknessOfBlankMm[1];
    const { trace: other } = await traceFiles([file], {
      ...options,
      ...(thicknessMm !== undefined && { thicknessMm }),
      thicknessOfBlankMm: {},
    });
    const refusal = other.reasons.find((r) => r.level === 'refuse');
    if (refusal)
      throw new Refusal('piece-picture-refused', {
        name: file.name,
        what: refusal.message.replace(/\.$/, ''),
      });
    others.push(other);
  }
  return withEnvelope(traced, ofOneKind(clipper, piecesOf(traced, others), piecesBy));
}

const byContent = (a: PictureFile, b: PictureFile): number => Buffer.compare(a.bytes, b.bytes);

/** What bears on the calibration of photos, the lens profile where one was given. */
export const withLens = (options: TraceOptions): PhotoSettings => ({
  ...calibrationOf(options),
  ...(options.lens && { lens: readProfile(options.lens.text, options.lens.name) }),
});

/** The marks in the picture; none where a scan is known by its scanner's profile or, for want of marks, by its density. */
function marksIn(
  vision: Vision,
  picture: Picture,
  { scan }: TraceOptions,
  progress: Progress,
): FoundMarks | undefined {
  if (!scan) return findMarks(vision, picture, progress);
  if (scan.profile) return undefined;
  try {
    return findScanMarks(vision, picture, scan.dpi ?? picture.meta.densityDpi, progress);
  } catch (error) {
    const unmarked = error instanceof Refusal && error.reason.code === 'no-strip';
    if (unmarked && scan.dpi !== undefined) return undefined;
    throw error;
  }
}

function viewOf(found: FoundMarks | undefined, picture: Picture, options: TraceOptions): View {
  const { scan } = options;
  if (!scan) {
    const { meta, widthPx, heightPx } = picture;
    return viewsOf([{ found: found!, meta, widthPx, heightPx }], withLens(options))[0]!;
  }
  return scanView(found, picture, { ...calibrationOf(options), dpiShare: DPI_SHARE, ...scan });
}

/** The distinct heights of faces; the one for unnamed blanks first. */
export function calibrationOf(o: TraceOptions): CalibrationSettings {
  const named = Object.values(o.thicknessOfBlankMm);
  // A scan shows the face that lies on the glass: how thick a blank is may stay open.
  const open = o.thicknessMm ?? (o.scan && named.length === 0 ? 0 : undefined);
  const all = open === undefined ? named : [open, ...named];
  return {
    thicknessMm: [...new Set(all)],
    thicknessU: o.thicknessU,
    spansMm: o.spansMm,
    spanU: o.spanU,
    growthU: o.growthU ?? 0,
    ...(o.blocksMm && { blocksMm: o.blocksMm }),
    riderSpansMm: o.riderSpansMm,
    riderSpanU: o.riderSpanU,
    wantMm: o.wantMm,
  };
}

/** What bears on the tracing. */
export const traceSettingsOf = (o: TraceOptions): TraceSettings => ({
  thicknessMm: o.thicknessOfBlankMm,
  ...(o.widestMm !== undefined && { widestMm: o.widestMm }),
  widestU: o.thicknessU,
  face: o.face,
  wantMm: o.wantMm,
});

/** Thickness is the largest error of the whole job: no blank gets one that was meant for another. */
function nameEveryBlank({ outlines }: Trace, o: TraceOptions): void {
  const blanks = [...new Set(outlines.map(({ blank }) => blank))].sort((a, b) => a - b);
  const named = Object.keys(o.thicknessOfBlankMm).map(Number);
  const unknown = named.filter((n) => !blanks.includes(n));
  if (blanks.length > 0 && unknown.length > 0)
    throw new Refusal('thickness-names-no-blank', {
      blank: unknown.join(', '),
      found: blanks.length,
    });
  const unnamed = blanks.filter((n) => !named.includes(n));
  if (o.thicknessMm === undefined && unnamed.length > 0 && !o.scan)
    throw new Refusal('thickness-of-blank-missing', {
      blank: unnamed.join(', '),
      found: blanks.length,
    });
}

/** What is worth knowing about the file stands with the outline; a doubt about it makes the outline doubtful. */
function withPictureReasons(traced: Trace, { meta }: Picture): Trace {
  const ours: readonly Reason[] = meta.reasons ?? [];
  const doubt = ours.some(({ level }) => level === 'doubt');
  return {
    ...traced,
    verdict: doubt && traced.verdict === 'ok' ? 'doubtful' : traced.verdict,
    reasons: [...traced.reasons, ...ours],
  };
}

/** A trace of a picture that is not there. */
export const missingPicture = (name: string, why: string): Trace => ({
  outlines: [],
  verdict: 'refused',
  reasons: [reason('picture-unreadable', { name, why })],
});
