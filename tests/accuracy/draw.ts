/**
 * npm run accuracy -- --draw: renders the scenes drawn by lot that are not in the cache yet (some one to two minutes each), and
 * writes what an operator would enter for each into drawn.json, with an error drawn from what its uncertainty allows.
 */
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Random } from '../support/simulate.ts';
import { DRAWN_FILE, type Case } from './cases.ts';
import { drawnScene, LOTS, type DrawnScene, type Lot } from './drawn.ts';
import { CACHE, render, whyNoRenderer } from './render.ts';
import { readTruth, type Truth } from './truth.ts';

/** Standard uncertainties that the command line takes where nothing else is said, mm. */
const READ = { thicknessMm: 0.05, spanMm: 0.03, riderMm: 0.03 };

function entered({ name, row, seed }: Lot, scene: DrawnScene, truth: Truth): Case {
  const random = new Random(seed + 7);
  const reading = (true_: number, u: number): number =>
    Number((true_ + random.normal(u)).toFixed(2));
  const real = scene.blanks
    .filter(({ role }) => role !== 'support')
    .sort((a, b) => a.at[0] - b.at[0]);
  const thicknessMm = Object.fromEntries(
    real.map((b, k) => [k + 1, Math.max(0.1, reading(b.thickness, READ.thicknessMm))]),
  );
  const spans = truth.sheet.spans.slice(-3).map((s) => reading(s.true, READ.spanMm));
  const rider = truth.blanks.find((b) => b.rider)?.rider;
  const taken = real[0]!.edge.r ?? real[0]!.edge.c;
  const views = scene.views.length;
  return {
    name,
    picture: 'scene',
    row,
    ...(scene.lens && { lens: scene.lens }),
    ...(views > 1 && { views }),
    ...(row.startsWith('scan') && { scan: {} }),
    thicknessMm,
    ...(taken !== undefined &&
      thicknessMm[1]! > 2 &&
      !row.startsWith('scan') && { widestMm: Number((thicknessMm[1]! - taken).toFixed(2)) }),
    spansMm: { x: spans[0]!, y: spans[1]!, d: spans[2]! },
    riderSpansMm: rider ? { [rider.designed]: reading(rider.size, READ.riderMm) } : {},
  };
}

/** Renders what is missing, at most so many, and writes drawn.json after each. */
export async function draw(only?: string): Promise<void> {
  const why = whyNoRenderer();
  if (why) throw new Error(`The scenes cannot be rendered here: ${why}.`);
  for (const lot of LOTS) {
    if (only && !new RegExp(only).test(lot.name)) continue;
    const known = JSON.parse(readFileSync(DRAWN_FILE, 'utf8')) as Case[];
    const folder = join(CACHE, lot.name);
    if (existsSync(folder) && known.some(({ name }) => name === lot.name)) continue;
    const scene = await drawnScene(lot);
    if (!existsSync(folder)) {
      console.error(`${lot.name}: rendering ${scene.views.length}`);
      render(scene, CACHE);
    }
    const one = entered(lot, scene, readTruth(join(folder, `${lot.name}.truth.json`)));
    const all = new Map([...known, one].map((c) => [c.name, c]));
    const sorted = LOTS.flatMap(({ name }) => all.get(name) ?? []);
    writeFileSync(DRAWN_FILE, `${JSON.stringify(sorted, null, 2)}\n`);
  }
}
