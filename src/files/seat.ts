import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex, utf8ToBytes } from '@noble/hashes/utils.js';
import { NEW_ARTWORK } from '../artwork/artwork.ts';
import { Refusal } from '../base/reason.ts';
import type { SeatSheet } from '../seat/seat.ts';
import type { Drawing } from './drawing.ts';
import { dxf } from './dxf.ts';
import { pdf } from './pdf.ts';
import { packageOf, type Packed } from './package.ts';
import type { Pdfjs } from './pdfjs.ts';
import { printPdf, type PrintPlan } from './print-pdf.ts';
import { provePrint } from './print-see.ts';
import { prove, seeDxf, seePdf, seeSvg, type Proof } from './read-back.ts';
import { proveSolid, stl, threeMf } from './solid.ts';
import { FILE_SETTINGS, type FileSettings } from './settings.ts';
import { svg } from './svg.ts';

export interface SeatFile extends Packed {
  readonly mime: string;
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
    [`${base}.dxf`, 'image/vnd.dxf', 'cutter', dxf(drawing, settings), seeDxf],
    [`${base}.svg`, 'image/svg+xml', 'cutter, drawing program', svg(drawing, settings), seeSvg],
    [
      `${base}.pdf`,
      'application/pdf',
      'printer, workshop',
      await pdf(drawing, settings),
      (bytes: Uint8Array, name: string) => seePdf(pdfjs, bytes, name),
    ],
  ] as const;
  const files: SeatFile[] = [];
  const purpose = `${sheet.name}, ${sheet.widthMm.toFixed(1)} x ${sheet.depthMm.toFixed(1)} mm at 100 %`;
  for (const [name, mime, taker, bytes, see] of made) {
    const proof = prove(name, drawing, await see(bytes, name));
    files.push({ name, mime, purpose, taker, bytes, proof });
  }
  if (sheet.print) files.push(await inkFile(sheet, sheet.print, drawing, base, pdfjs));
  if (sheet.solid)
    for (const [kind, mime, bytes] of [
      ['stl', 'model/stl', stl(sheet.solid, drawing.title)],
      ['3mf', 'model/3mf', threeMf(sheet.solid, drawing.title)],
    ] as const) {
      const name = `${base}.${kind}`;
      const proof = proveSolid(name, bytes, sheet.solid);
      const of = { purpose: `${sheet.name}: its body, in mm`, taker: '3-D printer, mill' };
      files.push({ name, mime, ...of, bytes, proof });
    }
  for (const part of parts) files.push(...(await seatFiles(part, job, pdfjs, settings)));
  return files;
}

/** What is printed of a seat, as the print file of its page. */
async function inkFile(
  sheet: SeatSheet,
  { ink, areas }: NonNullable<SeatSheet['print']>,
  { jobNumber, digest, title }: Drawing,
  base: string,
  pdfjs: Pdfjs,
): Promise<SeatFile> {
  const plan: PrintPlan = {
    widthMm: sheet.widthMm,
    heightMm: sheet.depthMm,
    digest,
    loads: [{ pockets: [], inks: [{ ink, before: false, areas }] }],
  };
  const settings = { ...NEW_ARTWORK, inks: [ink] };
  const of = { jobNumber, jobName: title, digest };
  const bytes = await printPdf(of, plan, { arts: [], fonts: [], settings });
  const name = `${base}-print.pdf`;
  return {
    name,
    mime: 'application/pdf',
    purpose: `${sheet.name}: separation ${ink.name}. ${sheet.notes[0] ?? ''}`,
    taker: 'printer',
    bytes,
    proof: await provePrint(name, plan, [], bytes, pdfjs),
  };
}

/** The files of a seat in one. */
export const seatPackage = (
  sheet: SeatSheet,
  job: { readonly number: string; readonly name: string },
  files: readonly SeatFile[],
): Uint8Array =>
  packageOf(
    {
      jobNumber: job.number,
      jobName: `${job.name}, ${sheet.name}`,
      digest: seatDrawing(sheet, job).digest,
    },
    files,
    'Every page has its own size, at 100 %, in millimetres. Do not scale or crop them.',
  );
