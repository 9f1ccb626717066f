import type { Correction } from '../after/first-print.ts';
import { loadsOf } from '../artwork/run.ts';
import { Refusal } from '../base/reason.ts';
import type { Clipper } from '../geometry/clipper.ts';
import type { BedPlan } from '../plan/plan.ts';
import { byBack } from '../plan/turned-over.ts';
import { artworkDrawing, cutDrawing, paperDrawing, setUpDrawing, type Drawing } from './drawing.ts';
import { blankDrawing, blanksOf } from './blank-template.ts';
import { customerProof } from './customer-proof.ts';
import { dxf } from './dxf.ts';
import { eps } from './eps.ts';
import type { JobFacts } from './facts.ts';
import { jobSheet } from './job-sheet.ts';
import { loadingCard } from './loading-card.ts';
import { packageOf, type Packed } from './package.ts';
import { paperPrint, provePaperPrint } from './paper-print.ts';
import { pdf, pdfOf } from './pdf.ts';
import { png } from './png.ts';
import type { Pdfjs } from './pdfjs.ts';
import {
  corrected,
  printPdf,
  printPlanOf,
  prints,
  sheetsOf,
  type PrintPlan,
  type PrintWork,
} from './print-pdf.ts';
import { runList } from './run-list.ts';
import { SAMPLE_NAMES, sampleBody, samplePlan, sampleThickness } from './sample.ts';
import { provePrint } from './print-see.ts';
import { planJson } from './plan-json.ts';
import {
  prove,
  provePlanJson,
  seeDxf,
  seeEps,
  seePages,
  seePdf,
  seeSvg,
  type Proof,
  type Seen,
} from './read-back.ts';
import { FILE_SETTINGS, type FileSettings } from './settings.ts';
import { orderPage, wallsDrawing } from './send-out.ts';
import { provePng } from './see-png.ts';
import { proveSolid, stl, threeMf } from './solid.ts';
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
  'artwork.eps',
  'artwork.png',
  'set-up.pdf',
  'paper-print.pdf',
  'job-sheet.pdf',
  'loading-card.pdf',
  'send-out.zip',
  'blank-templates.zip',
] as const;

/** Those that a release has besides where there is artwork. */
export const ARTWORK_NAMES = ['print.pdf', 'print-list.csv', 'customer-proof.pdf'] as const;

/** Further boards and loads of a job, as plans of their own. */
export interface FurtherPlans {
  /** Loads that fill the board in part, by the number of the first load that is filled so. */
  readonly loads: readonly {
    readonly first: number;
    readonly plan: BedPlan;
    /** The same for the other side. */
    readonly back?: BedPlan;
  }[];
  /** For the other side of the pieces. */
  readonly back?: BedPlan;
}

const BACK_NAMES = [
  'back-plan.json',
  'back-cut.dxf',
  'back-cut.svg',
  'back-cut.pdf',
  'back-artwork.pdf',
  'back-artwork.svg',
  'back-set-up.pdf',
  'back-card.pdf',
] as const;

/** What is printed on the back, where there is artwork for it. */
const BACK_PRINT_NAMES = ['back-print.pdf', 'back-customer-proof.pdf'] as const;

type FurtherName =
  | `board-${number}-cut.${'dxf' | 'svg' | 'pdf'}`
  | `load-${number}-${string}`
  | (typeof SAMPLE_NAMES)[number]
  | (typeof BACK_NAMES)[number]
  | (typeof BACK_PRINT_NAMES)[number];

/** Which sides something is printed on. */
export interface PrintedSides {
  readonly front: boolean;
  readonly back: boolean;
}

