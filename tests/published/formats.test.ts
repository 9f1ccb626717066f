import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { afterAll, expect, it } from 'vitest';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { plansOf, writePlan } from '../formats/plans.ts';
import { canRead, reader, summed } from '../formats/read.ts';

const there = canRead();
if (!there)
  console.log(
    'left out: plans read by ezdxf, librsvg, poppler and Ghostscript, not all of which are installed',
  );
const folder = mkdtempSync(`${tmpdir()}/snugline-`);
afterAll(() => rmSync(folder, { recursive: true }));

// The whole campaign is `npm run formats`.
it.runIf(there)(
  'three random plans say the same in every format, by programs that share no code with ours',
  async () => {
    const programs = reader();
    const read = [];
    const corners = [];
    for (const one of plansOf(await loadClipper(), 11, 3)) {
      await writePlan(folder, one);
      read.push(await programs.read(folder));
      corners.push(one.plan.pocketSettings.corners);
    }
    programs.end();
    expect(corners).toContain('arcs');
    expect(read.map(({ wrong }) => wrong)).toEqual([[], [], []]);
    const sums = Object.values(summed(read));
    expect(sums).toHaveLength(4);
    for (const { lines, greatest_mm } of sums) {
      expect(lines).toBeGreaterThan(40);
      expect(greatest_mm).toBeLessThanOrEqual(0.001);
    }
  },
  120_000,
);
