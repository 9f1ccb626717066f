import { expose, transfer } from 'comlink';
import { readingOfPhoto } from '../src/after/bed-photo.ts';
import type { Point } from '../src/base/measure.ts';
import { silent, type Progress } from '../src/base/progress.ts';
import { outcome, Refusal } from '../src/base/reason.ts';
import { loadClipper } from '../src/geometry/load-clipper-browser.ts';
import type { Photo, PictureFile, PictureInfo } from '../src/job/run.ts';
import type { PictureBox } from '../src/outline/pictured.ts';
import type { Trace, TraceSettings } from '../src/outline/outline.ts';
import type { CurvesOfMask } from '../src/outline/mask-curves.ts';
import { curvesOfMaskIn } from '../src/outline/potrace-browser.ts';
import { strokesOn } from '../src/outline/paint.ts';
import { snapped } from '../src/outline/snap.ts';
import { combined, type Shown } from '../src/outline/several.ts';
import { trace } from '../src/outline/trace.ts';
import { readPicture } from '../src/picture/decode-browser.ts';
import type { BedReading } from '../src/plan/bed-profile.ts';
import type { Picture } from '../src/picture/picture.ts';
import { bitmapOf, jpegOf, withSmall, type ShownPicture } from '../src/picture/shown-browser.ts';
import { asStored, storedPlace } from '../src/picture/turn.ts';
import type { LooseKind } from '../src/after/lying.ts';
import { looseLoad, printOf, type LoadPhoto, type LooseSettings } from '../src/after/loose.ts';
import type { LooseSeen } from '../src/job/loose-bed.ts';
import { loadPhotoOf, sheetIn } from '../src/job/loose.ts';
import type { BedSettings } from '../src/plan/plan.ts';
import type { Board } from '../src/view/board.ts';
import { firstLook, type FirstLook } from '../src/view/first-look.ts';
import { findMarks } from '../src/view/marks.ts';
import { profileOf, viewsOf, type PhotoSettings, type Target } from '../src/view/profile.ts';
import { shotOf, type Shot } from '../src/view/profile-photos.ts';
import type { ScanSettings } from '../src/view/scan.ts';
import { findScanMarks } from '../src/view/scan-marks.ts';
import { scanView } from '../src/view/scan-profile.ts';
import { uprightView } from '../src/view/turned.ts';
import { rehearse } from '../src/view/rehearsal.ts';
import type { FoundMarks, PhotoView, View } from '../src/view/view.ts';
import { loadVision } from '../src/vision/load-browser.ts';

/** The picture at hand and what was made of it: pixels are decoded once and never leave this worker. */
interface Held {
  readonly picture: Promise<Picture>;
  /** By whether it was taken for a scan. */
  readonly found: Map<boolean, Promise<FoundMarks>>;
  readonly views: Map<string, Promise<View>>;
}
/** By digest: those in use, no more. */
const held = new Map<string, Held>();
/** Views of all photos adjusted together, by their digests and settings. */
const together = new Map<string, Promise<readonly PhotoView[]>>();

let curves: CurvesOfMask | undefined;
/** The potrace worker, on its own for its licence's sake; it ends with this one. */
const curvesOfMask: CurvesOfMask = (...mask) =>
  (curves ??= curvesOfMaskIn(
    new Worker(new URL('./potrace.worker.ts', import.meta.url), { type: 'module' }),
  ))(...mask);

function hold(file: PictureFile): Held {
  let h = held.get(file.digest);
  if (!h) {
    // Beside the decoding.
    loadVision().catch(() => {});
    h = { picture: readPicture(file.bytes, file.name), found: new Map(), views: new Map() };
    held.set(file.digest, h);
  }
  return h;
}

/** Lets go of pictures that are not among these. */
function keepOnly(files: readonly PictureFile[]): void {
  for (const digest of held.keys())
    if (!files.some((f) => f.digest === digest)) held.delete(digest);
}