/** Names of what a release has besides for several boards, part-filled loads and the back, in the order it is written. */
export const furtherNames = (
  bed: BedPlan['bed'],
  loads: readonly { readonly first: number }[],
  printed: PrintedSides,
  sample = false,
): FurtherName[] => [
  ...Array.from({ length: (bed.boards ?? 1) - 1 }, (_, k) =>
    (['dxf', 'svg', 'pdf'] as const).map((kind): FurtherName => `board-${k + 2}-cut.${kind}`),
  ).flat(),
  ...loads.flatMap(({ first }): FurtherName[] => [
    `load-${first}-plan.json`,
    `load-${first}-artwork.pdf`,
    ...(printed.front ? ([`load-${first}-print.pdf`] as const) : []),
    `load-${first}-card.pdf`,
    ...(bed.turnedAbout && printed.back ? ([`load-${first}-back-print.pdf`] as const) : []),
    ...(bed.turnedAbout ? ([`load-${first}-back-card.pdf`] as const) : []),
  ]),
  ...(bed.turnedAbout ? BACK_NAMES : []),
  ...(bed.turnedAbout && printed.back ? BACK_PRINT_NAMES : []),
  ...(sample ? SAMPLE_NAMES : []),
];

export interface ReleaseFile {
  readonly name: (typeof RELEASE_NAMES)[number] | (typeof ARTWORK_NAMES)[number] | FurtherName;
  /** What it is for, in a few words. */
  readonly purpose: string;
  /** Who takes it. */
  readonly taker: string;
  readonly mime: string;
  readonly bytes: Uint8Array;
  /** Read back from these very bytes; absent on the job sheet, which holds no geometry to cut or print by. */
  readonly proof?: Proof;
}

/** What is printed, and what its areas are made with. */
export interface Printed {
  readonly clipper: Clipper;
  readonly work: PrintWork;
  /** On the other side of turned pieces. */
  readonly back?: PrintWork;
}

/**
 * The matching set of files of one plan, each read back before it is handed out; its proof says by whose reader.
 *
 * @param correction what artwork and its templates are moved by, as bed profile and first print ask
 * @throws Refusal `release-shut` when the plan holds a reason that refuses, `png-too-large`
 * @throws Error when a file does not say what the plan says
 */
