import { Refusal } from '../base/reason.ts';

/** A printed span may be this far off before it is taken for a misreading or a page that was fitted. Common practice, no source. */
const SPAN_LIMIT = 0.03;

/**
 * A measured span.
 * @param nominalMm as designed
 * @throws Refusal `span-far-off` beyond 3 % of the design
 */
export function acceptSpan(id: string, valueMm: number, nominalMm: number): number {
  const off = valueMm / nominalMm - 1;
  if (!(Math.abs(off) <= SPAN_LIMIT)) {
    throw new Refusal('span-far-off', {
      id,
      valueMm: round(valueMm),
      nominalMm: round(nominalMm),
      percent: Math.abs(off * 100).toFixed(1),
    });
  }
  return valueMm;
}

const round = (value: number): number => Number(value.toFixed(2));
