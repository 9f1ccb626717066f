import type { CurvesOfMask, MaskCurve } from './mask-curves.ts';

type Answer = { readonly id: number } & (
  { readonly curves: readonly MaskCurve[] } | { readonly error: string }
);

/** `CurvesOfMask` over a running potrace worker; calls may overlap. */
export function curvesOfMaskIn(worker: Worker): CurvesOfMask {
  let next = 0;
  const waiting = new Map<number, (answer: Answer) => void>();
  worker.addEventListener('message', ({ data }: MessageEvent<Answer>) => {
    waiting.get(data.id)?.(data);
    waiting.delete(data.id);
  });
  return (mask, width, height) =>
    new Promise((resolve, reject) => {
      const id = next++;
      waiting.set(id, (answer) => {
        if ('curves' in answer) resolve(answer.curves);
        else reject(new Error(`potrace: ${answer.error}`));
      });
      worker.postMessage({ id, mask, width, height });
    });
}
