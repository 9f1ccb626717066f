import { beforeAll, expect, it } from 'vitest';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { nearestOnRing, regionArea } from '../../src/geometry/measure.ts';
import type { Region } from '../../src/geometry/shape.ts';
import { pocketOf } from '../../src/pocket/pocket-of.ts';

let clipper: Clipper;
beforeAll(async () => {
  clipper = await loadClipper();
});

/** A long wedge with the corner of angle a at the origin, its other corners far away and blunt. */
function wedge(a: number): Region<'sheet'> {
  const length = 100;
  const half = a / 2;
  const at = (r: number, t: number) => ({ x: r * Math.cos(t), y: r * Math.sin(t) });
  // Beyond the two sides a wide arc closes the shape: its corners are at least 90 degrees.
  const arc = Array.from({ length: 400 }, (_, k) => at(length, -half + (a * k) / 399));
  return { outer: [{ x: 0, y: 0 }, ...arc], holes: [] };
}

/*
 * What a round cutter of radius r leaves in an inner corner of angle a: depth r (1 / sin(a/2) - 1), area
 * r² (cot(a/2) - (pi - a)/2). Closed form.
 */
it.each([
  [30, 2.863703, 2.423054],
  [45, 1.613126, 1.236116],
  [60, 1.0, 0.684853],
  [90, 0.414214, 0.214602],
  [120, 0.154701, 0.053751],
  [150, 0.035276, 0.00615],
])('corner of %d degrees: depth %d r, area %d r²', (degrees, depth, area) => {
  const radiusMm = 2;
  const shape = wedge((degrees * Math.PI) / 180);
  const pocket = pocketOf(clipper, { outlineId: 'w', blank: 1, region: shape }, shape, {
    clearanceMm: 0,
    tool: { kind: 'mill', radiusMm },
    bleedMm: 1,
    safeMm: 1,
  });
  // The corner at the wedge's tip is the leftmost of what is left.
  const left = [...pocket.unreached].sort(
    (p, q) => Math.min(...p.outer.map(({ x }) => x)) - Math.min(...q.outer.map(({ x }) => x)),
  )[0]!;
  // The path errs outward by up to 0.001 mm, and 1/sin(a/2) multiplies that at the tip.
  expect(regionArea(left)).toBeGreaterThan(area * radiusMm ** 2 * 0.97 - 0.01);
  expect(regionArea(left)).toBeLessThan(area * radiusMm ** 2 + 0.01);
  const tip = pocket.wall[0]!.outer.reduce((p, q) => (q.x < p.x ? q : p));
  const gap = nearestOnRing(pocket.cut[0]!.outer, tip).distanceMm - radiusMm;
  expect(Math.abs(gap - depth * radiusMm)).toBeLessThan(0.005);
  // Up to 90 degrees the tip is the worst corner of the shape, and the one that is reported.
  const told = Number(pocket.reasons.find(({ code }) => code === 'corner-blocks')!.facts.depthMm);
  if (degrees <= 90) expect(Math.abs(told - depth * radiusMm)).toBeLessThan(0.012);
});

it('a beam leaves corners as they are, and a fine cutter is not complained about', () => {
  const square: Region<'sheet'> = {
    outer: [
      { x: 0, y: 0 },
      { x: 40, y: 0 },
      { x: 40, y: 40 },
      { x: 0, y: 40 },
    ],
    holes: [],
  };
  const make = (tool: Parameters<typeof pocketOf>[3]['tool'], clearanceMm: number) =>
    pocketOf(clipper, { outlineId: 's', blank: 1, region: square }, square, {
      clearanceMm,
      tool,
      bleedMm: 1,
      safeMm: 1,
    });
  expect(make({ kind: 'beam', kerfMm: 0.3 }, 0.2).reasons).toEqual([]);
  // The wall's own corner is round with the clearance as radius: 0.5 mm is followed by a cutter of 0.5 mm.
  expect(make({ kind: 'mill', radiusMm: 0.5 }, 0.5).reasons).toEqual([]);
  // A larger one misses (r - c)(1/sin 45° - 1) of the wall; the blank's corner, c farther in, still clears it.
  const note = make({ kind: 'mill', radiusMm: 1 }, 0.5).reasons;
  expect(note.map(({ code }) => code)).toEqual(['corner-unreached']);
  expect(Number(note[0]!.facts.depthMm)).toBeCloseTo(0.5 * (Math.SQRT2 - 1), 2);
});
