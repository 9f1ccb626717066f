import { mm, MM_PER_INCH, type Mm } from './measure.ts';
import { Refusal } from './reason.ts';

/** What lengths are shown in, and what a bare number is taken for. */
export type LengthUnit = 'mm' | 'in';

const UNITS: Readonly<Record<string, number>> = {
  mm: 1,
  millimetre: 1,
  millimetres: 1,
  cm: 10,
  in: MM_PER_INCH,
  inch: MM_PER_INCH,
  inches: MM_PER_INCH,
  '"': MM_PER_INCH,
  '″': MM_PER_INCH,
};

const DECIMAL = /^(\d+(?:[.,]\d*)?|[.,]\d+)\s*([a-z"″]*)$/i;
const FRACTION = /^(?:(\d+)(?:\s+|\s*-\s*))?(\d+)\s*\/\s*(\d+)\s*([a-z"″]*)$/i;

/**
 * Reads a length as people type it: "85.6", "12,5", "12.5 mm", "8.56 cm", "3.37in", "1/2in", "3 3/8".
 * A bare number is in `bare`; a bare fraction is inches, since no metric rule is divided that way.
 * A comma is a decimal comma; a number with both comma and point is ambiguous and refused.
 *
 * @returns millimetres, >= 0
 * @throws Refusal `length-unread`
 */
export function parseLength(text: string, bare: LengthUnit = 'mm'): Mm {
  const words = text.trim();
  const refuse = (): Refusal => new Refusal('length-unread', { text: words.slice(0, 40) });

  const decimal = DECIMAL.exec(words);
  if (decimal) {
    const factor = decimal[2] === '' ? UNITS[bare] : UNITS[decimal[2]!.toLowerCase()];
    if (factor === undefined) throw refuse();
    return mm(Number(decimal[1]!.replace(',', '.')) * factor);
  }
  const fraction = FRACTION.exec(words);
  if (fraction) {
    const factor = fraction[4] === '' ? MM_PER_INCH : UNITS[fraction[4]!.toLowerCase()];
    const [whole, over, under] = [fraction[1] ?? 0, fraction[2], fraction[3]].map(Number);
    if (factor === undefined || under === 0) throw refuse();
    return mm((whole! + over! / under!) * factor);
  }
  throw refuse();
}

const NUMBER = String.raw`(?<![\w.])[-\u2212]?\d+(?:\.\d+)?`;
const BETWEEN = String.raw`(?:,? (?:x|×|to|and|or|by|±) | ?± ?| × |, )`;
const LENGTHS = new RegExp(
  `${NUMBER}(?:${BETWEEN}${NUMBER})*(?= ?(?:mm²|cm²|mm(?![\\w²])))( ?)(mm²|cm²|mm)(/s)?`,
  'g',
);
/** Printed marks and lenses are named by millimetres everywhere. */
const NAMES = /^ (?:rider|focal length|equivalent|film|lens)/;

/**
 * A sentence whose lengths and areas, written in mm, mm², cm² or mm/s behind their figures ("36.2 x 50.1 mm", "3 to 5 mm",
 * "± 0.09 mm"), are said in `unit`. Inches get two decimals more than the mm figure has, areas in in² as many as it has.
 */
export function lengthsIn(text: string, unit: LengthUnit): string {
  if (unit === 'mm') return text;
  return text.replace(LENGTHS, (...found: (string | number | undefined)[]) => {
    const [all, gap, of, per = ''] = found as [string, string, string, string?];
    const after = text.slice((found[4] as number) + all.length);
    if (NAMES.test(after) || /\blens of $/.test(text.slice(0, found[4] as number))) return all;
    const figures = all.slice(0, all.length - per.length - of.length - gap.length);
    const mmPer = of === 'mm' ? MM_PER_INCH : MM_PER_INCH ** 2 / (of === 'cm²' ? 100 : 1);
    const inches = figures.replace(/\d+(?:\.(\d+))?/g, (n, decimals: string = '') =>
      (Number(n) / mmPer).toFixed(decimals.length + (of === 'cm²' ? 1 : 2)),
    );
    return `${inches}${gap}${of === 'mm' ? 'in' : 'in²'}${per}`;
  });
}
