import {
  decodePDFRawStream,
  PDFArray,
  PDFContentStream,
  PDFDict,
  PDFDocument,
  PDFName,
  PDFNumber,
  PDFObjectCopier,
  PDFRawStream,
  PDFRef,
  PDFStream,
  type PDFObject,
  type PDFPage,
} from '@cantoo/pdf-lib';
import type { ArtSheet } from '../artwork/artwork.ts';
import { MM_PER_POINT } from '../base/measure.ts';
import { Refusal } from '../base/reason.ts';
import { IDENTITY, times, type Affine } from '../geometry/affine.ts';
import { pageOfPicture, type DecodePixels } from './art-picture.ts';
import { pageOfSvg, type ResolveSvg } from './art-svg.ts';
import type { Pdfjs } from './pdfjs.ts';

/** What reading artwork needs of its surroundings. */
export interface ArtTools {
  readonly pdfjs: Pdfjs;
  readonly decode: DecodePixels;
  readonly resolveSvg: ResolveSvg;
}

/** An artwork file, made ready to be laid into another file: a PDF, whatever it came as. */
export interface Art {
  readonly sheets: readonly ArtSheet[];
  readonly pdf: Uint8Array;
}

/** More pages than any bed has pockets. */
const MOST_PAGES = 1000;

/**
 * Reads an artwork file. Vectors stay vectors; a picture becomes a page of its own size.
 *
 * @throws Refusal `artwork-kind`, `artwork-locked`, `artwork-damaged`, `artwork-pages`, `svg-cannot`, and as `inspect` does for
 *   pictures
 */
export async function readArt(bytes: Uint8Array, name: string, tools: ArtTools): Promise<Art> {
  const head = new TextDecoder('latin1').decode(bytes.subarray(0, 1024));
  if (head.includes('%PDF-')) return artOfPdf(bytes, name, 'PDF', tools.pdfjs);
  if (/<svg[\s>]|<!DOCTYPE svg|<\?xml/.test(head))
    return artOfPdf(await pageOfSvg(bytes, name, tools.resolveSvg), name, 'SVG', tools.pdfjs);
  const { pdf, kind } = await pageOfPicture(bytes, name, tools.decode);
  return artOfPdf(pdf, name, kind, tools.pdfjs);
}

async function open(bytes: Uint8Array, name: string): Promise<PDFDocument> {
  try {
    return await PDFDocument.load(bytes, { updateMetadata: false });
  } catch (error) {
    const why = error instanceof Error ? error.message.split('\n')[0]! : String(error);
    if (/encrypt|password/i.test(why)) throw new Refusal('artwork-locked', { file: name });
    throw new Refusal('artwork-damaged', { file: name, why });
  }
}

async function artOfPdf(
  bytes: Uint8Array,
  name: string,
  kind: ArtSheet['kind'],
  pdfjs: Pdfjs,
): Promise<Art> {
  const doc = await open(bytes, name);
  let pages: readonly PDFPage[];
  try {
    pages = doc.getPages();
  } catch (error) {
    throw new Refusal('artwork-damaged', { file: name, why: (error as Error).message });
  }
  if (pages.length === 0)
    throw new Refusal('artwork-damaged', { file: name, why: 'it has no page' });
  if (pages.length > MOST_PAGES)
    throw new Refusal('artwork-pages', { file: name, pages: pages.length, most: MOST_PAGES });
  const marks = await marksOf(pdfjs, bytes, name);
  const sheets = pages.map((page, k): ArtSheet => {
    const { trim, shown } = boxesOf(page);
    const toArt = artFromPage(page);
    const along = Math.hypot(toArt[0], toArt[1]);
    const corners = [
      [shown.left, shown.bottom],
      [shown.right, shown.top],
    ].map(([x, y]) => [
      toArt[0] * x! + toArt[2] * y! + toArt[4],
      toArt[1] * x! + toArt[3] * y! + toArt[5],
    ]);
    const [[x0, y0], [x1, y1]] = corners as [[number, number], [number, number]];
    const lying = Math.abs(toArt[0]) < along / 2;
    const [w, h] = [along * (trim.right - trim.left), along * (trim.top - trim.bottom)];
    const found = inventory(page);
    return {
      file: name,
      page: k + 1,
      pages: pages.length,
      kind,
      widthMm: lying ? h : w,
      heightMm: lying ? w : h,
      reach: {
        left: Math.min(x0, x1),
        right: Math.max(x0, x1),
        bottom: Math.min(y0, y1),
        top: Math.max(y0, y1),
      },
      ...marks[k],
      missingFonts: found.missingFonts,
      separations: found.separations,
      notes: found.notes,
    };
  });
  return { sheets, pdf: bytes };
}

