import { beforeAll, expect, it } from 'vitest';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { nearestOnRing, regionArea } from '../../src/geometry/measure.ts';
import type { Region } from '../../src/geometry/shape.ts';
import { pocketOf } from '../../src/pocket/pocket-of.ts';
import { squareOf } from '../support/square.ts';

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
  const square = squareOf(40);
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

/*
 * Outside the line: the path of a square of side a, grown by c, encloses a² + 4 a (c + r) + pi (c + r)² (Steiner), and what lies
 * inside the tool's way, the path shrunk by r, is the pocket itself: what falls out has its size, and the board has not.
 */
it.each([
  [{ kind: 'beam', kerfMm: 0.2 } as const, 0.1],
  [{ kind: 'mill', radiusMm: 1.5 } as const, 1.5],
])('outside the line what falls out keeps the size of the pocket: %o', (tool, r) => {
  const square = squareOf(40);
  const seat = { outlineId: 's', blank: 1, region: square };
  const settings = { clearanceMm: 0.3, tool, bleedMm: 1, safeMm: 1, leadInMm: 2 };
  const pocket = pocketOf(clipper, seat, square, { ...settings, line: 'outside' });
  const grown = (by: number): number => 1600 + 160 * by + Math.PI * by * by;
  expect(regionArea(pocket.wall[0]!)).toBeCloseTo(grown(0.3), 1);
  expect(regionArea(pocket.cut[0]!)).toBeCloseTo(grown(0.3 + r), 1);
  expect(regionArea(pocket.opening[0]!)).toBeCloseTo(grown(0.3 + 2 * r), 1);
  for (const p of pocket.wall[0]!.outer)
    expect(Math.abs(nearestOnRing(pocket.cut[0]!.outer, p).distanceMm - r)).toBeLessThan(0.002);
  expect(pocket.unreached).toEqual([]);
  // No way in is cut through what is kept, and it is said with the figure.
  expect(pocket.trails.every(({ closed }) => closed)).toBe(true);
  const said = pocket.reasons.find(({ code }) => code === 'line-outside')!;
  expect(said.level).toBe('doubt');
  expect(said.message).toContain(`${2 * r} mm larger per side`);
  const blind = pocketOf(clipper, seat, square, { ...settings, line: 'outside', hold: 'blind' });
  expect(blind.reasons.find(({ code }) => code === 'line-outside-blind')!.level).toBe('refuse');
});
