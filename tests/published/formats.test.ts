import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, it } from 'vitest';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { plansOf, writePlan } from '../formats/plans.ts';
import { canRead, readAll } from '../formats/read.ts';

const there = canRead();
if (!there)
  console.log(
    'left out: plans read by ezdxf, librsvg, poppler and Ghostscript, not all of which are installed',
  );
const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
afterAll(() => rmSync(folder, { recursive: true }));

// The whole campaign is `npm run formats`.
it.runIf(there)(
  'three random plans say the same in every format, by programs that share no code with ours',
  async () => {
    const plans = plansOf(await loadClipper(), 7, 3);
    const folders = plans.map((_, k) => join(folder, String(k)));
    for (const [k, one] of plans.entries()) await writePlan(folders[k]!, one);
    const { programs, wrong } = readAll(folders);
    expect(wrong).toEqual([]);
    expect(Object.keys(programs)).toHaveLength(4);
    for (const { lines, greatest_mm } of Object.values(programs)) {
      expect(lines).toBeGreaterThan(40);
      expect(greatest_mm).toBeLessThanOrEqual(0.001);
    }
  },
  120_000,
);
