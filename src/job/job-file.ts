import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex } from '@noble/hashes/utils.js';
import { inflateSync, strFromU8, strToU8, unzipSync, zipSync } from 'fflate';
import { fontsOf } from '../artwork/run.ts';
import { reason, Refusal, type Reason } from '../base/reason.ts';
import { filesOfBoard } from './boards.ts';
import { writeJob, type Job, type PictureReference } from './job.ts';
import { salvageJob } from './salvage.ts';

/** A picture of a job with its bytes. */
export interface JobPicture {
  readonly name: string;
  /** SHA-256 of the bytes, hexadecimal. */
  readonly digest: string;
  readonly bytes: Uint8Array;
}

/** What was read of a job file. */
export interface JobFile {
  readonly job: Job;
  /** Those of the job's pictures that are in the file, byte for byte as they were saved. */
  readonly pictures: readonly JobPicture[];
  /** What is wrong with the file, and what of it was lost. */
  readonly reasons: readonly Reason[];
}

const JOB = 'job.json';
/** Digests of the other files, as `sha256sum --check` reads them. */
const SUMS = 'SHA256SUMS';
const READ_ME = `A job of Snugline. ${JOB} holds all that was entered, in millimetres; "pictures" holds the
pictures as they came. Everything else is computed from these again. The program opens this
file as it is; ${SUMS} lets anyone find out whether something in it was changed:
sha256sum --check ${SUMS}
`;
/** ZIP keeps times in steps of two seconds from 1980 on; the same job makes the same file. */
const DAY = new Date(1980, 0, 1);
/** More than any job holds, less than would exhaust the page. */
const LARGEST_PART = 600e6;

const digestOf = (bytes: Uint8Array): string => bytesToHex(sha256(bytes));
/** Files that the artwork of a job is made of, of both sides, fonts of a personalised run included. */
export const artFilesOf = ({ artwork }: Pick<Job, 'artwork'>): readonly PictureReference[] => [
  ...(artwork?.files ?? []),
  ...(artwork?.back?.files ?? []),
  ...fontsOf(artwork?.run?.lines),
  ...fontsOf(artwork?.back?.lines),
];

/** Every file that a job names: its pictures, the artwork, and what belongs to its boards. */
export const filesOf = (job: Job): readonly PictureReference[] => [
  ...(job.picture ? [job.picture] : []),
  ...job.more,
  ...(job.pieces ?? []),
  ...artFilesOf(job),
  ...(job.boards ?? []).flatMap(filesOfBoard),
  ...(job.loose?.pictures ?? []),
];

/** Safe in any file system; the place keeps names apart. */
const placeOf = (name: string, k: number): string =>
  `pictures/${k + 1}-${name.replace(/[^\w.-]+/g, '_').slice(-80)}`;

/**
 * A job with its pictures as one file: a ZIP in which nothing is compressed, so that damage stays where it is. The text is
 * usually `writeJob` of the job; a job that cannot be read is kept by its own text.
 */
export function writeJobFile(job: Job | string, pictures: readonly JobPicture[]): Uint8Array {
  const text = typeof job === 'string' ? job : writeJob(job);
  const parts: Record<string, Uint8Array> = { [JOB]: strToU8(text) };
  pictures.forEach(({ name, bytes }, k) => (parts[placeOf(name, k)] = bytes));
  const sums = Object.entries(parts).map(([name, bytes]) => `${digestOf(bytes)}  ${name}\n`);
  return zipSync(
    { 'README.txt': strToU8(READ_ME), [SUMS]: strToU8(sums.join('')), ...parts },
    { level: 0, mtime: DAY },
  );
}

/** Whether the bytes begin as a ZIP does (APPNOTE.TXT 6.3.10, 4.3.7). */
export const isZip = (bytes: Uint8Array): boolean =>
  bytes[0] === 0x50 && bytes[1] === 0x4b && bytes[2] === 3 && bytes[3] === 4;

/**
 * Reads a job file of any version, the text of a job alone included. What is damaged is read as far as it can be.
 * @throws Refusal `job-file` when no job can be found in it, `job-version` when a newer program wrote it
 */
