import { expose, transfer } from 'comlink';
import type { Progress } from '../src/base/progress.ts';
import { outcome } from '../src/base/reason.ts';
import { loadClipper } from '../src/geometry/load-clipper-browser.ts';
import type { PictureFile, PictureInfo } from '../src/job/run.ts';
import type { Trace, TraceSettings } from '../src/outline/outline.ts';
import type { CurvesOfMask } from '../src/outline/mask-curves.ts';
import { curvesOfMaskIn } from '../src/outline/potrace-browser.ts';
import { trace } from '../src/outline/trace.ts';
import { readPicture } from '../src/picture/decode-browser.ts';
import type { Picture } from '../src/picture/picture.ts';
import { bitmapOf } from '../src/picture/shown-browser.ts';
import { calibrate } from '../src/view/adjust.ts';
import { findMarks } from '../src/view/marks.ts';
import { calibrateScan, type ScanSettings } from '../src/view/scan.ts';
import { findScanMarks } from '../src/view/scan-marks.ts';
import type { CalibrationSettings, FoundMarks, View } from '../src/view/view.ts';
import { loadVision } from '../src/vision/load-browser.ts';

/** The picture at hand and what was made of it: pixels are decoded once and never leave this worker. */
interface Held {
  readonly digest: string;
  readonly picture: Promise<Picture>;
  /** By whether it was taken for a scan. */
  readonly found: Map<boolean, Promise<FoundMarks>>;
  readonly views: Map<string, Promise<View>>;
}
let held: Held | undefined;

let curves: CurvesOfMask | undefined;
/** The potrace worker, on its own for its licence's sake; it ends with this one. */
const curvesOfMask: CurvesOfMask = (...mask) =>
  (curves ??= curvesOfMaskIn(
    new Worker(new URL('./potrace.worker.ts', import.meta.url), { type: 'module' }),
  ))(...mask);

function hold(file: PictureFile): Held {
  if (held?.digest !== file.digest)
    held = {
      digest: file.digest,
      picture: readPicture(file.bytes, file.name),
      found: new Map(),
      views: new Map(),
    };
  return held;
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
  settings: CalibrationSettings | ScanSettings,
  progress: Progress,
): Promise<View> {
  const h = hold(file);
  const key = JSON.stringify(settings);
  const before = h.views.get(key);
  if (before) return before;
  const view = (async () => {
    const scanned = 'dpiShare' in settings;
    const found = await foundIn(file, scanned, progress);
    const { meta, widthPx, heightPx } = await h.picture;
    return scanned
      ? calibrateScan(found, meta, widthPx, heightPx, settings)
      : calibrate(found, meta, widthPx, heightPx, settings);
  })();
  h.views.set(key, view);
  return view;
}

const api = {
  warm: async (): Promise<void> => void (await loadVision()),
  open: outcome(async (file: PictureFile): Promise<PictureInfo> => {
    const { widthPx, heightPx, meta } = await hold(file).picture;
    return { widthPx, heightPx, meta };
  }),
  /** The picture to be drawn, for a file that the browser itself cannot show. */
  shown: async (file: PictureFile): Promise<ImageBitmap> => {
    const bitmap = bitmapOf(await hold(file).picture);
    return transfer(bitmap, [bitmap]);
  },
  find: outcome(foundIn),
  view: outcome(viewOf),
  trace: outcome(
    async (
      file: PictureFile,
      calibration: CalibrationSettings | ScanSettings,
      settings: TraceSettings,
      progress: Progress,
    ): Promise<Trace> => {
      const view = await viewOf(file, calibration, progress);
      const picture = await hold(file).picture;
      return trace(await loadClipper(), curvesOfMask, picture, view, settings, progress);
    },
  ),
};

export type VisionApi = typeof api;
expose(api);
