import { lengthsIn } from '../../base/length.ts';
import { MM_PER_INCH } from '../../base/measure.ts';
import { units } from './units.svelte.ts';

/** Lengths come in mm and are shown in the unit chosen: an inch figure has two decimals more than its mm figure. */
const inch = (): boolean => units.shown === 'in';
const shownOf = (lengthMm: number): number => (inch() ? lengthMm / MM_PER_INCH : lengthMm);
const placesOf = (places: number): number => (inch() ? places + 2 : places);

/** "mm" or "in". */
export const unit = (): string => units.shown;

/** A sentence with every length in it in the unit chosen. */
export const told = (text: string): string => lengthsIn(text, units.shown);

/** Decimals of mm that an expanded uncertainty allows. */
const decimals = (uMm: number): number => (uMm < 0.0095 ? 3 : uMm < 0.95 ? 2 : 1);

/** A length with as many digits as its expanded uncertainty (k = 2) allows. */
export const figure = (valueMm: number, uMm: number): string => fixedMm(valueMm, decimals(uMm));

/** "± 0.09" */
export const plusMinus = (uMm: number): string => `± ${fixedMm(uMm, decimals(uMm))}`;

/** A length to so many decimals of mm. */
export const fixedMm = (valueMm: number, places: number): string =>
  shownOf(valueMm).toFixed(placesOf(places));

/** A length as typed: at most `places` decimals of mm, or four of an inch, no trailing zeros beyond `least`. */
export const plainMm = (valueMm: number, places = 3, least = 0): string =>
  plain(shownOf(valueMm), Math.min(placesOf(places), inch() ? 4 : places), least);

/** A length with its sign. */
export const signedMm = (valueMm: number, places = 2): string =>
  signed(shownOf(valueMm), placesOf(places));

/** An area with its unit; `uMm2` is expanded. */
export function areaWords(areaMm2: number, uMm2: number): string {
  const [per, name] = inch() ? [MM_PER_INCH ** 2, 'in²'] : [100, 'cm²'];
  const places = Math.max(0, Math.min(4, 1 - Math.floor(Math.log10(uMm2 / per))));
  return `${(areaMm2 / per).toFixed(places)} ± ${(uMm2 / per).toFixed(places)} ${name}`;
}

/** A long way, in m or ft. */
export const wayWords = (lengthMm: number): string =>
  inch() ? `${(lengthMm / MM_PER_INCH / 12).toFixed(1)} ft` : `${(lengthMm / 1000).toFixed(2)} m`;

/** A number as typed: at most `places` decimals, no trailing zeros beyond `least`. */
export function plain(value: number, places = 3, least = 0): string {
  const text = value.toFixed(places);
  if (!text.includes('.')) return text;
  const trimmed = text.replace(/0+$/, '');
  const [whole, rest = ''] = trimmed.split('.') as [string, string?];
  const padded = rest.padEnd(least, '0');
  return padded === '' ? whole : `${whole}.${padded}`;
}

/** With its sign, a true minus; what rounds to nothing has none. */
export function signed(value: number, places = 2): string {
  const size = Math.abs(value).toFixed(places);
  return Number(size) === 0 ? size : `${value < 0 ? '\u2212' : '+'} ${size}`;
}

/** Thousands set apart by a thin gap. */
export const whole = (value: number): string =>
  String(Math.round(value)).replace(/\B(?=(\d{3})+$)/g, '\u202f');
