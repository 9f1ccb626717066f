import {
  PDFName,
  StandardFonts,
  type PDFDict,
  type PDFDocument,
  type PDFFont,
  type PDFRef,
} from '@cantoo/pdf-lib';
import type { Drawing } from './drawing.ts';
import { figure, trail, westEuropean } from './letters.ts';
import { addPage, layerGroup, newPdf, POINTS_PER_MM, setContent } from './pdf-page.ts';
import { FILE_SETTINGS, type FileSettings } from './settings.ts';
import { strokeOf, type Stroke } from './strokes.ts';

/** What a drawing needs of the page or form it stands in. */
export interface Content {
  /** Operators, in points from the lower left corner. */
  readonly operators: string;
  readonly resources: PDFDict;
}

/** An empty PDF that says what drawing it is of. */
export const documentOf = (drawing: Drawing, title: string): Promise<PDFDocument> =>
  newPdf({ ...drawing, title, subject: drawing.notes.join(' ') });

/**
 * A drawing's lines and letters: each layer an optional content group of its own, lines that a tool follows hairlines in a
 * spot colour. One `cm` scales points to millimetres, so the coordinates in the file are millimetres.
 */
export function contentOf(
  doc: PDFDocument,
  font: PDFFont,
  drawing: Drawing,
  settings: FileSettings,
  /** Layers that the document has so far, by name: pages share them. */
  known = new Map<string, PDFRef>(),
): Content {
  const properties = doc.context.obj({}) as PDFDict;
  // A spot colour is a colour space of its own (ISO 32000-1, 8.6.6.4); where there is no such ink it is shown as `rgb`.
  const spaces = doc.context.obj({}) as PDFDict;
  const spaceOf = ({ name: spot, rgb }: NonNullable<Stroke['spot']>): string => {
    const tint = {
      FunctionType: 2,
      Domain: [0, 1],
      C0: [1, 1, 1],
      C1: rgb.map((v) => v / 255),
      N: 1,
    };
    const name = `S${spaces.keys().length}`;
    spaces.set(
      PDFName.of(name),
      doc.context.obj([
        PDFName.of('Separation'),
        PDFName.of(spot),
        PDFName.of('DeviceRGB'),
        doc.context.obj(tint),
      ]),
    );
    return `/${name}`;
  };
  drawing.layers.forEach(({ name }, k) => {
    const group = known.get(name) ?? layerGroup(doc, name);
    known.set(name, group);
    properties.set(PDFName.of(`L${k}`), group);
  });
  const groups = [...known.values()];
  doc.catalog.set(
    PDFName.of('OCProperties'),
    doc.context.obj({ OCGs: groups, D: { Order: groups, ON: groups, BaseState: 'ON' } }),
  );

  const content = [`q ${POINTS_PER_MM} 0 0 ${POINTS_PER_MM} 0 0 cm 1 J 1 j`];
  drawing.layers.forEach(({ name, closed, open, lettering }, k) => {
    const { rgb, widthMm, dashMm, spot } = strokeOf(name, settings);
    const colour = rgb.map((v) => figure(v / 255)).join(' ');
    content.push(`/OC /L${k} BDC`);
    content.push(`${colour} RG ${colour} rg ${widthMm} w [${dashMm.join(' ')}] 0 d`);
    if (spot) content.push(`${spaceOf(spot)} CS 1 SCN`);
    for (const [points, end] of [
      ...closed.map(({ ring }) => [ring, 'h S'] as const),
      ...open.map((line) => [line, 'S'] as const),
    ]) {
      // An empty line has no operators of its own.
      if (points.length > 0) content.push(trail(points));
      content.push(end);
    }
    for (const { at, from, heightMm, words: said } of lettering) {
      const words = westEuropean(said);
      const em = heightMm / 0.718; // capitals of Helvetica are 718 thousandths of its size (Adobe font metrics)
      const x = at.x - (from ? 0 : font.widthOfTextAtSize(words, em) / 2);
      content.push(
        `BT /F ${figure(em)} Tf ${figure(x)} ${figure(at.y - heightMm / 2)} Td ${font.encodeText(words).toString()} Tj ET`,
      );
    }
    content.push('EMC');
  });
  content.push('Q');
  const resources = doc.context.obj({ Font: { F: font.ref } }) as PDFDict;
  resources.set(PDFName.of('Properties'), properties);
  resources.set(PDFName.of('ColorSpace'), spaces);
  return { operators: content.join('\n'), resources };
}

/** A drawing as PDF: the page is the bed at 100 %, media, bleed and trim box alike. */
export const pdf = (
  drawing: Drawing,
  settings: FileSettings = FILE_SETTINGS,
): Promise<Uint8Array> => pdfOf([drawing], settings);

/** Several drawings as the pages of one PDF, which says what the first one is of; layers of one name are one layer. */
export async function pdfOf(
  drawings: readonly Drawing[],
  settings: FileSettings = FILE_SETTINGS,
): Promise<Uint8Array> {
  const [first] = drawings as readonly [Drawing];
  const doc = await documentOf(first, first.title);
  const font = await doc.embedFont(StandardFonts.Helvetica);
  const layers = new Map<string, PDFRef>();
  for (const drawing of drawings) {
    const page = addPage(doc, drawing.widthMm, drawing.heightMm);
    const { operators, resources } = contentOf(doc, font, drawing, settings, layers);
    page.node.set(PDFName.of('Resources'), resources);
    setContent(page, [operators]);
  }
  return doc.save({ useObjectStreams: false });
}