function foundIn(file: PictureFile, scanned: boolean, progress: Progress): Promise<FoundMarks> {
  const h = hold(file);
  const before = h.found.get(scanned);
  if (before) return before;
  const found = (async () => {
    const picture = await h.picture;
    const vision = await loadVision();
    return scanned
      ? findScanMarks(vision, picture, picture.meta.densityDpi, progress)
      : findMarks(vision, picture, progress);
  })();
  h.found.set(scanned, found);
  return found;
}

function viewOf(
  file: PictureFile,
  settings: PhotoSettings | ScanSettings,
  progress: Progress,
): Promise<View> {
  const h = hold(file);
  const key = JSON.stringify(settings);
  const before = h.views.get(key);
  if (before) return before;
  const view = (async () => {
    const picture = await h.picture;
    if ('dpiShare' in settings) {
      const found = settings.bare ? undefined : await foundIn(file, true, progress);
      return scanView(found, picture, settings);
    }
    const found = await foundIn(file, false, progress);
    const { meta, widthPx, heightPx } = picture;
    return viewsOf([{ found, meta, widthPx, heightPx }], settings)[0]!;
  })();
  h.views.set(key, view);
  return view;
}

const inOrder = (files: readonly PictureFile[]): PictureFile[] =>
  [...files].sort((a, b) => (a.digest < b.digest ? -1 : 1));

/** One adjustment of several photos, of the pictures as stored, in an order of their own, so that the last digit does not depend on how they came. */
function viewsTogether(
  files: readonly PictureFile[],
  settings: PhotoSettings,
  progress: Progress,
): Promise<readonly PhotoView[]> {
  const ordered = inOrder(files);
  const key = JSON.stringify([ordered.map((f) => f.digest), settings]);
  const before = together.get(key);
  if (before) return before;
  const views = (async () => {
    const photos = [];
    for (const file of ordered) {
      const { meta, widthPx, heightPx } = await hold(file).picture;
      photos.push({ found: await foundIn(file, false, progress), meta, widthPx, heightPx });
    }
    return viewsOf(photos, settings);
  })();
  together.clear();
  together.set(key, views);
  return views;
}

/** What no photo rules out, as the terminal has it. */
async function traceAll(
  files: readonly PictureFile[],
  calibration: PhotoSettings,
  settings: TraceSettings,
  progress: Progress,
): Promise<Trace> {
  const views = await viewsTogether(files, calibration, progress);
  const clipper = await loadClipper();
  const shown: Shown[] = [];
  for (const [p, file] of inOrder(files).entries()) {
    const upright = await hold(file).picture;
    const picture = asStored(upright);
    const { strokes } = strokesOn(settings, file.digest);
    const alone: TraceSettings = {
      ...settings,
      face: 'print',
      oneOfSeveral: true,
      ...(strokes && {
        strokes: strokes.map((s) => ({ ...s, points: s.points.map(storedPlace(upright)) })),
      }),
    };
    const one = await trace(clipper, curvesOfMask, picture, views[p]!, alone, progress);
    const refused = one.reasons.find((r) => r.level === 'refuse');
    if (refused && refused.code !== 'outline-too-uncertain')
      throw new Refusal(refused.code, refused.facts);
    shown.push({ trace: one, view: views[p]! });
  }
  return combined(clipper, shown, settings);
}

let rehearsed: Promise<void> | undefined;

