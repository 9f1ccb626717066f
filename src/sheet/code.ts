import { Refusal } from '../base/reason.ts';
import type { RiderDesign, SheetDesign, StageTone } from './design.ts';
import { layout } from './layout.ts';

/**
 * The code field: one bit per cell of an endless grid, the same for ever (pattern version 1).
 * Checks of every sheet and rider are cut-outs of it; where a cut-out lies says what it is.
 * Source of the mixer: a published public-domain 32-bit integer hash with the two constants below (from memory).
 */
export function fieldBit(i: number, j: number): 0 | 1 {
  let x = (1024 * i + j) >>> 0;
  x = Math.imul(x ^ (x >>> 16), 0x7feb352d) >>> 0;
  x = Math.imul(x ^ (x >>> 15), 0x846ca68b) >>> 0;
  x = (x ^ (x >>> 16)) >>> 0;
  return (x >>> 31) as 0 | 1;
}

/** Cells with i + j even are black. */
export const isBlack = (i: number, j: number): boolean => ((i + j) & 1) === 0;

const FIELDS: readonly (readonly [name: string, bits: number])[] = [
  ['version', 3],
  ['tone', 3],
  ['width', 14],
  ['height', 14],
  ['pitch', 5],
];
const PAYLOAD_BITS = FIELDS.reduce((sum, [, bits]) => sum + bits, 0);
/** Length of the message that the white checks repeat: 39 bits and a CRC-16. */
export const MESSAGE_BITS = PAYLOAD_BITS + 16;
/** White cell (i, j) carries bit (i + ROW_STEP·j) mod MESSAGE_BITS; chosen so that every half of a border holds every bit. */
export const ROW_STEP = 53;
const TONES: readonly StageTone[] = ['white', 'grey', 'black', 'hue'];

/** CRC-16 with polynomial 0x1021, start 0xFFFF, most significant bit first (CCITT-FALSE; check value of "123456789" 0x29B1). */
export function crc16(bits: readonly number[]): number {
  let crc = 0xffff;
  for (const bit of bits) {
    const top = ((crc >> 15) & 1) ^ bit;
    crc = (crc << 1) & 0xffff;
    if (top) crc ^= 0x1021;
  }
  return crc;
}

const toBits = (value: number, count: number): number[] =>
  Array.from({ length: count }, (_, k) => Math.floor(value / 2 ** (count - 1 - k)) % 2);

/** The message of a sheet: version, tone, width and height in 0.1 mm, pitch in 0.5 mm, CRC-16. */
export function messageOf(sheet: SheetDesign): number[] {
  const values = [
    sheet.version,
    TONES.indexOf(sheet.tone),
    Math.round(sheet.widthMm * 10),
    Math.round(sheet.heightMm * 10),
    Math.round(sheet.pitchMm * 2),
  ];
  const payload = FIELDS.flatMap(([, bits], k) => toBits(values[k]!, bits));
  return [...payload, ...toBits(crc16(payload), 16)];
}

/** The sheet a message names, or undefined when its CRC is wrong or it names no sheet that we ever printed. */
export function sheetOfMessage(message: readonly number[]): SheetDesign | undefined {
  const payload = message.slice(0, PAYLOAD_BITS);
  const value = (bits: readonly number[]): number => bits.reduce((sum, bit) => sum * 2 + bit, 0);
  if (crc16(payload) !== value(message.slice(PAYLOAD_BITS))) return undefined;
  const values: number[] = [];
  let at = 0;
  for (const [, bits] of FIELDS) values.push(value(payload.slice(at, (at += bits))));
  const [version, toneIndex, width, height, pitch] = values as [
    number,
    number,
    number,
    number,
    number,
  ];
  const tone = TONES[toneIndex];
  if (version !== 1 || !tone) return undefined;
  try {
    const sheet = layout(width / 10, height / 10, tone);
    return Math.round(sheet.pitchMm * 2) === pitch ? sheet : undefined;
  } catch (error) {
    if (error instanceof Refusal) return undefined;
    throw error;
  }
}

/** Whether the sheet prints a check (dotted or not) in a cell: inside the border and not left out. */
export function hasCheck(sheet: SheetDesign, i: number, j: number): boolean {
  const { columns, rows, bandCells } = sheet;
  if (i < 0 || j < 0 || i >= columns || j >= rows) return false;
  if (Math.min(i, j, columns - 1 - i, rows - 1 - j) >= bandCells) return false;
  return !sheet.voids.some((v) => i >= v.i0 && i < v.i1 && j >= v.j0 && j < v.j1);
}

/** Whether the check in a cell carries a dot of the opposite tone. */
export function hasDot(message: readonly number[], i: number, j: number): boolean {
  return (isBlack(i, j) ? fieldBit(i, j) : message[(i + ROW_STEP * j) % MESSAGE_BITS]) === 1;
}

/** Tells of any cell of a design whether its check carries a dot. */
export function dotsOf(sheet: SheetDesign): (i: number, j: number) => boolean {
  const { field } = sheet;
  if (field) return (i, j) => fieldBit(field.i + i, field.j + j) === 1;
  const message = messageOf(sheet);
  return (i, j) => hasDot(message, i, j);
}

/** Whether a rider's check carries a dot; both colours carry the field's bits. */
export const riderHasDot = (rider: RiderDesign, i: number, j: number): boolean =>
  fieldBit(rider.fieldI + i, rider.fieldJ + j) === 1;

/** Side of the dot as a share of the pitch: leaves 0.3 of it clear at the corners (findings: 0.4 reads best under blur). */
export const DOT_SHARE = 0.4;
