/** Words in plain ASCII: readers differ in how they take anything else. */
export const ascii = (words: string): string =>
  words
    .replaceAll('±', '+/-')
    .normalize('NFKD')
    .replace(/[\u0300-\u036f]/g, '')
    .replace(/[^\x20-\x7e]/g, '?');

/** A figure as files hold it: to a millionth, without an exponent or a negative zero. */
export const figure = (v: number): string => String(Math.round(v * 1e6) / 1e6 + 0);
