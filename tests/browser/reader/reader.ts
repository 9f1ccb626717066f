import { wrap, proxy } from 'comlink';
import { silent } from '../../../src/base/progress.ts';
import { outcome } from '../../../src/base/reason.ts';
import type { TraceSettings } from '../../../src/outline/outline.ts';
import { readPicture } from '../../../src/picture/decode-browser.ts';
import type { CalibrationSettings } from '../../../src/view/view.ts';
import type { VisionApi } from '../../../workers/vision.worker.ts';

const read = outcome(readPicture);
const base64Of = async (bytes: Uint8Array | Uint8ClampedArray): Promise<string> =>
  new Promise((resolve) => {
    const reader = new FileReader();
    reader.onload = () => resolve((reader.result as string).split(',')[1] ?? '');
    reader.readAsDataURL(new Blob([bytes as BlobPart]));
  });

const blobOf = async (base64: string): Promise<Blob> =>
  (await fetch(`data:application/octet-stream;base64,${base64}`)).blob();

/** The page's reader, for tests to call: a file in base64 to its answer, the pixels in base64. */
async function readInPage(base64: string, name: string) {
  const bytes = await blobOf(base64);
  const answer = await read(bytes, name);
  if (!answer.ok) return answer;
  const { widthPx, heightPx, channels, meta, data } = answer.value;
  return {
    ok: true as const,
    value: { widthPx, heightPx, channels, meta, pixels: await base64Of(data) },
  };
}
export type ReadInPage = typeof readInPage;

/** The page's own worker, from a file to the outer rings of its outlines in the sheet frame, mm. */
async function traceInPage(
  base64: string,
  name: string,
  calibration: CalibrationSettings,
  settings: TraceSettings,
) {
  const worker = new Worker(new URL('../../../workers/vision.worker.ts', import.meta.url), {
    type: 'module',
  });
  const vision = wrap<VisionApi>(worker);
  const file = { name, digest: name, bytes: await blobOf(base64) };
  const answer = await vision.trace([file], calibration, settings, proxy(silent));
  worker.terminate();
  if (!answer.ok) return answer;
  const { verdict, outlines } = answer.value;
  return {
    ok: true as const,
    value: { verdict, rings: outlines.map(({ region }) => region.outer) },
  };
}
export type TraceInPage = typeof traceInPage;
Object.assign(window, { readInPage, traceInPage });
