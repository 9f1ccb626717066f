import { MM_PER_POINT } from '../base/measure.ts';
import { times, type Affine } from '../geometry/affine.ts';
import { joined, Pen, type FileLines } from './file-lines.ts';
import { PdfMatrix } from './pdf-matrix.ts';
import type { Pdfjs } from './pdfjs.ts';

/**
 * The painted lines of a page of a PDF as a viewer shows it, and those that it clips by, read with pdf.js: the page is what its crop
 * box leaves, turned as it says.
 *
 * @param which page, from 1
 * @throws Error when pdf.js cannot open it
 */
export async function linesOfPdf(pdfjs: Pdfjs, bytes: Uint8Array, which = 1): Promise<FileLines> {
  // pdf.js takes the buffer away from its caller, so it gets a copy.
  const task = pdfjs.getDocument({ data: bytes.slice(), isEvalSupported: false, verbosity: 0 });
  try {
    const doc = await task.promise;
    const page = await doc.getPage(which);
    const config = await doc.getOptionalContentConfig();
    const view = page.getViewport({ scale: 1 });
    // The viewport counts from the upper left, y down, turned and in points of the page's own unit.
    const toPage: Affine = times(
      [MM_PER_POINT, 0, 0, -MM_PER_POINT, 0, view.height * MM_PER_POINT],
      view.transform as unknown as Affine,
    );
    const list = await page.getOperatorList();
    const { OPS } = pdfjs;
    const strokes = new Set<number>([OPS.stroke, OPS.closeStroke]);
    const fills = new Set<number>([
      OPS.fill,
      OPS.eoFill,
      OPS.fillStroke,
      OPS.eoFillStroke,
      OPS.closeFillStroke,
      OPS.closeEOFillStroke,
    ]);
    const images = new Set<number>([
      OPS.paintImageXObject,
      OPS.paintInlineImageXObject,
      OPS.paintImageMaskXObject,
      OPS.paintImageXObjectRepeat,
    ]);
    const pen = new Pen();
    let pictures = 0;
    const matrix = new PdfMatrix(OPS, toPage);
    let clips = false;
    const groups: (string | undefined)[] = [];
    list.fnArray.forEach((fn: number, k: number) => {
      const args = list.argsArray[k] as unknown[];
      if (matrix.follow(fn, args)) return;
      if (fn === OPS.beginMarkedContentProps) {
        const [tag, group] = args as [string, { id?: string } | null];
        groups.push(tag === 'OC' ? (config.getGroup(group?.id ?? '')?.name as string) : undefined);
      } else if (fn === OPS.beginMarkedContent) groups.push(undefined);
      else if (fn === OPS.endMarkedContent) groups.pop();
      else if (fn === OPS.constructPath)
        trace(pdfjs, pen, args as [number[], number[]], matrix.now);
      else if (strokes.has(fn) || fills.has(fn)) {
        clips = false;
        pen.paint(
          fills.has(fn) || fn === OPS.closeStroke,
          groups.findLast((name) => name !== undefined),
        );
      } else if (fn === OPS.clip || fn === OPS.eoClip) clips = true;
      else if (fn === OPS.endPath) {
        if (clips) pen.clip();
        else pen.drop();
        clips = false;
      } else if (images.has(fn)) pictures++;
    });
    return {
      format: 'PDF',
      page: { widthMm: view.width * MM_PER_POINT, heightMm: view.height * MM_PER_POINT },
      pages: doc.numPages,
      unitLost: false,
      pictures,
      ...joined([...pen.painted, ...pen.onlyClipped()]),
    };
  } finally {
    await task.destroy();
  }
}

/** One `constructPath` of pdf.js 4: operators, and all their numbers in a row. */
function trace({ OPS }: Pdfjs, pen: Pen, [ops, n]: [number[], number[]], m: Affine): void {
  let at = 0;
  let [x, y] = [0, 0];
  let start = { x: 0, y: 0 };
  const next = (): number => n[at++]!;
  const point = (): [number, number] => ([x, y] = [next(), next()]);
  for (const op of ops) {
    if (op === OPS.moveTo) {
      const [px, py] = point();
      start = { x: px, y: py };
      pen.moveTo(m, px, py);
    } else if (op === OPS.lineTo) pen.lineTo(m, ...point());
    else if (op === OPS.rectangle) {
      const [left, bottom, width, height] = [next(), next(), next(), next()];
      pen.moveTo(m, left, bottom);
      pen.lineTo(m, left + width, bottom);
      pen.lineTo(m, left + width, bottom + height);
      pen.lineTo(m, left, bottom + height);
      pen.close({ x: left, y: bottom });
      [x, y] = [left, bottom];
      start = { x, y };
    } else if (op === OPS.curveTo) {
      const [x1, y1, x2, y2] = [next(), next(), next(), next()];
      pen.curveTo(m, x1, y1, x2, y2, ...point());
    } else if (op === OPS.curveTo2) {
      const [x1, y1, x2, y2] = [x, y, next(), next()];
      pen.curveTo(m, x1, y1, x2, y2, ...point());
    } else if (op === OPS.curveTo3) {
      const [x1, y1] = [next(), next()];
      const [x2, y2] = point();
      pen.curveTo(m, x1, y1, x2, y2, x2, y2);
    } else if (op === OPS.closePath) {
      pen.close(start);
      [x, y] = [start.x, start.y];
    }
  }
}