interface Corners {
  readonly left: number;
  readonly bottom: number;
  readonly right: number;
  readonly top: number;
}

/** The page's trim, and its bleed as far as its media go, in its own units. */
export function boxesOf(page: PDFPage): { trim: Corners; shown: Corners } {
  const of = (box: { x: number; y: number; width: number; height: number }): Corners => ({
    left: Math.min(box.x, box.x + box.width),
    bottom: Math.min(box.y, box.y + box.height),
    right: Math.max(box.x, box.x + box.width),
    top: Math.max(box.y, box.y + box.height),
  });
  const within = (a: Corners, b: Corners): Corners => ({
    left: Math.max(a.left, b.left),
    bottom: Math.max(a.bottom, b.bottom),
    right: Math.min(a.right, b.right),
    top: Math.min(a.top, b.top),
  });
  const media = of(page.getMediaBox());
  const trim = within(of(page.getTrimBox()), media);
  const bleed = within(of(page.getBleedBox()), media);
  // A bleed box inside the trim is a mistake of whoever wrote it; the trim is shown at least.
  const shown: Corners = {
    left: Math.min(bleed.left, trim.left),
    bottom: Math.min(bleed.bottom, trim.bottom),
    right: Math.max(bleed.right, trim.right),
    top: Math.max(bleed.top, trim.top),
  };
  return { trim, shown };
}

/** From the page's own units to art mm: its trim's middle is the origin, turned as a viewer turns it. */
function artFromPage(page: PDFPage): Affine {
  const { trim } = boxesOf(page);
  const unit = page.node.lookupMaybe(PDFName.of('UserUnit'), PDFNumber)?.asNumber() ?? 1;
  const k = unit * MM_PER_POINT;
  const quarters = ((Math.round(page.getRotation().angle / 90) % 4) + 4) % 4;
  // Turned clockwise: (x, y) → (y, -x) for a quarter.
  const turn = [
    [1, 0, 0, 1],
    [0, -1, 1, 0],
    [-1, 0, 0, -1],
    [0, 1, -1, 0],
  ][quarters]!;
  return times(
    [k * turn[0]!, k * turn[1]!, k * turn[2]!, k * turn[3]!, 0, 0],
    [1, 0, 0, 1, -(trim.left + trim.right) / 2, -(trim.bottom + trim.top) / 2],
  );
}

const nameText = (name: PDFName): string => name.decodeText();

/** Fonts that are not embedded, separations and notes of a page, as far as its resources reach. */
function inventory(page: PDFPage): {
  missingFonts: string[];
  separations: string[];
  notes: number;
} {
  const missing = new Set<string>();
  const separations = new Set<string>();
  const seen = new Set<PDFObject>();
  const { context } = page.doc;
  const font = (dict: PDFDict): void => {
    if (dict.lookup(PDFName.of('Subtype')) === PDFName.of('Type3')) return;
    const [below] = dict.lookupMaybe(PDFName.of('DescendantFonts'), PDFArray)?.asArray() ?? [];
    const real = below ? context.lookup(below, PDFDict) : dict;
    const descriptor = real.lookupMaybe(PDFName.of('FontDescriptor'), PDFDict);
    const has = ['FontFile', 'FontFile2', 'FontFile3'].some((f) => descriptor?.has(PDFName.of(f)));
    const name = dict.lookupMaybe(PDFName.of('BaseFont'), PDFName);
    if (!has) missing.add(name ? nameText(name) : 'a font without a name');
  };
  const visit = (object: PDFObject | undefined, depth: number): void => {
    const found = object instanceof PDFRef ? context.lookup(object) : object;
    if (!found || seen.has(found) || depth > 24) return;
    seen.add(found);
    if (found instanceof PDFArray) {
      const [kind, names] = found.asArray();
      if (kind === PDFName.of('Separation') && names instanceof PDFName)
        separations.add(nameText(names));
      if (kind === PDFName.of('DeviceN')) {
        const list = context.lookup(names);
        if (list instanceof PDFArray)
          for (const n of list.asArray()) if (n instanceof PDFName) separations.add(nameText(n));
      }
      for (const item of found.asArray()) visit(item, depth + 1);
      return;
    }
    const dict = found instanceof PDFStream ? found.dict : found;
    if (!(dict instanceof PDFDict)) return;
    if (dict.lookup(PDFName.of('Type')) === PDFName.of('Font')) {
      font(dict);
      return;
    }
    for (const [key, value] of dict.entries())
      if (key !== PDFName.of('Parent') && key !== PDFName.of('Metadata')) visit(value, depth + 1);
  };
  visit(page.node.Resources(), 0);
  for (const none of ['None', 'All', 'Cyan', 'Magenta', 'Yellow', 'Black'])
    separations.delete(none);
  const notes = page.node.lookupMaybe(PDFName.of('Annots'), PDFArray)?.asArray() ?? [];
  const isLink = (note: PDFObject): boolean => {
    const dict = context.lookup(note);
    return dict instanceof PDFDict && dict.lookup(PDFName.of('Subtype')) === PDFName.of('Link');
  };
  return {
    missingFonts: [...missing].sort(),
    separations: [...separations].sort(),
    notes: notes.filter((n) => !isLink(n)).length,
  };
}

