import { readFile } from 'node:fs/promises';
import { basename } from 'node:path';
import { Refusal, type Reason } from '../base/reason.ts';
import { outlineJson } from '../files/outline-json.ts';
import type { Trace } from '../outline/outline.ts';
import { readPictureAt } from '../picture/decode-node.ts';
import type { Picture } from '../picture/picture.ts';
import { whyUnread } from './place.ts';
import {
  missingPicture,
  traceAlone,
  traceFiles,
  type PictureFile,
  type Traced,
  type TraceOptions,
} from './trace.ts';

/** What came of pictures of the same blanks, as plain data that a thread can hand over. */
export interface Measured {
  /** The file of outlines. */
  readonly json: Uint8Array;
  readonly verdict: Trace['verdict'];
  readonly reasons: readonly Reason[];
  readonly blanks: number;
  /** The greatest U (k = 2) along any edge, mm; absent without an outline. */
  readonly greatestU?: number;
}

/** Reads and traces them, with `pieces` as further pictures of pieces of one kind; a file that cannot be read is a refusal like any other. */
export async function traceOf(
  paths: readonly string[],
  options: TraceOptions,
  pieces: readonly string[] = [],
): Promise<Traced> {
  const alone = paths.length === 1 ? paths[0] : undefined;
  const files: PictureFile[] = [];
  for (const path of alone === undefined ? [...paths, ...pieces] : pieces) {
    try {
      files.push({ name: basename(path), bytes: await readFile(path) });
    } catch (error) {
      return { trace: missingPicture(path, whyUnread(error)), timings: {} };
    }
  }
  const piecesIn = files.splice(files.length - pieces.length);
  const settings = { ...options, ...(piecesIn.length > 0 && { piecesIn }) };
  if (alone === undefined) return traceFiles(files, settings);
  return traceAlone(() => pictureAt(alone), settings);
}

/** @throws Refusal as `readPictureAt` does, `picture-unreadable` */
export const pictureAt = (path: string): Promise<Picture> =>
  readPictureAt(path).catch((error: unknown) => {
    if (!(error instanceof Error && 'syscall' in error)) throw error;
    throw new Refusal('picture-unreadable', { name: path, why: whyUnread(error) });
  });

/** The same as plain data. */
export async function measured(
  paths: readonly string[],
  options: TraceOptions,
  pieces: readonly string[] = [],
): Promise<Measured> {
  const { trace, view } = await traceOf(paths, options, pieces);
  return { json: outlineJson(trace, view), ...told(trace) };
}

function told({ verdict, reasons, outlines }: Trace): Omit<Measured, 'json'> {
  const all = outlines.flatMap((o) => o.u.map((ring) => 2 * Math.max(...ring)));
  return {
    verdict,
    reasons,
    blanks: new Set(outlines.map((o) => o.blank)).size,
    ...(all.length > 0 && { greatestU: Math.max(...all) }),
  };
}
