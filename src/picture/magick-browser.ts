import type { Answer } from './magick.ts';
import { magickHost, type Thread } from './magick-host.ts';

function start(): Thread {
  const worker = new Worker(new URL('../../workers/magick.worker.ts', import.meta.url), {
    type: 'module',
  });
  return {
    ask: (bytes, kind) =>
      new Promise<Answer>((resolve, reject) => {
        worker.addEventListener('message', ({ data }: MessageEvent<Answer>) => resolve(data));
        worker.addEventListener('error', (event) =>
          reject(new Error(event.message || 'the decoder could not be loaded')),
        );
        // Handed over, not copied: the file may be as large as the pixels.
        worker.postMessage({ bytes, kind }, [bytes.buffer as ArrayBuffer]);
      }),
    end: () => worker.terminate(),
  };
}

/** `magickHost` in a worker of the page, which takes the bytes away; its thread ends with each picture, since wasm memory is given back no other way. */
export const decodeWithMagick = magickHost(start, false);
