import { Refusal } from '../base/reason.ts';

const THICKEST_MM = 200;

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
