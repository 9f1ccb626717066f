/** Words in plain ASCII: readers differ in how they take anything else. */
export const ascii = (words: string): string =>
  words
    .replaceAll('±', '+/-')
    .normalize('NFKD')
    .replace(/[\u0300-\u036f]/g, '')
    .replace(/[^\x20-\x7e]/g, '?');

const ZEROS = ['', '0', '00', '000', '0000', '00000'] as const;

/**
 * A figure as files hold it: to a millionth, without an exponent or a negative zero. A file has them by the hundred thousand:
 * whole numbers become text several times as fast as fractions do.
 */
export function figure(v: number): string {
  const millionths = Math.abs(Math.round(v * 1e6));
  // Beyond fifteen digits, and for what is no number, as the language writes it.
  if (!(millionths < 1e15)) return String(Math.round(v * 1e6) / 1e6);
  const whole = Math.floor(millionths / 1e6);
  let rest = millionths - whole * 1e6;
  const sign = v < 0 && millionths > 0 ? '-' : '';
  if (rest === 0) return `${sign}${whole}`;
  let digits = 6;
  while (rest % 10 === 0) {
    rest /= 10;
    digits--;
  }
  const decimals = String(rest);
  return `${sign}${whole}.${ZEROS[digits - decimals.length]}${decimals}`;
}

/** A line through points as the operators of PDF and PostScript have it, `m` for the first and `l` for the others. */
export const trail = (points: readonly { readonly x: number; readonly y: number }[]): string =>
  points.map(({ x, y }, k) => `${figure(x)} ${figure(y)} ${k === 0 ? 'm' : 'l'}`).join('\n');
