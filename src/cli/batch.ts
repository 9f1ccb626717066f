import { Worker } from 'node:worker_threads';
import type { Measured } from './measured.ts';
import type { TraceOptions } from './trace.ts';

/** What came of one picture of many: its outlines and verdict, or the fault of the program that stopped it. */
export type Done = Measured | { readonly fault: unknown };

/**
 * Measures pictures of different blanks, each alone, in as many threads as given. A fault over one picture ends its thread
 * and leaves the others alone.
 *
 * @param each is told of every picture in the order in which they were given, as soon as those before it are told
 */
export async function batch(
  paths: readonly string[],
  options: TraceOptions,
  threads: number,
  each: (k: number, done: Done) => Promise<void>,
): Promise<void> {
  const waiting: Done[] = [];
  let next = 0;
  let told = 0;
  let telling = Promise.resolve();
  const tell = async (): Promise<void> => {
    for (let done = waiting[told]; done; done = waiting[told]) await each(told++, done);
  };
  const lane = async (): Promise<void> => {
    let thread: Thread | undefined;
    for (let k = next++; k < paths.length; k = next++) {
      thread ??= start();
      try {
        waiting[k] = await thread.ask(paths[k]!, options);
      } catch (fault) {
        waiting[k] = { fault };
        thread.end();
        thread = undefined;
      }
      await (telling = telling.then(tell));
    }
    thread?.end();
  };
  await Promise.all(Array.from({ length: Math.min(threads, paths.length) }, lane));
}

interface Thread {
  ask(path: string, options: TraceOptions): Promise<Measured>;
  end(): void;
}

/** What a thread answers. */
export type Answer = { readonly measured: Measured } | { readonly fault: Error };

function start(): Thread {
  const worker = new Worker(new URL('./batch-thread.mjs', import.meta.url));
  return {
    ask: (path, options) =>
      new Promise((resolve, reject) => {
        const settle = (): void => {
          worker.off('message', heard).off('error', failed).off('exit', ended);
        };
        const failed = (error: Error): void => {
          settle();
          reject(error);
        };
        const heard = (answer: Answer): void => {
          if ('fault' in answer) failed(answer.fault);
          else {
            settle();
            resolve(answer.measured);
          }
        };
        const ended = (code: number): void => failed(new Error(`a thread ended with ${code}`));
        worker.on('message', heard).on('error', failed).on('exit', ended);
        worker.postMessage({ path, options });
      }),
    end: () => void worker.terminate(),
  };
}

/** A table that spreadsheets open: fields with commas or quotes in quotes (RFC 4180). */
export function table(rows: readonly (readonly (string | number)[])[]): string {
  const field = (value: string | number): string => {
    const text = String(value);
    return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
  };
  return rows.map((row) => `${row.map(field).join(',')}\r\n`).join('');
}
