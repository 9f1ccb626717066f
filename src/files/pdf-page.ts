import {
  PDFDict,
  PDFDocument,
  PDFName,
  PDFString,
  type PDFContext,
  type PDFPage,
  type PDFRawStream,
  type PDFRef,
} from '@cantoo/pdf-lib';
import { strToU8, zlibSync } from 'fflate';
import { MM_PER_POINT } from '../base/measure.ts';

/** The same plan is the same file, byte for byte. */
const FIXED_DATE = new Date('2000-01-01T00:00:00Z');

/** One `cm` with this scales points to millimetres, so that the coordinates in the file are millimetres. */
export const POINTS_PER_MM = String(1 / MM_PER_POINT);

/** An empty PDF that says what it is of, and no day or place. */
export async function newPdf(words: {
  readonly title: string;
  readonly subject: string;
  readonly jobNumber: string;
  readonly digest: string;
}): Promise<PDFDocument> {
  const doc = await PDFDocument.create();
  doc.setTitle(words.title);
  doc.setSubject(words.subject);
  doc.setKeywords([`job ${words.jobNumber}`, `digest ${words.digest}`]);
  doc.setCreator('Snugline');
  doc.setProducer('Snugline');
  doc.setCreationDate(FIXED_DATE);
  doc.setModificationDate(FIXED_DATE);
  doc.catalog.set(PDFName.of('ViewerPreferences'), doc.context.obj({ PrintScaling: 'None' }));
  return doc;
}

/** A page of this size, mm; media, bleed and trim box alike. */
export function addPage(doc: PDFDocument, widthMm: number, heightMm: number): PDFPage {
  const size: [number, number] = [widthMm / MM_PER_POINT, heightMm / MM_PER_POINT];
  const page = doc.addPage(size);
  page.setBleedBox(0, 0, ...size);
  page.setTrimBox(0, 0, ...size);
  return page;
}

/** An entry of a page's resources, made where it is not there. */
export function resource(page: PDFPage, name: string): PDFDict {
  const { Resources } = page.node.normalizedEntries();
  const key = PDFName.of(name);
  const there = Resources.lookupMaybe(key, PDFDict);
  if (there) return there;
  const made = page.doc.context.obj({}) as PDFDict;
  Resources.set(key, made);
  return made;
}

/** A layer (optional content group) by its name. */
export const layerGroup = (doc: PDFDocument, name: string): PDFRef =>
  doc.context.register(doc.context.obj({ Type: 'OCG', Name: PDFString.of(name) }));

/**
 * How hard lines of figures are compressed: the first level makes as few bytes of them as the sixth, in half the time (measured on
 * cut files and templates).
 */
export const FIGURES_LEVEL = 1;

/** Operators as a compressed stream. */
export const operatorStream = (
  context: PDFContext,
  lines: readonly string[],
  dict: Parameters<PDFContext['stream']>[1] = {},
): PDFRawStream =>
  context.stream(zlibSync(strToU8(lines.join('\n'), true), { level: FIGURES_LEVEL }), {
    ...dict,
    Filter: 'FlateDecode',
  });

/** Puts the content of a page into it, compressed. */
export function setContent(page: PDFPage, lines: readonly string[]): void {
  const { context } = page.doc;
  page.node.set(PDFName.Contents, context.register(operatorStream(context, lines)));
}