const api = {
  warm: (): Promise<void> =>
    (rehearsed ??= loadVision().then((vision) => {
      // A picture that is there already needs no rehearsal.
      if (held.size === 0) rehearse(vision);
    })),
  open: outcome(async (file: PictureFile): Promise<PictureInfo> => {
    const { widthPx, heightPx, meta } = await hold(file).picture;
    return { widthPx, heightPx, meta };
  }),
  /** The picture to be drawn, for a file that the browser itself cannot show. */
  shown: async (file: PictureFile): Promise<ShownPicture> => {
    const shown = await withSmall(bitmapOf(await hold(file).picture));
    return transfer(shown, [shown.whole, shown.small]);
  },
  photo: outcome(async (file: PictureFile, box: PictureBox, mostPx: number): Promise<Photo> =>
    jpegOf(await hold(file).picture, box, mostPx),
  ),
  /** The crosses of a print on the bed, read off a photo that is kept no longer. */
  bedRead: outcome(
    async (
      file: PictureFile,
      settings: PhotoSettings,
      bed: BedReading['bed'],
      on: string,
    ): Promise<BedReading> => {
      const picture = await readPicture(file.bytes, file.name);
      const found = findMarks(await loadVision(), picture);
      const { meta, widthPx, heightPx } = picture;
      const [view] = viewsOf([{ found, meta, widthPx, heightPx }], settings);
      return readingOfPhoto(picture, view!, bed, on);
    },
  ),
  snap: async (
    file: PictureFile,
    at: Point<'picture'>,
    reachPx: number,
  ): Promise<Point<'picture'> | undefined> => snapped(await hold(file).picture, at, reachPx),
  find: outcome(foundIn),
  look: outcome(async (file: PictureFile): Promise<FirstLook> =>
    firstLook(await hold(file).picture, await foundIn(file, false, silent)),
  ),
  view: outcome(
    async (
      files: readonly PictureFile[],
      settings: PhotoSettings | ScanSettings,
      progress: Progress,
    ): Promise<View> => {
      keepOnly(files);
      const [file] = files as [PictureFile];
      if (files.length === 1) return viewOf(file, settings, progress);
      const views = await viewsTogether(files, settings as PhotoSettings, progress);
      const { meta } = await hold(file).picture;
      return uprightView(views[inOrder(files).indexOf(file)]!, meta);
    },
  ),
  /** Its pixels are let go again at once: a profile is made of what was found in fifteen photos. */
  shot: outcome(async (file: PictureFile, board: Board | undefined): Promise<Shot> => {
    const picture = await (held.get(file.digest)?.picture ?? readPicture(file.bytes, file.name));
    return shotOf(await loadVision(), picture, board);
  }),
  lens: outcome((shots: readonly Shot[], target: Target) => profileOf(shots, target)),
  /** A bed loaded without a jig: each photo traced once for each height, then the pieces told and placed. */
  loose: outcome(
    async (
      files: readonly PictureFile[],
      kinds: readonly LooseKind[],
      calibration: PhotoSettings,
      settings: TraceSettings,
      weigh: LooseSettings,
      bed: Pick<BedSettings, 'widthMm' | 'depthMm'>,
      progress: Progress,
    ): Promise<LooseSeen> => {
      const clipper = await loadClipper();
      const photos: LoadPhoto[] = [];
      let shown: Omit<LooseSeen['photo'], 'sheet'> | undefined;
      for (const file of files) {
        keepOnly([file]);
        const picture = await hold(file).picture;
        const { meta, widthPx, heightPx } = picture;
        shown ??= { meta, widthPx, heightPx };
        photos.push(
          await loadPhotoOf(
            { clipper, curvesOfMask },
            picture,
            await foundIn(file, false, progress),
            kinds,
            calibration,
            settings,
            bed,
            file.name,
            progress,
          ),
        );
      }
      return {
        load: looseLoad(kinds, photos, weigh),
        print: printOf(photos),
        photo: { ...shown!, sheet: sheetIn(photos[0]!.passes[0]!.view) },
      };
    },
  ),
  trace: outcome(
    async (
      files: readonly PictureFile[],
      calibration: PhotoSettings | ScanSettings,
      settings: TraceSettings,
      progress: Progress,
    ): Promise<Trace> => {
      if (files.length > 1)
        return traceAll(files, calibration as PhotoSettings, settings, progress);
      const [file] = files as [PictureFile];
      const view = await viewOf(file, calibration, progress);
      const picture = await hold(file).picture;
      const own = strokesOn(settings, file.digest);
      return trace(await loadClipper(), curvesOfMask, picture, view, own, progress);
    },
  ),
};

export type VisionApi = typeof api;
expose(api);