type Marks = Pick<ArtSheet, 'coarsestPxPerMm' | 'thinnestMm'>;

/** The coarsest picture and the thinnest stroke of every page, at its own size, read with pdf.js. */
async function marksOf(pdfjs: Pdfjs, bytes: Uint8Array, name: string): Promise<Marks[]> {
  // pdf.js takes the buffer away from its caller, so it gets a copy.
  const task = pdfjs.getDocument({ data: bytes.slice(), isEvalSupported: false, verbosity: 0 });
  const { OPS } = pdfjs;
  try {
    const doc = await task.promise;
    const all: Marks[] = [];
    for (let k = 1; k <= doc.numPages; k++) {
      const page = await doc.getPage(k);
      const list = await page.getOperatorList();
      const mm = page.userUnit * MM_PER_POINT;
      let [matrix, width]: [Affine, number] = [IDENTITY, 1];
      const saved: [Affine, number][] = [];
      let [coarsest, thinnest] = [Infinity, Infinity];
      const picture = (w: unknown, h: unknown): void => {
        if (typeof w !== 'number' || typeof h !== 'number') return;
        const [across, up] = [
          Math.hypot(matrix[0], matrix[1]) * mm,
          Math.hypot(matrix[2], matrix[3]) * mm,
        ];
        coarsest = Math.min(coarsest, w / across, h / up);
      };
      list.fnArray.forEach((fn: number, i: number) => {
        const args = list.argsArray[i] as unknown[];
        if (fn === OPS.save) saved.push([matrix, width]);
        else if (fn === OPS.restore) [matrix, width] = saved.pop() ?? [matrix, width];
        else if (fn === OPS.transform) matrix = times(matrix, args as unknown as Affine);
        else if (fn === OPS.paintFormXObjectBegin) {
          saved.push([matrix, width]);
          if (args[0]) matrix = times(matrix, args[0] as Affine);
        } else if (fn === OPS.paintFormXObjectEnd) [matrix, width] = saved.pop() ?? [matrix, width];
        else if (fn === OPS.setLineWidth) width = args[0] as number;
        else if (fn === OPS.setGState) {
          for (const [key, value] of args[0] as [string, unknown][])
            if (key === 'LW') width = value as number;
        } else if (STROKES.some((s) => OPS[s] === fn)) {
          const scale = Math.sqrt(Math.abs(matrix[0] * matrix[3] - matrix[1] * matrix[2]));
          thinnest = Math.min(thinnest, width * scale * mm);
        } else if (fn === OPS.paintImageXObject) picture(args[1], args[2]);
        else if (fn === OPS.paintInlineImageXObject || fn === OPS.paintImageMaskXObject) {
          const { width: w, height: h } = (args[0] ?? {}) as { width?: number; height?: number };
          picture(w, h);
        }
      });
      page.cleanup();
      all.push({
        ...(Number.isFinite(coarsest) && { coarsestPxPerMm: coarsest }),
        ...(Number.isFinite(thinnest) && { thinnestMm: thinnest }),
      });
    }
    return all;
  } catch (error) {
    const why = error instanceof Error ? error.message : String(error);
    if (/password/i.test(why)) throw new Refusal('artwork-locked', { file: name });
    throw new Refusal('artwork-damaged', { file: name, why });
  } finally {
    await task.destroy();
  }
}

