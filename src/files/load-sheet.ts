import type { Correction } from '../after/first-print.ts';
import type { LooseLoad } from '../after/loose.ts';
import { SOFT_FROM_MM } from '../plan/heights.ts';
import type { BedPlan } from '../plan/plan.ts';
import { placeFromZero } from '../plan/plan-bed.ts';
import type { JobFacts } from './facts.ts';
import { cautions } from './job-sheet.ts';
import { sheetPaper, type FileSettings } from './settings.ts';
import { drawBed, finished, Sheet, trim } from './sheet-page.ts';

/** How high the pieces of a load stand, and the head over them, mm over the marked sheet. */
export interface LoadHeights {
  readonly highestMm: number;
  readonly lowestMm: number;
  readonly headGapMm: number;
}

/**
 * What goes to the printer with the print of a bed that was loaded without a jig: the bed from above as it was pictured, how far the
 * print may land off and why, every piece's place with U, heights, what was named, cautions.
 */
export function loadSheet(
  plan: BedPlan,
  load: LooseLoad,
  facts: JobFacts,
  said: FileSettings,
  heights: LoadHeights,
  correction: Correction,
): Uint8Array {
  const sheet = new Sheet(sheetPaper(said));
  const scale = drawBed(sheet, plan, 100);
  const count = load.pieces.length;
  sheet.paragraph(
    `${count} ${count === 1 ? 'piece lies' : 'pieces lie'} loose on the marked sheet, as pictured. Print before anything is touched: sheet, pieces, zero.`,
    { bold: true },
  );
  sheet.heading('How far the print may land off');
  sheet.paragraph(
    `± ${load.offMm.toFixed(2)} mm (k = 2) on the piece that is least sure; bleed ${trim(plan.pocketSettings.bleedMm)} mm, safe area ${trim(plan.pocketSettings.safeMm)} mm.`,
    { bold: true },
  );
  for (const { name, u, source, share } of load.budget)
    sheet.row(name, `± ${(2 * u).toFixed(2)} mm, ${source}; ${Math.round(100 * share)} % of it`);
  sheet.paragraph(
    `Artwork is corrected as ${correction.asks}: ${correction.words}. Printer, sheet and zero must be those that the marks were printed with.`,
  );
  sheet.heading('Heights over the marked sheet');
  const { highestMm, lowestMm, headGapMm } = heights;
  sheet.paragraph(
    `The highest face stands at ${trim(highestMm)} mm: the head at ${trim(highestMm + headGapMm)} mm or more. A start: confirm with the machine's own height check and a dry pass.`,
    { bold: true },
  );
  if (highestMm - lowestMm > SOFT_FROM_MM)
    sheet.paragraph(
      `The lowest face stands at ${trim(lowestMm)} mm, ${trim(highestMm - lowestMm)} mm lower: print goes soft there. Pack it up, or print the kinds in loads of their own.`,
    );
  const zero = plan.bed.zero.replace('-', ' ');
  sheet.heading(`Places of the pieces' middles, from the ${zero} corner, into the bed`);
  sheet.table(
    ['Piece', 'Blank', 'x mm', 'y mm', 'Turned', 'U of the edge', 'Off its blank (RMS)'],
    [0, 14, 32, 54, 76, 98, 128],
    load.pieces.map((p) => {
      const { x, y } = placeFromZero(p.place, plan.bed);
      return [
        String(p.number),
        String(p.blank),
        x.toFixed(2),
        y.toFixed(2),
        `${p.place.turnDeg.toFixed(2)}°`,
        `± ${p.placeU.toFixed(2)} mm`,
        `${p.unlikeMm.toFixed(2)} mm`,
      ];
    }),
  );
  if (plan.reasons.length > 0) sheet.heading('What is open');
  for (const { message, remedy } of plan.reasons) sheet.paragraph(`${message} ${remedy}`);
  cautions(sheet, true);
  return finished(sheet, 'Load sheet', plan, facts, scale);
}
