import { Refusal } from '../base/reason.ts';
import { densitiesOf, type ScannerProfile } from '../view/scan.ts';

export const SCANNER_FILE_VERSION = 1;
const FORMAT = 'Snugline scanner profile';

/** A scanner profile as JSON, with what a person would want to read in front. */
export function scannerJson(profile: ScannerProfile): Uint8Array {
  const { line, feed } = densitiesOf(profile.scanner);
  const value = {
    format: FORMAT,
    version: SCANNER_FILE_VERSION,
    unit: 'mm',
    dots_per_inch: { line: round(line, 4), feed: round(feed, 4) },
    ...profile,
  };
  return new TextEncoder().encode(`${JSON.stringify(value)}\n`);
}

const round = (v: number, digits: number): number => Number(v.toFixed(digits));

/**
 * Reads a scanner profile.
 *
 * @param name of the file, for the sentences
 * @throws Refusal `scanner-file-unread`
 */
export function readScannerJson(bytes: Uint8Array, name: string): ScannerProfile {
  const refuse = (what: string): Refusal =>
    new Refusal('scanner-file-unread', { file: name, what });
  let value: unknown;
  try {
    value = JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes));
  } catch {
    throw refuse('it is no JSON');
  }
  const file = value as Partial<ScannerProfile> & { format?: unknown; version?: unknown };
  if (typeof value !== 'object' || value === null || file.format !== FORMAT)
    throw refuse('it is no scanner profile');
  if (file.version !== SCANNER_FILE_VERSION)
    throw refuse(`its version is ${String(file.version)}, this program reads 1`);
  const { scanner, modes } = file;
  const numbers = (v: unknown, count: number): boolean =>
    Array.isArray(v) && v.length === count && v.every((n) => Number.isFinite(n));
  const coefficients: unknown = scanner?.feed?.coefficients;
  const whole =
    [file.widthPx, file.heightPx].every((v) => Number.isInteger(v) && v! > 0) &&
    [
      scanner?.pxMm,
      scanner?.lensPx,
      scanner?.feed?.lengthPx,
      scanner?.feed?.padPx,
      file.repeatMm,
    ].every((v) => Number.isFinite(v)) &&
    scanner!.pxMm > 0 &&
    numbers(scanner?.matrix, 4) &&
    numbers(scanner?.shiftMm, 2) &&
    numbers(scanner?.middlePx, 2) &&
    numbers(scanner?.feed?.direction, 2) &&
    Array.isArray(coefficients) &&
    numbers(coefficients, coefficients.length) &&
    Array.isArray(modes) &&
    modes.every((m) => typeof m?.source === 'string' && numbers(m.delta, 6 + coefficients.length));
  if (!whole) throw refuse('a figure in it is missing or is no number');
  return { ...(file as ScannerProfile), scanner: { ...scanner!, kind: 'scanner' } };
}
