import { beforeAll, describe, expect, it } from 'vitest';
import { ARC_TOLERANCE_MM, type Clipper } from '../../src/geometry/clipper.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { perimeter, regionArea } from '../../src/geometry/measure.ts';
import type { Ring } from '../../src/geometry/shape.ts';
import { roundedRectangle } from '../shapes.ts';

let clipper: Clipper;
beforeAll(async () => {
  clipper = await loadClipper();
});

/** Area and perimeter of the one region that an offset leaves. */
function grown(ring: Ring<'sheet'>, d: number, err: 'outward' | 'inward') {
  const out = clipper.offset([{ outer: ring, holes: [] }], d, err);
  expect(out).toHaveLength(1);
  return { area: regionArea(out[0]!), perimeter: perimeter(out[0]!.outer) };
}

/**
 * Bounds on the area: the result lies between the true offset and one arc tolerance (and 10 nm of rounding) beyond
 * it on the side asked for, all along its edge.
 */
function bounds(area: number, length: number, err: 'outward' | 'inward'): [number, number] {
  const beyond = length * (ARC_TOLERANCE_MM + 1e-5);
  const rounding = length * 1e-5;
  return err === 'outward' ? [area - rounding, area + beyond] : [area - beyond, area + rounding];
}

describe('Steiner: an ID-1 card grown by d has the area A + P d + pi d²', () => {
  // Card 85.60 x 53.98 mm, corner radius 3.18: ISO/IEC 7810 and 7813. Steiner's formula: any text on convex bodies.
  const A = 4612.0074;
  const P = 273.7005;
  const card = roundedRectangle(85.6, 53.98, 3.18, 1e-5);

  it('has the area and the perimeter that follow from the standard', () => {
    expect(regionArea({ outer: card, holes: [] })).toBeCloseTo(A, 3);
    expect(perimeter(card)).toBeCloseTo(P, 3);
  });

  it.each([0.1, 0.3, 1, 5])('by %d mm', (d) => {
    const expected = A + P * d + Math.PI * d * d;
    const length = P + 2 * Math.PI * d;
    for (const err of ['outward', 'inward'] as const) {
      const [least, most] = bounds(expected, length, err);
      const { area, perimeter: p } = grown(card, d, err);
      // The card's own polygon is inscribed by 1e-5 mm.
      expect(area).toBeGreaterThan(least - P * 1e-5);
      expect(area).toBeLessThan(most);
      expect(p).toBeCloseTo(length, 1);
    }
  });
});

describe('square and L shape', () => {
  // Closed form for round joins: A + P d + d² (sum of convex turns / 2 - sum over reflex turns of tan(turn / 2));
  // the same figures from GEOS (shapely 1.8.5, 64 segments a quadrant).
  const square: Ring<'sheet'> = [
    { x: 0, y: 0 },
    { x: 10, y: 0 },
    { x: 10, y: 10 },
    { x: 0, y: 10 },
  ];
  const ell: Ring<'sheet'> = [
    { x: 0, y: 0 },
    { x: 40, y: 0 },
    { x: 40, y: 15 },
    { x: 15, y: 15 },
    { x: 15, y: 40 },
    { x: 0, y: 40 },
  ];
  it.each([
    ['square', square, 0.5, 120.7854, 43.14159],
    ['square', square, 1, 143.14159, 46.28319],
    ['L', ell, 1, 1137.92699, 165.85398],
    ['L', ell, 3, 1481.34292, 177.56194],
    ['L', ell, -1, 819.2146, 151.5708],
  ] as const)('%s by %d mm', (_, ring, d, area, length) => {
    for (const err of ['outward', 'inward'] as const) {
      const [least, most] = bounds(area, length, err);
      const found = grown(ring, d, err);
      expect(found.area).toBeGreaterThan(least);
      expect(found.area).toBeLessThan(most);
      expect(found.perimeter).toBeCloseTo(length, 1);
    }
  });

  it('vanishes when shrunk by more than half its width', () => {
    expect(clipper.offset([{ outer: square, holes: [] }], -5.1, 'outward')).toEqual([]);
  });

  it('falls into two where the middle is narrow', () => {
    const dumb: Ring<'sheet'> = [
      [0, 0],
      [10, 0],
      [10, 4],
      [20, 4],
      [20, 0],
      [30, 0],
      [30, 10],
      [20, 10],
      [20, 6],
      [10, 6],
      [10, 10],
      [0, 10],
    ].map(([x, y]) => ({ x: x!, y: y! }));
    expect(clipper.offset([{ outer: dumb, holes: [] }], -1.5, 'outward')).toHaveLength(2);
  });
});
