import { Refusal } from '../base/reason.ts';
import type { FileLines } from './file-lines.ts';
import { linesOfDxf } from './lines-dxf.ts';
import { linesOfEps } from './lines-eps.ts';
import { linesOfPdf } from './lines-pdf.ts';
import { linesOfSvg } from './lines-svg.ts';
import type { Pdfjs } from './pdfjs.ts';

/** What kind of file the bytes are; their beginning decides, not the name. */
function formatOf(bytes: Uint8Array): FileLines['format'] | undefined {
  const head = new TextDecoder('latin1').decode(bytes.subarray(0, 4096));
  if (head.includes('%PDF-')) return 'PDF';
  if (head.startsWith('%!PS')) return 'EPS';
  if (/<svg[\s>]/i.test(head) || /^\s*<\?xml/.test(head)) return 'SVG';
  if (/^(\s*999\r?\n[^\n]*\n)*\s*0\r?\n\s*SECTION/.test(head)) return 'DXF';
  return undefined;
}

/**
 * The lines of any DXF, SVG, PDF or EPS.
 *
 * @param page which page of a PDF, from 1
 * @throws Refusal `match-unread` when it is none of these, or its reader cannot make sense of it
 */
export async function readLines(
  bytes: Uint8Array,
  file: string,
  pdfjs: Pdfjs,
  page = 1,
): Promise<FileLines> {
  const format = formatOf(bytes);
  try {
    switch (format) {
      case 'DXF':
        return linesOfDxf(bytes);
      case 'SVG':
        return linesOfSvg(bytes);
      case 'PDF':
        return await linesOfPdf(pdfjs, bytes, page);
      case 'EPS':
        return linesOfEps(bytes);
      case undefined:
        throw new Error('it is neither DXF, SVG, PDF nor EPS');
    }
  } catch (error) {
    const why = error instanceof Error ? error.message : String(error);
    throw new Refusal('match-unread', { file, why });
  }
}

/** The same of every page. @throws Refusal as `readLines` */
export async function readPages(
  bytes: Uint8Array,
  file: string,
  pdfjs: Pdfjs,
): Promise<FileLines[]> {
  const pages = [await readLines(bytes, file, pdfjs)];
  for (let page = 2; page <= pages[0]!.pages; page++)
    pages.push(await readLines(bytes, file, pdfjs, page));
  return pages;
}
