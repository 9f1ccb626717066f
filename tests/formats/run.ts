/*
 * `npm run formats [-- --plans N] [--pictures N] [--seed N]`: random plans (500) written as DXF, SVG, PDF and EPS, read by ezdxf,
 * librsvg, poppler and Ghostscript, and every line held against the plan; a few of them (20) drawn at 600 dpi from every format
 * and compared pixel by pixel. A line for each plan, a table at the end. Ends with 1 when a line is off by more than 0.001 mm, or a
 * pixel stands alone.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { availableParallelism, tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { compared, type Compared } from './pixels.ts';
import { plansOf, writePlan } from './plans.ts';
import { reader, summed, type Read } from './read.ts';

const { values } = parseArgs({
  options: {
    plans: { type: 'string', default: '500' },
    pictures: { type: 'string', default: '20' },
    seed: { type: 'string', default: '1' },
  },
});
const [count, pictures, seed] = [values.plans, values.pictures, values.seed].map(Number) as [
  number,
  number,
  number,
];
const DPI = 600;
/** Larger beds are not drawn: at this one a page has 40 million pixels. */
const MOST_MM2 = 72_000;

const began = Date.now();
const folder = mkdtempSync(join(tmpdir(), 'snugline-formats-'));
const read: Read[] = [];
const drawn: Compared[] = [];
let [taken, toDraw, pockets, engraved] = [0, pictures, 0, 0];
/** Plans are taken one by one by as many as there are processors: each writes, lets read, draws, and throws away. */
const plans = plansOf(await loadClipper(), seed, count);
async function take(): Promise<void> {
  const programs = reader();
  try {
    for (let next = plans.next(); !next.done; next = plans.next()) {
      const { plan } = next.value;
      const k = ++taken;
      pockets += plan.pockets.length;
      const draws = plan.bed.widthMm * plan.bed.depthMm < MOST_MM2 && toDraw-- > 0;
      const own = join(folder, String(k));
      await writePlan(own, next.value);
      const told = await programs.read(own);
      read.push(told);
      const greatest = Math.max(...Object.values(told.programs).map((t) => t.greatest_mm));
      let words = `${greatest.toFixed(5)} mm`;
      if (draws) {
        if (next.value.files.engrave) engraved++;
        const bare = join(folder, `${k}-bare`);
        await writePlan(bare, next.value, false);
        for (const name of ['cut', 'artwork'] as const) {
          const found = await compared(bare, name, DPI);
          drawn.push(found);
          words += `; ${name} drawn: ${found.inked} pixels, ${found.lone} alone`;
        }
        rmSync(bare, { recursive: true });
      }
      console.log(`plan ${k} of ${count}: pockets ${plan.pockets.length}, off by ${words}`);
      for (const line of told.wrong.slice(0, 10)) console.log(`  ${line}`);
      rmSync(own, { recursive: true });
    }
  } finally {
    programs.end();
  }
}
try {
  await Promise.all(Array.from({ length: availableParallelism() }, take));
} finally {
  rmSync(folder, { recursive: true, force: true });
}

const wrong = read.reduce((n, { wrong }) => n + wrong.length, 0);
const [inked, alone] = [
  drawn.reduce((n, d) => n + d.inked, 0),
  drawn.reduce((n, d) => n + d.lone, 0),
];
console.log(`\n${read.length} plans (seed ${seed}), ${pockets} pockets`);
console.log('read by, format     drawings    lines   greatest difference');
for (const [program, { files, lines, greatest_mm }] of Object.entries(summed(read)))
  console.log(
    `${program.padEnd(18)} ${String(files).padStart(9)} ${String(lines).padStart(8)}   ${greatest_mm.toFixed(5)} mm`,
  );
console.log(
  `${drawn.length / 2} plans at ${DPI} dpi, ${engraved} of them with lines to score, four programs with each other: ${inked} inked pixels, ${alone} with none within one pixel in another program's picture`,
);
console.log(`${wrong} lines wrong; ${((Date.now() - began) / 1000).toFixed(0)} s`);
process.exit(wrong > 0 || alone > 0 ? 1 : 0);