const STROKES = [
  'stroke',
  'closeStroke',
  'fillStroke',
  'eoFillStroke',
  'closeFillStroke',
  'closeEOFillStroke',
] as const;

/** A page of artwork laid into another file. */
export interface Laid {
  readonly ref: PDFRef;
  readonly artFromPage: Affine;
}

/** Layers that artwork brought with it, and which of them do not print. */
export interface OwnLayers {
  readonly all: PDFRef[];
  readonly off: PDFRef[];
}

/**
 * Lays pages of artwork into a file, each as one form that may be used any number of times. Fonts, pictures and colour
 * spaces are taken over as they are, and what two pages share is taken once.
 */
export async function layArt(
  doc: PDFDocument,
  art: Art,
  pages: readonly number[],
): Promise<{ laid: ReadonlyMap<number, Laid>; layers: OwnLayers }> {
  const from = await open(art.pdf, art.sheets[0]!.file);
  const copier = PDFObjectCopier.for(from.context, doc.context);
  const laid = new Map<number, Laid>();
  for (const index of pages) {
    const page = from.getPage(index);
    const { shown } = boxesOf(page);
    const resources = page.node.Resources();
    const group = page.node.lookupMaybe(PDFName.of('Group'), PDFDict);
    const form = doc.context.flateStream(contentOf(page), {
      Type: 'XObject',
      Subtype: 'Form',
      FormType: 1,
      BBox: [shown.left, shown.bottom, shown.right, shown.top],
      Resources: resources ? copier.copy(resources) : {},
      // A page is a transparency group of its own (ISO 32000-1, 11.4.7); what it blends with stays what it was.
      Group: group ? copier.copy(group) : { Type: 'Group', S: 'Transparency', I: true },
    });
    laid.set(index, { ref: doc.context.register(form), artFromPage: artFromPage(page) });
  }
  return { laid, layers: ownLayers(from, copier) };
}

function contentOf(page: PDFPage): Uint8Array {
  const { context } = page.doc;
  const contents = page.node.lookup(PDFName.of('Contents'));
  const streams = contents instanceof PDFArray ? contents.asArray() : contents ? [contents] : [];
  const parts = streams.map((s) => {
    const stream = context.lookup(s);
    if (stream instanceof PDFRawStream) return decodePDFRawStream(stream).decode();
    return stream instanceof PDFContentStream ? stream.getUnencodedContents() : new Uint8Array();
  });
  const all = new Uint8Array(parts.reduce((n, p) => n + p.length + 1, 0));
  let at = 0;
  for (const part of parts) {
    all.set(part, at);
    all[at + part.length] = 10;
    at += part.length + 1;
  }
  return all;
}

/** A layer prints unless it is off, or says that it is not for print (ISO 32000-1, 8.11.4). */
function ownLayers(from: PDFDocument, copier: PDFObjectCopier): OwnLayers {
  const properties = from.catalog.lookupMaybe(PDFName.of('OCProperties'), PDFDict);
  const settings = properties?.lookupMaybe(PDFName.of('D'), PDFDict);
  const list = (dict: PDFDict | undefined, key: string): PDFRef[] =>
    (dict?.lookupMaybe(PDFName.of(key), PDFArray)?.asArray() ?? []).filter(
      (o): o is PDFRef => o instanceof PDFRef,
    );
  const all = list(properties, 'OCGs');
  const [on, off] = [list(settings, 'ON'), list(settings, 'OFF')];
  const allOff = settings?.lookupMaybe(PDFName.of('BaseState'), PDFName) === PDFName.of('OFF');
  const printed = (ref: PDFRef): boolean => {
    const usage = from.context.lookupMaybe(ref, PDFDict)?.lookupMaybe(PDFName.of('Usage'), PDFDict);
    const print = usage?.lookupMaybe(PDFName.of('Print'), PDFDict);
    const state = print?.lookupMaybe(PDFName.of('PrintState'), PDFName);
    if (state) return state !== PDFName.of('OFF');
    return allOff ? on.includes(ref) : !off.includes(ref);
  };
  return {
    all: all.map((ref) => copier.copy(ref)),
    off: all.filter((ref) => !printed(ref)).map((ref) => copier.copy(ref)),
  };
}
