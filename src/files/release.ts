import { Refusal } from '../base/reason.ts';
import type { Clipper } from '../geometry/clipper.ts';
import type { BedPlan } from '../plan/plan.ts';
import { artworkDrawing, cutDrawing, setUpDrawing, type Drawing } from './drawing.ts';
import { dxf } from './dxf.ts';
import { eps } from './eps.ts';
import type { JobFacts } from './facts.ts';
import { jobSheet } from './job-sheet.ts';
import { pdf } from './pdf.ts';
import type { Pdfjs } from './pdfjs.ts';
import { printPdf, printPlanOf, sheetsOf, type PrintWork } from './print-pdf.ts';
import { provePrint } from './print-see.ts';
import { planJson } from './plan-json.ts';
import {
  prove,
  provePlanJson,
  seeDxf,
  seeEps,
  seePdf,
  seeSvg,
  type Proof,
  type Seen,
} from './read-back.ts';
import { FILE_SETTINGS, type FileSettings } from './settings.ts';
import { svg } from './svg.ts';

/** Every file of a release. */
export const RELEASE_NAMES = [
  'plan.json',
  'cut.dxf',
  'cut.svg',
  'cut.pdf',
  'cut.eps',
  'artwork.pdf',
  'artwork.svg',
  'set-up.pdf',
  'job-sheet.pdf',
] as const;

/** Those that a release has besides where there is artwork. */
export const ARTWORK_NAMES = ['print.pdf'] as const;

export interface ReleaseFile {
  readonly name: (typeof RELEASE_NAMES)[number] | (typeof ARTWORK_NAMES)[number];
  /** What it is for, in a few words. */
  readonly purpose: string;
  /** Who takes it. */
  readonly taker: string;
  readonly mime: string;
  readonly bytes: Uint8Array;
  /** Read back from these very bytes; absent on the job sheet, which holds no geometry to cut or print by. */
  readonly proof?: Proof;
}

/**
 * The matching set of files of one plan, each read back before it is handed out; its proof says by whose reader.
 *
 * @throws Refusal `release-shut` when the plan holds a reason that refuses
 * @throws Error when a file does not say what the plan says
 */
export async function release(
  plan: BedPlan,
  facts: JobFacts,
  pdfjs: Pdfjs,
  settings: FileSettings = FILE_SETTINGS,
  printed?: { readonly clipper: Clipper; readonly work: PrintWork },
): Promise<ReleaseFile[]> {
  const refused = plan.reasons.find(({ level }) => level === 'refuse');
  if (refused) {
    throw new Refusal('release-shut', { why: refused.message, remedy: refused.remedy });
  }
  const cut = cutDrawing(plan);
  const artwork = artworkDrawing(plan);
  const setUp = setUpDrawing(plan);
  const files: ReleaseFile[] = [];
  const add = (file: ReleaseFile): void => {
    files.push(file);
  };
  const drawn = async (
    file: Omit<ReleaseFile, 'proof' | 'mime'>,
    drawing: Drawing,
    see: (bytes: Uint8Array, name: string) => Seen | Promise<Seen>,
    mime: string,
  ): Promise<void> => {
    const proof = prove(file.name, drawing, await see(file.bytes, file.name));
    add({ ...file, mime, proof });
  };
  const seePage = (bytes: Uint8Array, name: string): Promise<Seen> => seePdf(pdfjs, bytes, name);
  const [PDF, SVG, DXF, EPS] = [
    'application/pdf',
    'image/svg+xml',
    'image/vnd.dxf',
    'application/postscript',
  ] as const;

  const cutPurpose = 'pockets to cut, kerf taken in layer cut';
  await drawn(
    { name: 'cut.dxf', purpose: cutPurpose, taker: 'laser, knife or mill', bytes: dxf(cut) },
    cut,
    seeDxf,
    DXF,
  );
  await drawn(
    { name: 'cut.svg', purpose: cutPurpose, taker: 'laser or knife', bytes: svg(cut, settings) },
    cut,
    seeSvg,
    SVG,
  );
  await drawn(
    {
      name: 'cut.pdf',
      purpose: cutPurpose,
      taker: 'laser, or a print to cut by hand',
      bytes: await pdf(cut, settings),
    },
    cut,
    seePage,
    PDF,
  );
  await drawn(
    {
      name: 'cut.eps',
      purpose: cutPurpose,
      taker: 'cutters whose program takes EPS',
      bytes: eps(cut, settings),
    },
    cut,
    seeEps,
    EPS,
  );
  const artworkPurpose = 'template to place artwork on, page is the bed';
  await drawn(
    {
      name: 'artwork.pdf',
      purpose: artworkPurpose,
      taker: 'whoever makes the artwork',
      bytes: await pdf(artwork, settings),
    },
    artwork,
    seePage,
    PDF,
  );
  await drawn(
    {
      name: 'artwork.svg',
      purpose: artworkPurpose,
      taker: 'whoever makes the artwork',
      bytes: svg(artwork, settings),
    },
    artwork,
    seeSvg,
    SVG,
  );
  await drawn(
    {
      name: 'set-up.pdf',
      purpose: 'outlines to print on a sacrificial sheet',
      taker: 'the printer, before the first print',
      bytes: await pdf(setUp, settings),
    },
    setUp,
    seePage,
    PDF,
  );
  if (printed && printed.work.arts.length > 0) {
    const { clipper, work } = printed;
    const print = printPlanOf(clipper, plan, work);
    const bytes = await printPdf(plan, print, work);
    add({
      name: 'print.pdf',
      purpose: 'the artwork in every pocket, to print',
      taker: 'the printer, at 100 %, at the zero of the bed',
      mime: PDF,
      bytes,
      proof: await provePrint('print.pdf', print, sheetsOf(work.arts), bytes, pdfjs),
    });
  }
  const planBytes = planJson(plan);
  add({
    name: 'plan.json',
    purpose: 'the plan as data',
    taker: 'other programs, and the match of files later',
    mime: 'application/json',
    bytes: planBytes,
    proof: provePlanJson('plan.json', plan, planBytes),
  });
  add({
    name: 'job-sheet.pdf',
    purpose: 'settings, checks, places, cautions',
    taker: 'the board and the folder',
    mime: PDF,
    bytes: jobSheet(plan, facts),
  });
  return files;
}
