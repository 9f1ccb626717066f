/** The decoder in a thread of the terminal. In: `{ id, bytes, kind }`; out: `{ id, answer }`. */
import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { parentPort } from 'node:worker_threads';
import { decode, startMagick, type MagickKind } from './magick.ts';

const wasm = createRequire(import.meta.url).resolve('@imagemagick/magick-wasm/magick.wasm');
const started = readFile(wasm).then(startMagick);

parentPort!.on(
  'message',
  async ({ id, bytes, kind }: { id: number; bytes: Uint8Array; kind: MagickKind }) => {
    await started;
    const answer = decode(bytes, kind);
    const moved = 'decoded' in answer ? [answer.decoded.data.buffer as ArrayBuffer] : [];
    parentPort!.postMessage({ id, answer }, moved);
  },
);
