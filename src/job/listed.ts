import type { Outcome } from '../base/reason.ts';
import type { Results } from './run.ts';

const of = <T>(answer: Outcome<T>, lean: (value: T) => T): Outcome<T> =>
  answer.ok ? { ok: true, value: lean(answer.value) } : answer;

/**
 * Results as far as a list of jobs shows them: what is said of each step, and the outlines. What they were computed with (marks,
 * residuals, displacement modes) and the files are left out; a job that is opened again is computed again.
 */
export function listed({
  info,
  found,
  view,
  trace,
  checks,
  kind,
  pockets,
  plan,
}: Results): Results {
  return {
    ...(info && { info }),
    ...(found && { found: of(found, (f) => ({ ...f, marks: [] })) }),
    ...(view && { view: of(view, (v) => ({ ...v, modes: [], residuals: [] })) }),
    ...(trace && {
      trace: of(trace, (t) => ({
        ...t,
        outlines: t.outlines.map((o) => ({ ...o, modes: [] })),
      })),
    }),
    ...(checks && { checks }),
    ...(kind && { kind }),
    ...(pockets && { pockets }),
    ...(plan && { plan }),
  };
}
