/*
 * `npm run formats [-- --plans N] [--pictures N] [--seed N]`: random plans (500) written as DXF, SVG, PDF and EPS, read by ezdxf,
 * librsvg, poppler and Ghostscript, and every line held against the plan; a few of them (20) drawn at 600 dpi by three programs
 * and compared pixel by pixel. Ends with 1 when a line is off by more than 0.001 mm, or a pixel stands alone.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { drawn, lone } from './pixels.ts';
import { plansOf, writePlan } from './plans.ts';
import { readAll, type Told } from './read.ts';

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
/** Read at once: a folder each, thrown away after. */
const AT_ONCE = 25;

const began = Date.now();
const folder = mkdtempSync(join(tmpdir(), 'snugline-formats-'));
const sums = new Map<string, Told>();
let [wrong, pixels, alone] = [0, 0, 0];
try {
  const plans = plansOf(await loadClipper(), seed, count);
  console.log(
    `${plans.length} plans (seed ${seed}), ${plans.reduce((n, p) => n + p.plan.pockets.length, 0)} pockets`,
  );
  for (let from = 0; from < plans.length; from += AT_ONCE) {
    const part = plans.slice(from, from + AT_ONCE);
    const folders = part.map((_, k) => join(folder, String(from + k)));
    for (const [k, one] of part.entries()) await writePlan(folders[k]!, one);
    const told = readAll(folders);
    for (const [program, t] of Object.entries(told.programs)) {
      const s = sums.get(program) ?? { files: 0, lines: 0, greatest_mm: 0 };
      sums.set(program, {
        files: s.files + t.files,
        lines: s.lines + t.lines,
        greatest_mm: Math.max(s.greatest_mm, t.greatest_mm),
      });
    }
    wrong += told.count;
    for (const words of told.wrong.slice(0, 10)) console.log(words);
    for (const f of folders) rmSync(f, { recursive: true });
  }
  for (const [program, { files, lines, greatest_mm }] of sums)
    console.log(
      `${program}: ${lines} lines of ${files} drawings, greatest difference ${greatest_mm.toFixed(5)} mm`,
    );
  const small = plans.filter(({ plan: { bed } }) => bed.widthMm * bed.depthMm < MOST_MM2);
  for (const [k, one] of small.slice(0, pictures).entries()) {
    const own = join(folder, `picture-${k}`);
    await writePlan(own, one, false);
    for (const name of ['cut', 'artwork']) {
      const all = Object.entries(await drawn(own, name, DPI));
      for (const [a, p] of all)
        for (const [b, q] of all) {
          if (a === b) continue;
          const found = lone(p, q);
          pixels += found.inked;
          alone += found.lone;
          if (found.lone > 0)
            console.log(
              `plan ${k}, ${name}: ${found.lone} of ${found.inked} pixels of ${a} are not in ${b}`,
            );
        }
    }
    rmSync(own, { recursive: true });
  }
  if (pictures > 0)
    console.log(
      `${Math.min(pictures, small.length)} plans at ${DPI} dpi, three programs with each other: ${pixels} inked pixels, ${alone} with none within one pixel in another program's picture`,
    );
} finally {
  rmSync(folder, { recursive: true, force: true });
}
console.log(`${wrong} lines wrong; ${((Date.now() - began) / 1000).toFixed(0)} s`);
process.exit(wrong > 0 || alone > 0 ? 1 : 0);
