import { curvesOfMask } from '../src/outline/potrace.ts';

/**
 * potrace in a worker file of its own (its licence is the GPL; nothing else is bundled with it), by plain messages:
 * `{ id, mask, width, height }` in, `{ id, curves }` or `{ id, error }` out.
 */
export interface MaskMessage {
  readonly id: number;
  readonly mask: Uint8Array;
  readonly width: number;
  readonly height: number;
}

self.addEventListener('message', ({ data }: MessageEvent<MaskMessage>) => {
  const { id, mask, width, height } = data;
  try {
    self.postMessage({ id, curves: curvesOfMask(mask, width, height) });
  } catch (error) {
    self.postMessage({ id, error: error instanceof Error ? error.message : String(error) });
  }
});