export async function release(
  plan: BedPlan,
  facts: JobFacts,
  pdfjs: Pdfjs,
  settings: FileSettings = FILE_SETTINGS,
  printed?: Printed,
  further: FurtherPlans = { loads: [] },
  correction?: Correction,
): Promise<ReleaseFile[]> {
  const refused = plan.reasons.find(({ level }) => level === 'refuse');
  if (refused) {
    throw new Refusal('release-shut', { why: refused.message, remedy: refused.remedy });
  }
  const cut = cutDrawing(plan, settings);
  const artwork = artworkDrawing(plan, correction);
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
    {
      name: 'cut.dxf',
      purpose: cutPurpose,
      taker: 'laser, knife or mill',
      bytes: dxf(cut, settings),
    },
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
      name: 'artwork.eps',
      purpose: artworkPurpose,
      taker: 'whoever makes the artwork',
      bytes: eps(artwork, settings),
    },
    artwork,
    seeEps,
    EPS,
  );
  if (settings.pngDpi !== null) {
    const bytes = png(artwork, settings.pngDpi, settings);
    add({
      name: 'artwork.png',
      purpose: `template of pixels, transparent, ${settings.pngDpi} dpi; the proof is to a pixel`,
      taker: 'programs that take no vectors',
      mime: 'image/png',
      bytes,
      proof: provePng('artwork.png', artwork, settings.pngDpi, bytes),
    });
  }
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
  const onPaper = paperDrawing(plan);
  const paper = await paperPrint(onPaper, settings);
  add({
    name: 'paper-print.pdf',
    purpose: `the set-up print at 100 % over ${settings.paper} pages, with check spans and joining marks`,
    taker: 'an office printer; cut by hand, or hold it against the board',
    mime: PDF,
    bytes: paper,
    proof: await provePaperPrint('paper-print.pdf', onPaper, settings.paper, pdfjs, paper),
  });
  const printTo = async (
    name: ReleaseFile['name'],
    purpose: string,
    of: BedPlan,
    print: PrintPlan,
    work: PrintWork,
  ): Promise<void> => {
    const bytes = await printPdf(of, print, work);
    const loads = print.loads.length;
    add({
      name,
      purpose: `${purpose}${loads > 1 ? `; ${loads} pages, one for each load` : ''}`,
      taker: 'the printer, at 100 %, at the zero of the bed',
      mime: PDF,
      bytes,
      proof: await provePrint(name, print, sheetsOf(work.arts), bytes, pdfjs),
    });
  };
  if (printed && prints(printed.work)) {
    const { clipper, work } = printed;
    const print = corrected(printPlanOf(clipper, plan, work), correction);
    await printTo('print.pdf', 'the artwork in every pocket, to print', plan, print, work);
    if (work.settings.run)
      add({
        name: 'print-list.csv',
        purpose: 'which row of the table lies in which load and pocket',
        taker: 'whoever loads, packs and prints again what went wrong',
        mime: 'text/csv',
        bytes: runList(plan, sheetsOf(work.arts).length, work.settings),
      });
    add({
      name: 'customer-proof.pdf',
      purpose: 'the artwork on the true outline, to be signed',
      taker: 'the customer, before anything is printed',
      mime: PDF,
      bytes: await customerProof(plan, facts, work, settings),
    });
  }
  const planBytes = planJson(plan, settings);
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
    bytes: jobSheet(plan, facts, settings),
  });
  add({
    name: 'loading-card.pdf',
    purpose: 'one page: where zero is, heights, who measured',
    taker: 'whoever loads the board',
    mime: PDF,
    bytes: loadingCard(plan, facts, settings),
  });
  add(await sendOut(plan, facts, pdfjs, settings));
  add(await blankTemplates(plan, pdfjs, settings));

  for (let board = 2; board <= (plan.bed.boards ?? 1); board++) {
    const twin = cutDrawing(plan, settings, board);
    const what = {
      purpose: `board ${board}: the same pockets, another number`,
      taker: 'laser, knife or mill',
    };
    const name = (kind: 'dxf' | 'svg' | 'pdf') => `board-${board}-cut.${kind}` as const;
    await drawn({ ...what, name: name('dxf'), bytes: dxf(twin, settings) }, twin, seeDxf, DXF);
    await drawn({ ...what, name: name('svg'), bytes: svg(twin, settings) }, twin, seeSvg, SVG);
    const page = await pdf(twin, settings);
    await drawn({ ...what, name: name('pdf'), bytes: page }, twin, seePage, PDF);
  }
  const asData = (name: FurtherName, purpose: string, of: BedPlan): void => {
    const bytes = planJson(of, settings);
    add({
      name,
      purpose,
      taker: 'other programs, and the match of files later',
      mime: 'application/json',
      bytes,
      proof: provePlanJson(name, of, bytes),
    });
  };
  const { back } = further;
  const backWork = printed?.back && prints(printed.back) ? printed.back : undefined;
  for (const { first, plan: part, back: turned } of further.loads) {
    const held = part.pockets.length === 1 ? '1 pocket' : `${part.pockets.length} pockets`;
    const only = `load ${first}: ${held} filled, nothing is printed in the others`;
    asData(`load-${first}-plan.json`, `the plan of ${only}`, part);
    const template = artworkDrawing(part, correction);
    await drawn(
      {
        name: `load-${first}-artwork.pdf`,
        purpose: `template of ${only}`,
        taker: 'whoever makes the artwork',
        bytes: await pdf(template, settings),
      },
      template,
      seePage,
      PDF,
    );
    const print = printed && prints(printed.work) && printOfLoad(plan, part, first, printed);
    if (print) {
      const moved = corrected(print, correction);
      await printTo(`load-${first}-print.pdf`, `the artwork of ${only}`, part, moved, printed.work);
    }
    add({
      name: `load-${first}-card.pdf`,
      purpose: `which pockets load ${first} fills`,
      taker: 'whoever loads the board',
      mime: PDF,
      bytes: loadingCard(part, facts, settings),
    });
    if (!back || !turned) continue;
    const other =
      backWork &&
      printOfLoad(byBack(back), byBack(turned), first, {
        clipper: printed!.clipper,
        work: backWork,
      });
    if (other)
      await printTo(
        `load-${first}-back-print.pdf`,
        `the back's artwork of ${only}`,
        turned,
        corrected(other, correction?.ofPrinter),
        backWork,
      );
    add({
      name: `load-${first}-back-card.pdf`,
      purpose: `where the pieces of load ${first} lie turned over`,
      taker: 'whoever loads the board',
      mime: PDF,
      bytes: loadingCard(turned, facts, settings, plan),
    });
  }
  if (back) {
    const taker = 'laser, knife or mill';
    asData('back-plan.json', 'the plan for the back of the pieces', back);
    const holds = cutDrawing(back, settings);
    const purpose = 'pockets for the pieces turned over, kerf taken in layer cut';
    await drawn(
      { name: 'back-cut.dxf', purpose, taker, bytes: dxf(holds, settings) },
      holds,
      seeDxf,
      DXF,
    );
    await drawn(
      { name: 'back-cut.svg', purpose, taker, bytes: svg(holds, settings) },
      holds,
      seeSvg,
      SVG,
    );
    const page = await pdf(holds, settings);
    await drawn({ name: 'back-cut.pdf', purpose, taker, bytes: page }, holds, seePage, PDF);
    // How a board lies is known of the front's alone; what the printer does holds for any board.
    const template = artworkDrawing(back, correction?.ofPrinter);
    const of = {
      purpose: 'template for the back, page is the bed',
      taker: 'whoever makes the artwork',
    };
    const sheet = await pdf(template, settings);
    await drawn({ ...of, name: 'back-artwork.pdf', bytes: sheet }, template, seePage, PDF);
    await drawn(
      { ...of, name: 'back-artwork.svg', bytes: svg(template, settings) },
      template,
      seeSvg,
      SVG,
    );
    const lines = setUpDrawing(back);
    await drawn(
      {
        name: 'back-set-up.pdf',
        purpose: 'outlines of the pieces turned over, to print on a sacrificial sheet',
        taker: 'the printer, before the first print of the back',
        bytes: await pdf(lines, settings),
      },
      lines,
      seePage,
      PDF,
    );
    add({
      name: 'back-card.pdf',
      purpose: 'one page: where the pieces lie turned over',
      taker: 'whoever loads the board',
      mime: PDF,
      bytes: loadingCard(back, facts, settings, plan),
    });
    if (backWork) {
      const faces = byBack(back);
      const print = printPlanOf(printed!.clipper, faces, backWork);
      await printTo(
        'back-print.pdf',
        'the artwork on the back of every piece, to print when all are turned over',
        back,
        corrected(print, correction?.ofPrinter),
        backWork,
      );
      add({
        name: 'back-customer-proof.pdf',
        purpose: 'the artwork of the back on the true outline, to be signed',
        taker: 'the customer, before anything is printed',
        mime: PDF,
        bytes: await customerProof(faces, facts, backWork, settings),
      });
    }
  }
  if (settings.sample.trim() !== '') {
    const few = samplePlan(plan, settings.sample);
    const only = `${few.jobName.slice(plan.jobName.length + 2)} alone, where they lie on the bed`;
    const taker = 'laser, knife or mill, before the whole board is cut';
    asData('sample-plan.json', `the plan of the ${only}`, few);
    const paths = cutDrawing(few, settings);
    const page = await pdf(paths, settings);
    await drawn(
      { name: 'sample-cut.dxf', purpose: only, taker, bytes: dxf(paths, settings) },
      paths,
      seeDxf,
      DXF,
    );
    await drawn(
      { name: 'sample-cut.svg', purpose: only, taker, bytes: svg(paths, settings) },
      paths,
      seeSvg,
      SVG,
    );
    await drawn({ name: 'sample-cut.pdf', purpose: only, taker, bytes: page }, paths, seePage, PDF);
    const template = artworkDrawing(few, correction);
    await drawn(
      {
        name: 'sample-artwork.pdf',
        purpose: `template of the ${only}`,
        taker: 'whoever makes the artwork',
        bytes: await pdf(template, settings),
      },
      template,
      seePage,
      PDF,
    );
    const lines = setUpDrawing(few);
    await drawn(
      {
        name: 'sample-set-up.pdf',
        purpose: `outlines of the ${only}`,
        taker: 'the printer, before the first print',
        bytes: await pdf(lines, settings),
      },
      lines,
      seePage,
      PDF,
    );
    const boardMm = facts.boardMm ?? null;
    const body = sampleBody(few, boardMm);
    const thick = `${sampleThickness(few, boardMm).toFixed(2)} mm thick${boardMm === null ? ', since the board was not measured' : ''}`;
    for (const [name, mime, bytes] of [
      ['sample-body.stl', 'model/stl', stl(body, few.jobName)],
      ['sample-body.3mf', 'model/3mf', threeMf(body, few.jobName)],
    ] as const)
      add({
        name,
        purpose: `the board round the ${only}, as a body, ${thick}`,
        taker: '3-D printer, mill',
        mime,
        bytes,
        proof: proveSolid(name, bytes, body),
      });
  }
  return files;
}

