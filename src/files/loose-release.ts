import type { Correction } from '../after/first-print.ts';
import type { LooseLoad } from '../after/loose.ts';
import { Refusal } from '../base/reason.ts';
import type { Clipper } from '../geometry/clipper.ts';
import type { BedPlan } from '../plan/plan.ts';
import { artworkDrawing } from './drawing.ts';
import type { JobFacts } from './facts.ts';
import { loadSheet, type LoadHeights } from './load-sheet.ts';
import { pdf } from './pdf.ts';
import type { Pdfjs } from './pdfjs.ts';
import { planJson } from './plan-json.ts';
import { corrected, printPdf, printPlanOf, prints, sheetsOf, type PrintWork } from './print-pdf.ts';
import { provePrint } from './print-see.ts';
import { prove, provePlanJson, seePdf, seeSvg, type Proof } from './read-back.ts';
import { runList } from './run-list.ts';
import type { FileSettings } from './settings.ts';
import { svg } from './svg.ts';

/** Every file of a load without a jig. */
export const LOOSE_NAMES = [
  'load-plan.json',
  'load-artwork.pdf',
  'load-artwork.svg',
  'load-sheet.pdf',
] as const;
/** Those that there are besides where there is artwork. */
export const LOOSE_ARTWORK_NAMES = ['load-print.pdf', 'load-print-list.csv'] as const;

export interface LooseFile {
  readonly name: (typeof LOOSE_NAMES)[number] | (typeof LOOSE_ARTWORK_NAMES)[number];
  readonly purpose: string;
  readonly taker: string;
  readonly mime: string;
  readonly bytes: Uint8Array;
  /** Read back from these very bytes; absent on what holds no geometry to print by. */
  readonly proof?: Proof;
}

/**
 * What is printed on pieces that lie loose, each file read back before it is handed out. The page is the marked sheet's, which is
 * the bed's.
 *
 * @throws Refusal `release-shut` when the plan holds a reason that refuses: what is wrong with the load, or a print that may land
 *   farther off than the artwork allows
 * @throws Error when a file does not say what the plan says
 */
export async function looseRelease(
  plan: BedPlan,
  load: LooseLoad,
  facts: JobFacts,
  heights: LoadHeights,
  correction: Correction,
  pdfjs: Pdfjs,
  settings: FileSettings,
  printed?: { readonly clipper: Clipper; readonly work: PrintWork },
): Promise<LooseFile[]> {
  const refused = plan.reasons.find(({ level }) => level === 'refuse');
  if (refused) throw new Refusal('release-shut', { why: refused.message, remedy: refused.remedy });
  const files: LooseFile[] = [];
  if (printed && prints(printed.work)) {
    const { clipper, work } = printed;
    const print = corrected(printPlanOf(clipper, plan, work), correction);
    const bytes = await printPdf(plan, print, work);
    files.push({
      name: 'load-print.pdf',
      purpose: 'the artwork on every piece where it lies, to print',
      taker: 'the printer, at 100 %, at the zero that the marks were printed at',
      mime: 'application/pdf',
      bytes,
      proof: await provePrint('load-print.pdf', print, sheetsOf(work.arts), bytes, pdfjs),
    });
    if (work.settings.run)
      files.push({
        name: 'load-print-list.csv',
        purpose: 'which row of the table lies on which piece',
        taker: 'whoever packs and prints again what went wrong',
        mime: 'text/csv',
        bytes: runList(plan, sheetsOf(work.arts).length, work.settings),
      });
  }
  const drawing = artworkDrawing(plan, correction);
  const template = {
    purpose: 'template of this load, page is the bed',
    taker: 'whoever makes the artwork',
  };
  const page = await pdf(drawing, settings);
  files.push({
    ...template,
    name: 'load-artwork.pdf',
    mime: 'application/pdf',
    bytes: page,
    proof: prove('load-artwork.pdf', drawing, await seePdf(pdfjs, page, 'load-artwork.pdf')),
  });
  const lines = svg(drawing, settings);
  files.push({
    ...template,
    name: 'load-artwork.svg',
    mime: 'image/svg+xml',
    bytes: lines,
    proof: prove('load-artwork.svg', drawing, seeSvg(lines, 'load-artwork.svg')),
  });
  const data = planJson(plan, settings);
  files.push({
    name: 'load-plan.json',
    purpose: 'the places as data',
    taker: 'other programs',
    mime: 'application/json',
    bytes: data,
    proof: provePlanJson('load-plan.json', plan, data),
  });
  files.push({
    name: 'load-sheet.pdf',
    purpose: 'places with U, heights, what is open, cautions',
    taker: 'whoever prints, and the folder',
    mime: 'application/pdf',
    bytes: loadSheet(plan, load, facts, settings, heights, correction),
  });
  return files;
}
