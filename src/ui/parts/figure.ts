/** Decimals that an expanded uncertainty allows. */
const decimals = (u: number): number => (u < 0.0095 ? 3 : u < 0.95 ? 2 : 1);

/** A length in mm with as many digits as its expanded uncertainty (k = 2) allows. */
export const figure = (valueMm: number, u: number): string => valueMm.toFixed(decimals(u));

/** "± 0.09" */
export const plusMinus = (u: number): string => `± ${u.toFixed(decimals(u))}`;

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
