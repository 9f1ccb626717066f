import { boardSentences } from '../plan/board-on-bed.ts';
import type { BedPlan } from '../plan/plan.ts';
import { AXES, boardPockets } from '../plan/turned-over.ts';
import type { JobFacts } from './facts.ts';
import { heights } from './job-sheet.ts';
import { sheetPaper, type FileSettings } from './settings.ts';
import { drawBed, finished, Sheet } from './sheet-page.ts';

/** Readings that are named one by one; more are counted. */
const MOST_READINGS = 6;

/**
 * One page for whoever loads the board and did not make it: the bed with its zero corner and numbers, heights in the order
 * they are used, who measured with what, what changed since.
 *
 * @param front where the plan is that of the back: the whole plan that its pieces were printed on before
 */
export function loadingCard(
  plan: BedPlan,
  facts: JobFacts,
  said: FileSettings,
  front?: BedPlan,
): Uint8Array {
  // One page: the drawing gives way.
  for (const mostMm of [85, 60]) {
    const { bytes, pages } = card(plan, facts, said, mostMm, front);
    if (pages === 1) return bytes;
  }
  return card(plan, facts, said, 35, front).bytes;
}

function card(
  plan: BedPlan,
  facts: JobFacts,
  said: FileSettings,
  mostMm: number,
  front: BedPlan | undefined,
): { readonly bytes: Uint8Array; readonly pages: number } {
  const sheet = new Sheet(sheetPaper(said));
  const scale = drawBed(sheet, plan, mostMm);
  const zero = plan.bed.zero.replace('-', ' ');
  sheet.paragraph(
    `${plan.bed.board ? boardSentences(plan.bed).join(' ') : `Lay the board with its ${zero} corner at zero.`} ${plan.pockets.length} ${plan.pockets.length === 1 ? 'pocket' : 'pockets'}; every blank with its ${front ? 'back' : 'print face'} up, down to the floor.`,
    { bold: true },
  );
  if (front) turnedWords(front, plan).forEach((words) => sheet.paragraph(words));
  heights(sheet, plan);
  sheet.heading('Who measured, with what');
  if (facts.checks.length === 0) sheet.paragraph('NOT CHECKED', { bold: true, size: 4.2 });
  for (const c of facts.checks.slice(0, MOST_READINGS))
    sheet.row(
      `Blank ${c.blank}, ${c.what}`,
      `${c.readingMm.toFixed(2)} ±${c.readingU.toFixed(2)} mm with a ${c.with}: ${c.judgement.verdict}`,
      52,
    );
  const more = facts.checks.length - MOST_READINGS;
  if (more > 0) sheet.paragraph(`and ${more} more on the job sheet`);
  sheet.row('Answers for it', facts.override?.by || '____________________', 52);
  sheet.heading(`Revision ${said.revision}: what changed since`);
  sheet.paragraph(said.changed === '' ? 'Not said.' : said.changed);
  const pages = sheet.pdf.getNumberOfPages();
  return {
    bytes: finished(sheet, front ? 'Loading card, back' : 'Loading card', plan, facts, scale),
    pages,
  };
}

/** How pieces come from the front's board to where the card shows them. */
function turnedWords(front: BedPlan, back: BedPlan): string[] {
  const axis = front.bed.turnedAbout;
  const held = boardPockets(front, back);
  return [
    ...(axis ? [`Turn every piece over ${AXES[axis]}.`] : []),
    held
      ? held.every(({ piece, pocket }) => piece === pocket)
        ? "The same board holds them: each piece goes back into its own pocket, by the board's numbers as by this card's."
        : `The same board holds them, and its numbers are the front's. By those, the piece of pocket ${held.map(({ piece, pocket }) => `${piece} goes into ${pocket}`).join(', ')}. The drawing numbers the pieces.`
      : 'Another board holds them (back-cut): each piece goes into the pocket of its number, as drawn.',
  ];
}