/**
 * What is printed on a load that fills the board in part: what every load has, in fewer pockets; or, where a table or more artworks
 * than pockets decide what is printed, the page of that load. Undefined where its page does not print in just the pockets that the
 * order fills: the order and the table do not speak of the same pieces.
 */
function printOfLoad(
  plan: BedPlan,
  part: BedPlan,
  first: number,
  { clipper, work }: Pick<Printed, 'clipper' | 'work'>,
): PrintPlan | undefined {
  if (isRepeated(work, plan.pockets.length))
    return printPlanOf(clipper, part, work, plan.pockets.length);
  const whole = printPlanOf(clipper, plan, work);
  const load = whole.loads[first - 1];
  const filled = part.pockets.map(({ id }) => id);
  const alike = load?.pockets.map(({ id }) => id).join() === filled.join();
  return load && alike ? { ...whole, digest: part.digest, loads: [load] } : undefined;
}

/** Whether every load of the board is printed alike. */
const isRepeated = ({ arts, settings }: PrintWork, pockets: number): boolean =>
  settings.run === undefined && loadsOf(settings, sheetsOf(arts).length, pockets).length === 1;

/** Walls in three formats and an order page, in one zip; its proof is the worst of theirs. */
async function sendOut(
  plan: BedPlan,
  facts: JobFacts,
  pdfjs: Pdfjs,
  settings: FileSettings,
): Promise<ReleaseFile> {
  const walls = wallsDrawing(plan);
  const what = { purpose: 'the finished walls, kerf not taken off', taker: 'the cutting service' };
  const drawn = [
    { name: 'walls.dxf', bytes: dxf(walls, settings), see: seeDxf },
    { name: 'walls.svg', bytes: svg(walls, settings), see: seeSvg },
    {
      name: 'walls.pdf',
      bytes: await pdf(walls, settings),
      see: (bytes: Uint8Array, name: string) => seePdf(pdfjs, bytes, name),
    },
  ];
  const files = [];
  for (const { name, bytes, see } of drawn)
    files.push({ ...what, name, bytes, proof: prove(name, walls, await see(bytes, name)) });
  const order = orderPage(
    plan,
    facts,
    settings,
    files.map(({ name }) => name),
  );
  const worst = files
    .map(({ proof }) => proof)
    .reduce((a, b) => (b.greatestMm > a.greatestMm ? b : a));
  return {
    name: 'send-out.zip',
    purpose: 'finished walls, kerf not taken off, and an order page',
    taker: 'a cutting service',
    mime: 'application/zip',
    bytes: packageOf(plan, [
      { name: 'order.pdf', purpose: 'what is asked for', taker: what.taker, bytes: order },
      ...files,
    ]),
    proof: { ...worst, file: 'send-out.zip' },
  };
}

