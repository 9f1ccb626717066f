import { Refusal } from '../base/reason.ts';

/** A printed span may be this far off before it is taken for a misreading or a page that was fitted. Common practice, no source. */
const SPAN_LIMIT = 0.03;
const THICKEST_MM = 200;

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

/** @throws Refusal `thickness-zero`, `thickness-too-large` */
export function acceptThickness(valueMm: number): number {
  if (!(valueMm > 0)) throw new Refusal('thickness-zero', { valueMm: round(valueMm) });
  if (valueMm > THICKEST_MM)
    throw new Refusal('thickness-too-large', { valueMm: round(valueMm), greatestMm: THICKEST_MM });
  return valueMm;
}

/** @throws Refusal `entry-out-of-range` */
export function acceptBetween(
  what: string,
  value: number,
  least: number,
  greatest: number,
): number {
  if (!(value >= least && value <= greatest))
    throw new Refusal('entry-out-of-range', { what, value: round(value), least, greatest });
  return value;
}

const round = (v: number): number => Math.round(v * 100) / 100;
