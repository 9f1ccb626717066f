import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex, utf8ToBytes } from '@noble/hashes/utils.js';
import { Refusal } from '../base/reason.ts';
import type { SeatSheet } from '../seat/seat.ts';
import type { Drawing } from './drawing.ts';
import { dxf } from './dxf.ts';
import { pdf } from './pdf.ts';
import type { Pdfjs } from './pdfjs.ts';
import { prove, seeDxf, seePdf, seeSvg, type Proof } from './read-back.ts';
import { FILE_SETTINGS, type FileSettings } from './settings.ts';
import { svg } from './svg.ts';

export interface SeatFile {
  readonly name: string;
  readonly mime: string;
  readonly bytes: Uint8Array;
  readonly proof: Proof;
}

/** A seat as a drawing: its page is the seat's own, at 100 %. */
export const seatDrawing = (
  sheet: SeatSheet,
  job: { readonly number: string; readonly name: string },
): Drawing => {
  const digest = bytesToHex(sha256(utf8ToBytes(JSON.stringify([sheet.name, sheet.layers]))));
  return {
    title: `${job.number} ${job.name}: ${sheet.name}`,
    widthMm: sheet.widthMm,
    heightMm: sheet.depthMm,
    jobNumber: job.number,
    digest,
    notes: [
      ...sheet.notes,
      ...sheet.layers.map(({ name, what }) => `Layer ${name}: ${what}.`),
      ...sheet.reasons.map(({ message, remedy }) => `${message} ${remedy}`),
      `Digest ${digest}`,
    ],
    layers: sheet.layers.map(({ name, what, closed = [], open = [], words = [] }) => ({
      name,
      what,
      closed: closed.map((ring) => ({ ring })),
      open,
      lettering: words,
    })),
  };
};

/**
 * The files of a seat, each read back before it is handed out.
 *
 * @throws Refusal `release-shut` when the seat holds a reason that refuses
 * @throws Error when a file does not say what the drawing says
 */
export async function seatFiles(
  sheet: SeatSheet,
  job: { readonly number: string; readonly name: string },
  pdfjs: Pdfjs,
  settings: FileSettings = FILE_SETTINGS,
): Promise<SeatFile[]> {
  const { parts = [] } = sheet;
  const shut = sheet.reasons.find(({ level }) => level === 'refuse');
  if (shut) throw new Refusal('release-shut', { why: shut.message, remedy: shut.remedy });
  const drawing = seatDrawing(sheet, job);
  const base = sheet.name.replace(/\s+/g, '-');
  const made = [
    [`${base}.dxf`, 'image/vnd.dxf', dxf(drawing, settings), seeDxf],
    [`${base}.svg`, 'image/svg+xml', svg(drawing, settings), seeSvg],
    [
      `${base}.pdf`,
      'application/pdf',
      await pdf(drawing, settings),
      (bytes: Uint8Array, name: string) => seePdf(pdfjs, bytes, name),
    ],
  ] as const;
  const files: SeatFile[] = [];
  for (const [name, mime, bytes, see] of made)
    files.push({ name, mime, bytes, proof: prove(name, drawing, await see(bytes, name)) });
  for (const part of parts) files.push(...(await seatFiles(part, job, pdfjs, settings)));
  return files;
}
