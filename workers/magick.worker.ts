import wasmUrl from '@imagemagick/magick-wasm/magick.wasm?url';
import { decode, startMagick, type MagickKind } from '../src/picture/magick.ts';

/** The decoder for one picture; loaded only when there is one that the browser cannot decode. Plain messages. */
async function fetchWasm(): Promise<Uint8Array> {
  const response = await fetch(wasmUrl);
  if (!response.ok) throw new Error(`the decoder could not be loaded (${response.status})`);
  return new Uint8Array(await response.arrayBuffer());
}

self.addEventListener(
  'message',
  ({ data: { bytes, kind } }: MessageEvent<{ bytes: Uint8Array; kind: MagickKind }>) => {
    void (async () => {
      try {
        await startMagick(await fetchWasm());
      } catch (error) {
        // Not to be able to start is a fault, and loud.
        reportError(error);
        return;
      }
      const answer = decode(bytes, kind);
      const moved = 'decoded' in answer ? [answer.decoded.data.buffer as ArrayBuffer] : [];
      self.postMessage(answer, { transfer: moved });
    })();
  },
);
