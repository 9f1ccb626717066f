import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex } from '@noble/hashes/utils.js';
import { zipSync, type Zippable } from 'fflate';
import type { BedPlan } from '../plan/plan.ts';
import { ascii } from './letters.ts';
import { FIGURES_LEVEL } from './pdf-page.ts';

/** A file, and what the list says of it. */
export interface Packed {
  readonly name: string;
  readonly purpose: string;
  readonly taker: string;
  readonly bytes: Uint8Array;
  readonly proof?: { readonly greatestMm: number; readonly reader: string };
}

/** The same files are the same zip, byte for byte: every entry has the earliest date that the format can hold. */
const FIXED_DATE = '1980-01-01T00:00:00';

/** Letters that every file system takes. */
const safe = (words: string): string =>
  ascii(words)
    .replace(/[^A-Za-z0-9._-]+/g, '-')
    .replace(/^[-.]+|-+$/g, '') || 'job';

/**
 * All files in one zip, with a plain list of what they are: names begin with the job's number and a number of their own, so
 * that they sort in the order they are used.
 */
export function packageOf(
  { jobNumber, jobName, digest }: Pick<BedPlan, 'jobNumber' | 'jobName' | 'digest'>,
  files: readonly Packed[],
  pages = 'Every page of a drawing is the bed, at 100 %, in millimetres. Do not scale, move or crop it.',
): Uint8Array {
  const digits = String(files.length).length;
  const named = files.map((file, k) => ({
    ...file,
    as: `${safe(jobNumber)}-${String(k + 1).padStart(Math.max(2, digits), '0')}-${safe(file.name)}`,
  }));
  const list = [
    `Job ${ascii(jobNumber)}: ${ascii(jobName)}`,
    `Digest of the plan (SHA-256), the same in every file: ${digest}`,
    pages,
    '',
    ...named.flatMap(({ as, purpose, taker, bytes, proof }) => [
      as,
      `  what for: ${ascii(purpose)}`,
      `  for whom: ${ascii(taker)}`,
      `  ${bytes.length} bytes, SHA-256 ${bytesToHex(sha256(bytes))}`,
      proof
        ? `  read back by ${proof.reader === 'own' ? 'our own reader' : proof.reader}: greatest difference from the plan ${proof.greatestMm < 5e-5 ? 'below 0.0001' : proof.greatestMm.toFixed(4)} mm`
        : '  words and figures',
      '',
    ]),
  ];
  const entries: Zippable = Object.fromEntries([
    [
      `${safe(jobNumber)}-00-list.txt`,
      [new TextEncoder().encode(list.join('\r\n')), { mtime: FIXED_DATE }],
    ],
    ...named.map(({ as, bytes }) => [as, [bytes, { mtime: FIXED_DATE }]]),
  ]) as Zippable;
  return zipSync(entries, { level: FIGURES_LEVEL });
}