export function readJobFile(file: Uint8Array): JobFile {
  if (!isZip(file)) {
    const { job, lost } = salvageJob(new TextDecoder().decode(file));
    const whole = lost.length === 0;
    return {
      job,
      pictures: [],
      reasons: whole ? [] : [reason('job-file-damaged', { what: 'not all of it can be read' })],
    };
  }
  const { parts, torn } = partsOf(file);
  const wrong: string[] = [];
  if (torn) wrong.push('it is cut off, or its table of contents is');

  const sums = new Map<string, string>();
  for (const { bytes } of parts.filter((p) => p.name === SUMS))
    for (const line of strFromU8(bytes).split('\n')) {
      const [, digest, name] = /^([0-9a-f]{64}) [ *](.+)$/.exec(line) ?? [];
      if (digest && name) sums.set(name, digest);
    }
  const texts = parts.filter((p) => p.name === JOB || p.name.endsWith(`/${JOB}`));
  if (texts.length === 0) throw new Refusal('job-file', { what: `it holds no ${JOB}` });
  const sound = texts.find((t) => sums.get(JOB) === digestOf(t.bytes));
  const { job, lost } = salvageJob(new TextDecoder().decode((sound ?? texts[0]!).bytes));
  if (!sound)
    wrong.push(
      sums.has(JOB)
        ? 'what was entered is not as it was saved'
        : 'nothing tells whether it is whole',
    );
  // A figure in it may be another now and still be a figure.
  const shut = sound || lost.length > 0 ? job : { ...job, lost: ['any figure may be another'] };

  const found = new Map(
    parts
      .filter((p) => p.name.includes('pictures/'))
      .map((p) => [digestOf(p.bytes), p.bytes] as const),
  );
  const pictures: JobPicture[] = [];
  for (const { name, digest } of filesOf(job)) {
    const bytes = found.get(digest);
    if (bytes) pictures.push({ name, digest, bytes });
    else wrong.push(`the picture "${name}" is missing or not as it was`);
  }
  return {
    job: shut,
    pictures,
    reasons: wrong.length > 0 ? [reason('job-file-damaged', { what: wrong.join('; ') })] : [],
  };
}

interface Part {
  readonly name: string;
  readonly bytes: Uint8Array;
}

/** The parts by the table of contents; where that is torn, by the headers before each part. */
function partsOf(file: Uint8Array): { readonly parts: readonly Part[]; readonly torn: boolean } {
  const scanned = scan(file);
  try {
    const listed = unzipSync(file, { filter: (f) => f.originalSize <= LARGEST_PART });
    const parts = Object.entries(listed).map(([name, bytes]) => ({ name, bytes }));
    return { parts: [...parts, ...scanned], torn: false };
  } catch {
    return { parts: scanned, torn: true };
  }
}

/** Local file headers (APPNOTE.TXT 6.3.10, 4.3.7) wherever they stand; a part that is cut off is left out. */
function scan(file: Uint8Array): readonly Part[] {
  const view = new DataView(file.buffer, file.byteOffset, file.byteLength);
  const parts: Part[] = [];
  for (let at = 0; at + 30 <= file.length; at++) {
    if (file[at] !== 0x50 || view.getUint32(at, true) !== 0x04034b50) continue;
    const method = view.getUint16(at + 8, true);
    const size = view.getUint32(at + 18, true);
    const nameLength = view.getUint16(at + 26, true);
    const from = at + 30 + nameLength + view.getUint16(at + 28, true);
    const name = strFromU8(file.subarray(at + 30, at + 30 + nameLength));
    // The text of the job is worth having though it ends early.
    const to = Math.min(from + size, file.length);
    if (to < from + size && name !== JOB) continue;
    const raw = file.subarray(from, to);
    try {
      if (method === 0) parts.push({ name, bytes: raw });
      else if (method === 8) parts.push({ name, bytes: inflateSync(raw) });
    } catch {
      continue;
    }
    at = to - 1;
  }
  return parts;
}
