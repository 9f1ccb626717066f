import { mm, MM_PER_INCH, type Mm } from './measure.ts';
import { Refusal } from './reason.ts';

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
 * A bare number is millimetres; a bare fraction is inches, since no metric rule is divided that way.
 * A comma is a decimal comma; a number with both comma and point is ambiguous and refused.
 *
 * @returns millimetres, >= 0
 * @throws Refusal `length-unread`
 */
export function parseLength(text: string): Mm {
  const words = text.trim();
  const refuse = (): Refusal => new Refusal('length-unread', { text: words.slice(0, 40) });

  const decimal = DECIMAL.exec(words);
  if (decimal) {
    const factor = decimal[2] === '' ? 1 : UNITS[decimal[2]!.toLowerCase()];
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
