import type { Pdfjs } from './pdfjs.ts';

/**
 * pdf.js inside a module worker. It would start a worker of its own; its worker half found under this global name is
 * used in place instead, in the same thread. As it loads it posts one message of its own, `{ action: 'ready' }`, to
 * whoever started this worker; comlink passes it over.
 */
export async function loadPdfjs(): Promise<Pdfjs> {
  // @ts-expect-error the package ships no types for this file
  const half: unknown = await import('pdfjs-dist/legacy/build/pdf.worker.mjs');
  (globalThis as { pdfjsWorker?: unknown }).pdfjsWorker = half;
  return (await import('pdfjs-dist/legacy/build/pdf.mjs')) as unknown as Pdfjs;
}
