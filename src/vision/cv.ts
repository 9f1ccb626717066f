import type * as CV from 'opencv-wasm';

/**
 * OpenCV, loaded. Wrapped in an object because the module itself is a thenable that resolves with itself:
 * a bare one returned from an async function would spin for ever.
 */
export interface Vision {
  readonly cv: typeof CV.cv;
}

/** Frees every native object that `keep` was given, also when `work` throws; copy results out before returning. */
export function scoped<T>(work: (keep: <D extends { delete(): void }>(d: D) => D) => T): T {
  const kept: { delete(): void }[] = [];
  try {
    return work((d) => {
      kept.push(d);
      return d;
    });
  } finally {
    for (const d of kept.reverse()) d.delete();
  }
}

/** Runs OpenCV code; its C++ exceptions arrive as numbers and leave as errors that name the operation. */
export function native<T>({ cv }: Vision, operation: string, work: () => T): T {
  try {
    return work();
  } catch (error) {
    if (typeof error !== 'number') throw error;
    const { exceptionFromPtr } = cv as unknown as { exceptionFromPtr(p: number): { msg: string } };
    throw new Error(`OpenCV, ${operation}: ${exceptionFromPtr(error).msg}`, { cause: error });
  }
}
