import { boxOf } from '../geometry/measure.ts';
import { boardSizeWords, seatHoles } from '../plan/board-on-bed.ts';
import type { BedPlan } from '../plan/plan.ts';
import { boardWords } from '../pocket/material.ts';
import { full } from '../pocket/pocket.ts';
import { checkLineMm, cutDrawing, depthNote, type Drawing } from './drawing.ts';
import type { JobFacts } from './facts.ts';
import { sheetPaper, type FileSettings } from './settings.ts';
import { drawBed, finished, Sheet, trim } from './sheet-page.ts';

const NOT_TAKEN =
  'Kerf not taken off: the lines are the finished walls. Your program takes its own kerf, waste inside every pocket.';

/** For a cutting service: the finished walls, the board's edge, and a line of known length; nothing that is ours to decide. */
export function wallsDrawing(plan: BedPlan): Drawing {
  const cut = cutDrawing(plan);
  return {
    ...cut,
    title: `${plan.jobNumber} ${plan.jobName}: walls, kerf not taken off`,
    notes: [
      NOT_TAKEN,
      plan.bed.board
        ? 'Layer pocket: the finished walls. Layer board: the finished edge of the board and of its holes. Layers bed and mark: the page, and a line to measure; not to be cut.'
        : 'Layer pocket: the finished walls. Layer board: the edge of the board. Layer mark: a line to measure; not to be cut.',
      `Digest ${plan.digest}`,
    ],
    layers: cut.layers
      .filter(({ name }) => ['pocket', 'board', 'bed', 'mark'].includes(name))
      .map((layer) =>
        layer.name === 'mark'
          ? // The check line and its two ticks are the first three.
            { ...layer, open: layer.open.slice(0, 3), lettering: layer.lettering.slice(0, 1) }
          : layer.name === 'board' && !plan.bed.board
            ? { ...layer, what: 'the edge of the board' }
            : layer,
      ),
  };
}

/** What the service is asked for, on one page. */
export function orderPage(
  plan: BedPlan,
  facts: JobFacts,
  said: FileSettings,
  names: readonly string[],
): Uint8Array {
  const sheet = new Sheet(sheetPaper(said));
  const s = full(plan.pocketSettings);
  const { quantity, toleranceMm } = said.order;
  const scale = drawBed(sheet, plan, 85);
  sheet.heading('Please cut');
  const row = (name: string, words: string): void => sheet.row(name, words, 40);
  row('Kerf', NOT_TAKEN);
  row('Material', boardWords(s) ?? 'NOT SAID: agree on it before cutting');
  row(
    'Thickness',
    typeof facts.boardMm === 'number'
      ? `${trim(facts.boardMm)} mm, as measured`
      : 'NOT SAID: agree on it before cutting',
  );
  const { boards = 1 } = plan.bed;
  const alike =
    boards > 1 && boards !== quantity ? `; the job has ${boards} that are cut alike` : '';
  row('Quantity', `${quantity} ${quantity === 1 ? 'board' : 'boards'}${alike}`);
  row(
    'Tolerance',
    `walls within ±${toleranceMm.toFixed(2)} mm of the lines, measured in the middle of the thickness; square to the face`,
  );
  row(
    'Size',
    `board ${boardSizeWords(plan.bed)}; ${plan.pockets.length} ${plan.pockets.length === 1 ? 'pocket' : 'pockets'}`,
  );
  row(
    'Check length',
    `the line on layer mark is ${checkLineMm(plan)} mm long; pocket ${plan.pockets[0]!.id} is ${sizeOf(plan)}, left to right and front to rear. Measure both in your program before cutting: unit millimetres, scale 100 %.`,
  );
  const holes = seatHoles(plan.bed);
  if (holes.length > 0)
    row(
      'Holes',
      `${holes.map(({ what, radiusMm }) => `${what} ${(2 * radiusMm).toFixed(2)} mm wide`).join(', ')}, through, on layer board`,
    );
  row('Pockets', depthNote(plan));
  row(
    'Files',
    `${names.join(', ')}, each with the job's number before its name: all the same lines, take one. Revision ${said.revision}.`,
  );
  return finished(sheet, 'Order', plan, facts, scale);
}

function sizeOf({ pockets }: BedPlan): string {
  const box = boxOf(pockets[0]!.wall.flatMap(({ outer }) => outer));
  return `${(box.right - box.left).toFixed(2)} x ${(box.top - box.bottom).toFixed(2)} mm`;
}
