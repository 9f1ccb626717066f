import { beforeAll, describe, expect, it } from 'vitest';
import type { Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { regionArea } from '../../src/geometry/measure.ts';
import type { Region } from '../../src/geometry/shape.ts';
import { pocketOf } from '../../src/pocket/pocket-of.ts';
import type { Relief } from '../../src/pocket/pocket.ts';
import { pushed } from '../../src/pocket/widen.ts';
import { card, plaque } from '../outlines.ts';
import { squareOf } from '../support/square.ts';

let clipper: Clipper;
beforeAll(async () => {
  clipper = await loadClipper();
});

/** A wedge with its corner of angle a at the origin, one side along x, closed by a wide arc. */
function wedge(a: number): Region<'sheet'> {
  const arc = Array.from({ length: 400 }, (_, k) => {
    const t = (a * k) / 399;
    return { x: 100 * Math.cos(t), y: 100 * Math.sin(t) };
  });
  return { outer: [{ x: 0, y: 0 }, ...arc], holes: [] };
}

const milled = (shape: Region<'sheet'>, radiusMm: number, relief: Relief, clearanceMm = 0) =>
  pocketOf(clipper, { outlineId: 'w', blank: 1, region: shape }, shape, {
    clearanceMm,
    tool: { kind: 'mill', radiusMm },
    bleedMm: 1,
    safeMm: 1,
    relief,
  });

/* Travel from the path into a sharp corner of angle a, in cutter radii: 1/sin(a/2) - 1 along the bisector, cot(a/2) along a wall. Closed form. */
describe.each([
  [45, 1.613126, 2.414214],
  [60, 1.0, 1.732051],
  [90, 0.414214, 1.0],
  [120, 0.154701, 0.57735],
])('corner of %d degrees', (degrees, bisector, side) => {
  const radiusMm = 2;
  const shape = wedge((degrees * Math.PI) / 180);
  // The corner at the tip is the one whose relief begins nearest to it; coordinates count from the centroid.
  const travel = (relief: Relief): number => {
    const pocket = milled(shape, radiusMm, relief);
    const corner = pocket.print.outer[0]!;
    const [from, to] = [...pocket.relief].sort(
      ([a], [b]) =>
        Math.hypot(a.x - corner.x, a.y - corner.y) - Math.hypot(b.x - corner.x, b.y - corner.y),
    )[0]!;
    // Relief of a wall along x runs along x.
    if (relief === 'along-x') expect(Math.abs(to.y - from.y)).toBeLessThan(1e-3);
    return Math.hypot(to.x - from.x, to.y - from.y);
  };
  // The path errs outward by 0.001 mm, which 1/sin(a/2) and cot(a/2) multiply; near 1 radius across, sqrt(2 r 0.001) of it.
  it(`along the bisector ${bisector} r`, () => {
    expect(Math.abs(travel('bisector') - bisector * radiusMm)).toBeLessThan(0.006);
  });
  it(`along a wall ${side} r`, () => {
    const off = travel('along-x') - side * radiusMm;
    expect(off).toBeGreaterThan(-Math.sqrt(2 * radiusMm * 0.002) - 0.006);
    expect(off).toBeLessThan(0.006);
  });
});

it('relief opens no more of a square than the disc that clears its corner bites', () => {
  const square = squareOf(40);
  const area = (regions: readonly Region<'blank'>[]): number =>
    regions.reduce((sum, r) => sum + regionArea(r), 0);
  const none = milled(square, 1.5, 'none');
  expect(none.reasons.map((r) => r.code)).toContain('corner-blocks');
  for (const relief of ['bisector', 'along-x', 'along-y'] as const) {
    const { wall, opening, unreached, reasons, relief: lines } = milled(square, 1.5, relief);
    expect(lines).toHaveLength(4);
    expect(reasons.map((r) => r.code)).not.toContain('corner-blocks');
    expect(area(unreached)).toBeLessThan(0.01);
    const bitten = area(opening) - area(wall);
    expect(bitten).toBeGreaterThan(0.5);
    // Half a disc and a strip of its diameter as long as the travel hold everything that can be bitten.
    expect(bitten).toBeLessThan(4 * 1.5 ** 2 * (Math.PI / 2 + 2));
  }
  // Corners rounder than the cutter need none.
  expect(milled(square, 1.5, 'bisector', 1.6).relief).toEqual([]);
});

/* Steiner: a convex outline of area A and perimeter P grown by d has area A + P d + pi d². */
it('a pocket with the outline’s own uncertainty added everywhere alike has the area of Steiner’s formula', () => {
  const side = 10;
  const square: Region<'sheet'> = {
    outer: [
      { x: 0, y: 0 },
      { x: side, y: 0 },
      { x: side, y: side },
      { x: 0, y: side },
    ],
    holes: [],
  };
  const { wall, widened } = pocketOf(
    clipper,
    { outlineId: 's', blank: 1, region: square, band: [[0.2, 0.2, 0.2, 0.2]] },
    square,
    {
      clearanceMm: 0.3,
      tool: { kind: 'hand' },
      bleedMm: 1,
      safeMm: 1,
      widen: 'all',
    },
  );
  const area = regionArea(wall[0]!);
  // Published for d = 0.5: 120.78540; ours errs outward by at most the arc tolerance times the perimeter.
  expect(area).toBeGreaterThanOrEqual(120.7854 - 1e-4);
  expect(area).toBeLessThan(120.7854 + 0.001 * 43.2);
  expect(widened).toHaveLength(1);
  expect(widened[0]!.addedMm).toBe(0.2);
});

it('a stretch that runs round all vertices but one is widened along its whole length', () => {
  const square = squareOf(40);
  const { wall } = pocketOf(
    clipper,
    {
      outlineId: 's',
      blank: 1,
      region: square,
      band: [[0.4, 0.4, 0.4, 0.4]],
      hidden: [{ ring: 0, from: 3, to: 1 }],
    },
    square,
    {
      clearanceMm: 1,
      tool: { kind: 'hand' },
      bleedMm: 1,
      safeMm: 1,
      widen: 'hidden',
    },
  );
  const xs = wall[0]!.outer.map(({ x }) => x);
  const ys = wall[0]!.outer.map(({ y }) => y);
  // Sides next to a hidden vertex lie at clearance and addition: 20 + 1.4 from the middle.
  expect(Math.max(...xs)).toBeGreaterThanOrEqual(21.4 - 1e-6);
  expect(Math.min(...xs)).toBeLessThanOrEqual(-21.4 + 1e-6);
  expect(Math.min(...ys)).toBeLessThanOrEqual(-21.4 + 1e-6);
});

describe('more clearance one way', () => {
  const cut = (shape: Region<'sheet'>, clearanceMm: number, moreMm: readonly [number, number]) =>
    pocketOf(clipper, { outlineId: 'm', blank: 1, region: shape }, shape, {
      ...{ clearanceMm, moreMm, tool: { kind: 'beam', kerfMm: 0.2 }, bleedMm: 1, safeMm: 1 },
    });

  // A convex body with a box rolled round it: A + a h + b w + a b (Minkowski's mixed areas; textbook geometry).
  it.each([
    [0.3, 0.5, 0],
    [0.2, 0, 0.8],
    [0, 0.4, 0.7],
  ])('of a card, %d mm and %d, %d mm more, has the area of Minkowski’s sum', (c, x, y) => {
    const [w, h] = [85.6 + 2 * c, 53.98 + 2 * c];
    const grown = 4612.0074 + 273.7005 * c + Math.PI * c * c;
    const { wall } = cut(card, c, [x, y]);
    const area = wall.reduce((sum, r) => sum + regionArea(r), 0);
    expect(area).toBeCloseTo(grown + 2 * x * h + 2 * y * w + 4 * x * y, 1);
  });

  it('holds the blank pushed as far any way, with its clearance all round, and the path half a kerf inside', () => {
    const [c, x, y] = [0.3, 0.6, 0.2];
    const { wall, cut: path, print } = cut(plaque, c, [x, y]);
    for (const [dx, dy] of [
      [x, y],
      [-x, y],
      [x, -y],
      [-x, -y],
      [0, 0],
    ] as const) {
      const outer = print.outer.map((p) => ({ x: p.x + dx, y: p.y + dy }));
      const room = clipper.offset([{ outer, holes: [] }], c - 0.002, 'inward');
      expect(clipper.difference(room, wall)).toEqual([]);
    }
    const back = clipper.offset(path, 0.1, 'outward');
    expect(clipper.difference(back, clipper.offset(wall, 0.002, 'outward'))).toEqual([]);
    // Nothing is moved where nothing more is asked for.
    expect(pushed(clipper, wall, [0, 0])).toEqual(wall);
  });
});

describe('a stretch with a clearance of its own', () => {
  const square = squareOf(40);
  /** Along the upper side of the square, which runs from 40, 40 to 0, 40: between x = 30 and x = 10. */
  const made = (clearanceMm: number, own: number) => {
    const { wall, print } = pocketOf(
      clipper,
      { outlineId: 's', blank: 1, region: square },
      square,
      {
        ...{ clearanceMm, tool: { kind: 'hand' }, bleedMm: 1, safeMm: 1 },
        along: [
          { blank: 1, from: 50 / 160, to: 70 / 160, clearanceMm: own },
          { blank: 2, from: 0, to: 0.5, clearanceMm: 9 },
        ],
      },
    );
    // The blank frame counts from its middle; its rightmost vertex is the corner at 40, 0.
    const above = (x: number): number => {
      const ring = wall[0]!.outer;
      const ys = ring.flatMap((p, k) => {
        const q = ring[(k + 1) % ring.length]!;
        return p.x > x !== q.x > x ? [p.y + ((x - p.x) / (q.x - p.x)) * (q.y - p.y)] : [];
      });
      return Math.max(...ys) - Math.max(...print.outer.map((p) => p.y));
    };
    return (x: number): number => above(x - 20);
  };

  it('has it from end to end, and runs out by no more than one in four', () => {
    const above = made(0.3, 1.1);
    for (const x of [10, 14, 20, 26, 30]) expect(above(x)).toBeCloseTo(1.1, 2);
    for (const x of [33.4, 36, 39, 6.6, 3, 1]) expect(above(x)).toBeCloseTo(0.3, 2);
    // Between: a taper, never less than the rest asks for.
    for (const x of [31, 32, 33, 9, 8]) {
      expect(above(x)).toBeGreaterThanOrEqual(0.3);
      expect(above(x)).toBeLessThanOrEqual(1.1);
    }
  });

  it('has less of it only within, so that its neighbours keep theirs', () => {
    const above = made(0.8, 0.1);
    for (const x of [13, 16, 20, 24, 27]) expect(above(x)).toBeCloseTo(0.1, 2);
    for (const x of [30, 33, 38, 10, 7, 2]) expect(above(x)).toBeGreaterThanOrEqual(0.8 - 0.002);
  });
});
