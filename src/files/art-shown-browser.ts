import { PDFDocument } from '@cantoo/pdf-lib';
import { boxesOf, type Art } from './art.ts';
import type { Pdfjs } from './pdfjs.ts';

/** Longest side of a page as it is drawn on the screen, px. */
const LONG_PX = 1400;

/** A canvas that needs no page, for pdf.js in a worker. */
class Canvases {
  create(width: number, height: number) {
    const canvas = new OffscreenCanvas(width, height);
    return { canvas, context: canvas.getContext('2d') };
  }
  reset(made: { canvas: OffscreenCanvas }, width: number, height: number): void {
    made.canvas.width = width;
    made.canvas.height = height;
  }
  destroy(made: { canvas: OffscreenCanvas | null }): void {
    made.canvas = null;
  }
}

/** Filters live in a page; without one soft masks of luminosity are drawn without. */
class NoFilters {
  addFilter(): string {
    return 'none';
  }
  addHCMFilter(): string {
    return 'none';
  }
  addAlphaFilter(): string {
    return 'none';
  }
  addLuminosityFilter(): string {
    return 'none';
  }
  addHighlightHCMFilter(): string {
    return 'none';
  }
  destroy(): void {}
}

/** A page of artwork as a PNG, exactly as far as it shows anything, what is not printed transparent. */
export async function showArt(pdfjs: Pdfjs, art: Art, page: number): Promise<Blob> {
  const whole = await PDFDocument.load(art.pdf, { updateMetadata: false });
  const { shown } = boxesOf(whole.getPage(page));
  const size = [shown.right - shown.left, shown.top - shown.bottom] as const;
  whole.getPage(page).setMediaBox(shown.left, shown.bottom, ...size);
  whole.getPage(page).setCropBox(shown.left, shown.bottom, ...size);
  const task = pdfjs.getDocument({
    data: await whole.save({ useObjectStreams: false }),
    isEvalSupported: false,
    verbosity: 0,
    // Letters as outlines: a worker has no fonts of a page to add to.
    disableFontFace: true,
    CanvasFactory: Canvases,
    FilterFactory: NoFilters,
  } as Parameters<Pdfjs['getDocument']>[0]);
  try {
    const doc = await task.promise;
    const seen = await doc.getPage(page + 1);
    const plain = seen.getViewport({ scale: 1 });
    const viewport = seen.getViewport({ scale: LONG_PX / Math.max(plain.width, plain.height) });
    const canvas = new OffscreenCanvas(
      Math.max(1, Math.round(viewport.width)),
      Math.max(1, Math.round(viewport.height)),
    );
    await seen.render({
      canvasContext: canvas.getContext('2d') as unknown as CanvasRenderingContext2D,
      viewport,
      background: 'rgba(0,0,0,0)',
      intent: 'print',
    }).promise;
    return await canvas.convertToBlob({ type: 'image/png' });
  } finally {
    await task.destroy();
  }
}
