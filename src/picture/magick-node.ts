import { Worker } from 'node:worker_threads';
import type { Answer } from './magick.ts';
import { magickHost, type Thread } from './magick-host.ts';

function start(): Thread {
  const worker = new Worker(new URL('./magick-thread-node.mjs', import.meta.url));
  let next = 0;
  return {
    ask: (bytes, kind) => {
      worker.ref();
      const id = next++;
      return new Promise<Answer>((resolve, reject) => {
        const settle = (): void => {
          worker.off('message', heard).off('error', failed).off('exit', ended);
          worker.unref();
        };
        const heard = (message: { id: number; answer: Answer }): void => {
          if (message.id !== id) return;
          settle();
          resolve(message.answer);
        };
        const failed = (error: Error): void => {
          settle();
          reject(error);
        };
        const ended = (code: number): void =>
          failed(new Error(`the decoder's thread ended with ${code}`));
        worker.on('message', heard).on('error', failed).on('exit', ended);
        worker.postMessage({ id, bytes, kind });
      });
    },
    end: () => void worker.terminate(),
  };
}

/** `magickHost` under Node; its thread is kept for the next picture and does not hold the program up. */
export const decodeWithMagick = magickHost(start, true);