/** Dots to the inch of a blank's template where none are asked for. */
const TEMPLATE_DPI = 300;

/** A page for every pocket, in their order: filled and dropped again as artwork, each goes into its own. */
async function pocketPages(
  plan: BedPlan,
  pdfjs: Pdfjs,
  settings: FileSettings,
): Promise<Packed & { readonly proof: Proof }> {
  const name = 'pockets.pdf';
  const drawings = plan.pockets.map((pocket) => blankDrawing(plan, pocket, true));
  const bytes = await pdfOf(drawings, settings);
  const seen = await seePages(pdfjs, bytes, name, drawings.length);
  const proofs = drawings.map((drawing, k) => prove(name, drawing, seen[k]!));
  return {
    name,
    purpose: `a page for each of ${drawings.length === 1 ? '1 pocket' : `${drawings.length} pockets`}, upright, its centre marked`,
    taker: 'whoever makes artwork that differs from pocket to pocket',
    bytes,
    proof: {
      ...proofs.reduce((a, b) => (b.greatestMm > a.greatestMm ? b : a)),
      pockets: drawings.length,
    },
  };
}

/** Every blank alone, its centre marked, in four formats, and a page for every pocket, in one zip; its proof is the worst of those of lines. */
async function blankTemplates(
  plan: BedPlan,
  pdfjs: Pdfjs,
  settings: FileSettings,
): Promise<ReleaseFile> {
  const what = {
    purpose: 'each blank alone, upright, its centre marked; a page for every pocket',
    taker: 'whoever makes the artwork',
  };
  const dpi = settings.pngDpi ?? TEMPLATE_DPI;
  const files: (Packed & { readonly proof: Proof })[] = [];
  for (const { name, pocket } of blanksOf(plan)) {
    const drawing = blankDrawing(plan, pocket);
    const [asPdf, asSvg] = [await pdf(drawing, settings), svg(drawing, settings)];
    const asEps = eps(drawing, settings);
    const asPng = png(drawing, dpi, settings);
    files.push(
      {
        ...what,
        name: `${name}.pdf`,
        bytes: asPdf,
        proof: prove(`${name}.pdf`, drawing, await seePdf(pdfjs, asPdf, `${name}.pdf`)),
      },
      {
        ...what,
        name: `${name}.svg`,
        bytes: asSvg,
        proof: prove(`${name}.svg`, drawing, seeSvg(asSvg, `${name}.svg`)),
      },
      {
        ...what,
        name: `${name}.eps`,
        bytes: asEps,
        proof: prove(`${name}.eps`, drawing, seeEps(asEps, `${name}.eps`)),
      },
      {
        ...what,
        name: `${name}.png`,
        bytes: asPng,
        proof: provePng(`${name}.png`, drawing, dpi, asPng),
      },
    );
  }
  files.push(await pocketPages(plan, pdfjs, settings));
  const worst = files
    .filter(({ name }) => !name.endsWith('.png'))
    .map(({ proof }) => proof)
    .reduce((a, b) => (b.greatestMm > a.greatestMm ? b : a));
  return {
    ...what,
    name: 'blank-templates.zip',
    mime: 'application/zip',
    bytes: packageOf(
      plan,
      files,
      'Every page is one blank with room round it, at 100 %, in millimetres. Do not scale, move or crop it.',
    ),
    proof: { ...worst, file: 'blank-templates.zip', pockets: blanksOf(plan).length },
  };
}
