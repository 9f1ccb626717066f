/** One thread of a batch. In: `{ path, options }`; out: an `Answer`. */
import { parentPort } from 'node:worker_threads';
import type { Answer } from './batch.ts';
import { measured } from './measured.ts';
import type { TraceOptions } from './trace.ts';

parentPort!.on(
  'message',
  async ({ path, options }: { readonly path: string; readonly options: TraceOptions }) => {
    const answer: Answer = await measured([path], options).then(
      (measured) => ({ measured }),
      (fault: unknown) => ({ fault: fault instanceof Error ? fault : new Error(String(fault)) }),
    );
    parentPort!.postMessage(answer);
  },
);
