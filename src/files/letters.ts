/** Letters that are not one of the alphabet with a mark, and signs: what stands for them in plain letters. */
const PLAIN: Readonly<Record<string, string>> = {
  ...{ Ł: 'L', ł: 'l', Đ: 'D', đ: 'd', Ð: 'D', ð: 'd', Ø: 'O', ø: 'o', Ħ: 'H', ħ: 'h', ı: 'i' },
  ...{ Æ: 'AE', æ: 'ae', Œ: 'OE', œ: 'oe', ß: 'ss', ẞ: 'SS', Þ: 'Th', þ: 'th', Ŋ: 'N', ŋ: 'n' },
  ...{ '±': '+/-', '×': 'x', '≤': '<=', '≥': '>=', '−': '-', '–': '-', '—': '-', '·': '.' },
  ...{ '‘': "'", '’': "'", '‚': "'", '“': '"', '”': '"', '„': '"', '«': '"', '»': '"' },
};

/** One letter without its marks, or what is said instead; "?" where nothing is. */
const plain = (letter: string): string =>
  PLAIN[letter] ??
  letter
    .normalize('NFKD')
    .replace(/[\u0300-\u036f]/g, '')
    .replace(/[^\x20-\x7e]/g, (other) => PLAIN[other] ?? '?');

/** Words in plain ASCII: readers differ in how they take anything else. */
export const ascii = (words: string): string =>
  [...words.normalize('NFC')].map((c) => (/[\x20-\x7e]/.test(c) ? c : plain(c))).join('');

/** Words in the letters that the standard fonts of PDF have (ISO 32000-1, D.2, WinAnsiEncoding), others as in `ascii`. */
export const westEuropean = (words: string): string =>
  [...words.normalize('NFC')]
    .map((c) => (/[\x20-\x7e\xa1-\xff€‚ƒ„…†‡ˆ‰Š‹ŒŽ‘’“”•–—˜™š›œžŸ]/.test(c) ? c : plain(c)))
    .join('');

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
