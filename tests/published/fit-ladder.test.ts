import { beforeAll, describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { ladderDrawing, ladderFiles } from '../../src/files/ladder.ts';
import { loadPdfjs } from '../../src/files/load-pdfjs-node.ts';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import {
  nearestOnSegment,
  perimeter,
  regionArea,
  ringDistance,
} from '../../src/geometry/measure.ts';
import { changed, NO_HISTORY, undo } from '../../src/job/history.ts';
import { newJob, readJob, writeJob } from '../../src/job/job.ts';
import { KERF_SQUARE_MM, ladderOf, type LadderSettings } from '../../src/plan/ladder.ts';
import { fitFor, kerfOf, startFor, withFit } from '../../src/pocket/fits.ts';
import { boardReasons } from '../../src/pocket/material.ts';
import type { PocketSettings } from '../../src/pocket/pocket.ts';
import { card } from '../outlines.ts';

let clipper: Clipper;
beforeAll(async () => {
  clipper = await loadClipper();
});

const settings: PocketSettings = {
  clearanceMm: 0.3,
  tool: { kind: 'beam', kerfMm: 0.2 },
  material: 'acrylic',
  bleedMm: 2,
  safeMm: 2,
};
const steps: LadderSettings = { leastMm: 0.05, stepMm: 0.05, steps: 6 };
const make = (patch: Partial<PocketSettings> = {}, ladder = steps) =>
  ladderOf(
    clipper,
    { outlineId: 'o', blank: 1, region: card },
    card,
    { ...settings, ...patch },
    ladder,
    4,
    { number: 'S-1', name: 'cards' },
  );

describe('fit ladder', () => {
  // ISO/IEC 7810 ID-1, corner 3.18 mm: A = 4612.0074 mm², P = 273.7005 mm; Steiner's formula for convex bodies.
  it('each pocket has the area that Steiner gives for its clearance, and the path half a kerf less', () => {
    const { plan, clearancesMm } = make();
    expect(clearancesMm).toEqual([0.05, 0.1, 0.15, 0.2, 0.25, 0.3]);
    plan.pockets.forEach((p, k) => {
      for (const [regions, d] of [
        [p.wall, clearancesMm[k]!],
        [p.cut, clearancesMm[k]! - 0.1],
      ] as const) {
        const want = 4612.0074 + 273.7005 * d + Math.PI * d * d;
        // The outline's own arcs are inscribed by 0.001 mm along 20 mm; the edge errs outward by 0.00005.
        expect(Math.abs(regionArea(regions[0]!) - want)).toBeLessThan(0.05);
      }
    });
  });

  it('says its number in lines that lie beside the pocket it counts, and leaves the wall between all it cuts', () => {
    const { plan, tallies, kerfSquare } = make();
    expect(tallies).toHaveLength(1 + 2 + 3 + 4 + 5 + 6);
    const counted = new Map<string, number>();
    for (const [a, b] of tallies) {
      const gaps = plan.pockets.map(({ id, wall }) => ({
        id,
        gap: Math.min(...wall[0]!.outer.map((p) => nearestOnSegment(a!, b!, p).distanceMm)),
      }));
      const { id, gap } = gaps.reduce((x, y) => (y.gap < x.gap ? y : x));
      expect(gap).toBeGreaterThan(1.9);
      counted.set(id, (counted.get(id) ?? 0) + 1);
    }
    expect([...counted]).toEqual(plan.pockets.map(({ id }) => [id, Number(id)]));
    const rings = [...plan.pockets.map((p) => p.wall[0]!.outer), kerfSquare!];
    rings.forEach((r, i) =>
      rings.slice(i + 1).forEach((q) => expect(ringDistance<'bed'>(r, q)).toBeGreaterThan(3.9)),
    );
    for (const { x, y } of rings.flat()) {
      expect(Math.min(x, y, plan.bed.widthMm - x, plan.bed.depthMm - y)).toBeGreaterThan(4);
    }
    expect(perimeter(kerfSquare!)).toBeCloseTo(4 * KERF_SQUARE_MM, 9);
  });

  it('leaves as DXF, SVG and PDF that independent readers read back within 0.001 mm', async () => {
    const files = await ladderFiles(make(), await loadPdfjs());
    expect(files.map((f) => f.name.slice(-3))).toEqual(['dxf', 'svg', 'pdf']);
    for (const { proof } of files) {
      expect(proof.pockets).toBe(6);
      expect(proof.greatestMm).toBeLessThanOrEqual(0.001);
    }
    expect(ladderDrawing(make()).notes[0]).toContain('4: 0.200');
  });

  it('is refused where a laser may not cut the board, and has no kerf square by hand', () => {
    expect(() => make({ material: 'pvc' })).toThrow(Refusal);
    expect(make({ tool: { kind: 'hand' } }).kerfSquare).toBeUndefined();
  });
});

describe('kerf test', () => {
  // A cutting shop's help page: kerf 0.2 mm, a hole drawn 2 x 4 mm comes out 2.2 x 4.2, the loose piece 1.8 x 3.8.
  it.each([
    [2.2, 1.8],
    [4.2, 3.8],
  ])('a hole of %d and a drop-out of %d mm mean a kerf of 0.2 mm', (hole, dropOut) => {
    const { kerfMm, u } = kerfOf(hole, dropOut, { sharedU: 0.017, eachU: 0.01 });
    expect(kerfMm).toBeCloseTo(0.2, 9);
    // GUM 5.1.2, two independent readings, sensitivity 1/2 each.
    expect(u).toBeCloseTo(Math.sqrt(2 * 0.25 * (0.017 ** 2 + 0.01 ** 2)), 9);
  });
});

describe('choosing a board', () => {
  // Cutting shops' public tables: acrylic 0.18 to 0.25 mm of kerf, MDF 0.15 to 0.25 mm. Clearances: common practice, no source.
  it('fills in kerf and clearance of what is common, or of what a test board showed', () => {
    const beam = { kind: 'beam', kerfMm: 0.5 } as const;
    for (const [id, least, most] of [
      ['acrylic', 0.18, 0.25],
      ['mdf', 0.15, 0.25],
    ] as const) {
      const { tool, clearanceMm } = startFor(id, beam, []);
      expect(tool).toMatchObject({ kind: 'beam' });
      const { kerfMm } = tool as { kerfMm: number };
      expect(kerfMm >= least && kerfMm <= most).toBe(true);
      expect(clearanceMm).toBe(0.2);
    }
    const known = {
      material: 'mdf',
      tool: 'beam',
      clearanceMm: 0.12,
      kerfMm: 0.31,
      on: '',
    } as const;
    expect(startFor('mdf', beam, [known])).toEqual({
      material: 'mdf',
      clearanceMm: 0.12,
      tool: { kind: 'beam', kerfMm: 0.31 },
    });
    // A mill's radius is the cutter's own, and of another board nothing is known.
    expect(startFor('mdf', { kind: 'mill', radiusMm: 1 }, [])).not.toHaveProperty('tool');
    expect(startFor('other', beam, [])).toEqual({ material: 'other' });
  });
});

describe('what was found', () => {
  it('is kept for that material and cutter, in the job file too, and can be undone', () => {
    const before = newJob('S-1', 'cards');
    const snug = {
      material: 'acrylic',
      tool: 'beam',
      clearanceMm: 0.2,
      stepMm: 0.05,
      on: '2026-03-14',
    } as const;
    const fits = withFit(withFit(before.fits ?? [], snug), {
      material: 'acrylic',
      tool: 'beam',
      kerfMm: 0.18,
      kerfU: 0.01,
      on: '2026-03-15',
    });
    const after = { ...before, fits };
    expect(fitFor(fits, { material: 'acrylic' }, 'beam')).toMatchObject({
      clearanceMm: 0.2,
      kerfMm: 0.18,
    });
    expect(fitFor(fits, { material: 'acrylic' }, 'mill')).toBeUndefined();
    expect(readJob(writeJob(after)).fits).toEqual(fits);
    const bad = writeJob(after).replace('"acrylic"', '"sponge"');
    expect(() => readJob(bad)).toThrow(Refusal);
    const history = changed(NO_HISTORY, before, after, 0);
    expect(history.done[0]!.words).toContain('what fits');
    expect(undo(history, after)!.job).toEqual(before);
  });
});

it('a board of her own fills in her figures; what its test board showed goes before them, and stays with it', () => {
  const stock = { name: 'blue 5', material: 'acrylic', clearanceMm: 0.17, kerfMm: 0.21 } as const;
  const beam = { kind: 'beam', kerfMm: 0.15 } as const;
  expect(startFor('acrylic', beam, [], stock)).toEqual({
    ...{ material: 'acrylic', stock, clearanceMm: 0.17, tool: { kind: 'beam', kerfMm: 0.21 } },
  });
  const found = { material: 'acrylic', tool: 'beam', on: '2026-03-14' } as const;
  const fits = withFit(withFit([], { ...found, clearanceMm: 0.3 }), {
    ...found,
    stock: 'blue 5',
    clearanceMm: 0.12,
  });
  expect(startFor('acrylic', beam, fits, stock).clearanceMm).toBe(0.12);
  expect(startFor('acrylic', beam, fits).clearanceMm).toBe(0.3);
  // Of a named board that was not tried, its material's test is the better guess than a table.
  expect(
    fitFor(fits, { material: 'acrylic', stock: { ...stock, name: 'red 3' } }, 'beam'),
  ).toMatchObject({ clearanceMm: 0.3 });
  // No name lets a laser cut what no laser may cut.
  const vinyl = startFor('vinyl', beam, [], { name: 'safe stuff', material: 'vinyl' });
  expect(boardReasons(vinyl.material, beam).map((r) => r.code)).toEqual(['board-not-by-laser']);
  const job = newJob('1', 'a');
  const kept = readJob(writeJob({ ...job, pocket: { ...job.pocket, ...vinyl }, fits }));
  expect(kept.pocket.stock).toEqual({ name: 'safe stuff', material: 'vinyl' });
});
