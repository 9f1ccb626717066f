import type { Pdfjs } from './pdfjs.ts';

/** pdf.js under Node: the legacy build, which asks for nothing that a browser alone has. */
export const loadPdfjs = async (): Promise<Pdfjs> =>
  (await import('pdfjs-dist/legacy/build/pdf.mjs')) as unknown as Pdfjs;
