import { Refusal } from '../base/reason.ts';
import { without } from '../base/without.ts';
import { digestOf } from './plan-bed.ts';
import type { BedPlan, PlacedPocket } from './plan.ts';

/**
 * Numbers of pockets as an operator writes them: "1, 4, 6-8". Empty where nothing is written.
 *
 * @throws Refusal `sample-pockets` where it is no list of numbers
 */
export function pocketNumbers(text: string): string[] {
  const ids = text
    .split(/[\s,;]+/)
    .filter(Boolean)
    .flatMap((part) => {
      const [, first, last = first] = /^(\d{1,4})(?:[-–](\d{1,4}))?$/.exec(part) ?? [];
      const [from, to] = [Number(first), Number(last)];
      if (!(from >= 1 && to >= from)) throw new Refusal('sample-pockets', { text: part });
      return Array.from({ length: to - from + 1 }, (_, k) => String(from + k));
    });
  return [...new Set(ids)];
}

/**
 * The numbers, all of them on the bed.
 *
 * @throws Refusal `sample-pockets`, `sample-unknown` where the plan has no such pocket
 */
export function numbersOn({ pockets }: Pick<BedPlan, 'pockets'>, text: string): string[] {
  const wanted = pocketNumbers(text);
  const missing = wanted.filter((id) => !pockets.some((p) => p.id === id));
  if (missing.length > 0)
    throw new Refusal('sample-unknown', { which: missing.join(', '), pockets: pockets.length });
  return wanted;
}

/** The plan of some of its pockets, where they are and by their numbers. @param what it is, after the name of the job */
export function onlyPockets(
  plan: BedPlan,
  wanted: (pocket: PlacedPocket) => boolean,
  what: string,
): BedPlan {
  const pockets = plan.pockets.filter(wanted);
  const part = { ...plan, pockets, jobName: `${plan.jobName}, ${what}` };
  const { reasons, troubled, ...rest } = without(part, 'digest');
  const kept = new Set(pockets.map(({ id }) => id));
  return {
    ...rest,
    ...(troubled && { troubled: troubled.filter((id) => kept.has(id)) }),
    digest: digestOf(rest),
    reasons,
  };
}
