/**
 * The board of the whole-job page test, rendered: the plan that its entries lead to, two pockets for the bottle opener on a bed of
 * 310 x 220 mm, cut 0.06 mm wide per side; lying on an A3 sheet, turned by a right angle. Writes fixtures/c01-board.jpg and prints
 * what that test types: the spans of the sheet.
 */
import { copyFileSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { keptPocket } from '../../src/after/kept.ts';
import { DEFAULT_TRACE, traceFiles } from '../../src/cli/trace.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { resample } from '../../src/geometry/measure.ts';
import { makeJig } from '../../src/job/jig.ts';
import { newJob } from '../../src/job/job.ts';
import { loadVision } from '../../src/vision/load-node.ts';
import { CACHE, render, ROOT } from '../accuracy/render.ts';
import type { Place } from '../accuracy/score.ts';
import { readTruth } from '../accuracy/truth.ts';
import { sceneOf } from './boards.ts';

const NAME = 'c01-board';
const GROW_MM = 0.06;
const [BED_X, BED_Y] = [310, 220];

const cases = JSON.parse(readFileSync(join(ROOT, 'tests/accuracy/cases.json'), 'utf8')) as {
  name: string;
  thicknessMm: Record<string, number>;
  widestMm: number;
  spansMm: { x: number; y: number; d: number };
  riderSpansMm: Record<number, number>;
}[];
const entered = cases.find((c) => c.name === 'o03-opener-rider')!;
loadVision();
const clipper = await loadClipper();
const bytes = readFileSync(join(ROOT, 'fixtures/o03-opener-rider.jpg'));
const { trace } = await traceFiles([{ name: 'o03-opener-rider.jpg', bytes }], {
  ...DEFAULT_TRACE,
  thicknessMm: entered.thicknessMm['1']!,
  widestMm: entered.widestMm,
  spansMm: entered.spansMm,
  riderSpansMm: entered.riderSpansMm,
});
const job = newJob('S-0001', 'Job S-0001');
const { plan } = makeJig(clipper, trace, {
  job,
  pocket: job.pocket,
  bed: { ...job.bed, widthMm: BED_X, depthMm: BED_Y, rows: 1, columns: 2, zero: 'top-right' },
});
// A quarter turn, so that the board lies upright on its sheet.
const turned = ({ x, y }: { x: number; y: number }): Place => [BED_Y / 2 - y, x - BED_X / 2];
const walls = plan.pockets.map((p) => {
  const { opening } = keptPocket(clipper, p, plan.pocketSettings.tool);
  return resample(clipper.offset([opening], GROW_MM, 'outward')[0]!.outer, 0.25);
});
const outer = [
  { x: 0, y: 0 },
  { x: BED_X, y: 0 },
  { x: BED_X, y: BED_Y },
  { x: 0, y: BED_Y },
];
const rings = [outer.map(turned), ...walls.map((w) => w.map(turned).reverse())];
const scene = sceneOf({ name: NAME, slot: 'A3-white', paper: [297, 420] }, rings, [2250, 3000]);
render(scene, CACHE);
const truth = readTruth(join(CACHE, NAME, `${NAME}.truth.json`));
copyFileSync(join(CACHE, NAME, truth.views[0]!.file), join(ROOT, `fixtures/${NAME}.jpg`));
const [x, y, d] = truth.sheet.spans.slice(-3).map((s) => s.true);
console.log(JSON.stringify({ pockets: plan.pockets.length, file: truth.views[0]!.file, x, y, d }));
