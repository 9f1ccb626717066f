import { describe, expect, it } from 'vitest';
import {
  centroid,
  feret,
  hull,
  inside,
  perimeter,
  regionArea,
  resample,
  ringDistance,
  selfCrossing,
  smallestRectangle,
} from '../../src/geometry/measure.ts';
import type { Ring } from '../../src/geometry/shape.ts';
import { arc, sampled } from '../shapes.ts';

/*
 * Figures with answers in closed form. Areas and lengths: closed forms named at each row (ellipse perimeter: complete
 * elliptic integral). A polygon with vertices on the curve is too small by about (sag · length); the tolerances allow
 * for that and no more: 2 pi²/3 · area / N² for a curve sampled at N equal angles.
 */
const N = 8000;
const stadium: Ring<'sheet'> = [
  ...arc<'sheet'>({ x: 60, y: 10 }, 10, -Math.PI / 2, Math.PI, 1e-6),
  ...arc<'sheet'>({ x: 0, y: 10 }, 10, Math.PI / 2, Math.PI, 1e-6),
];
/** Three arcs of radius 40 about the corners of an equilateral triangle of side 40. */
const reuleaux: Ring<'sheet'> = [0, 1, 2].flatMap((k) => {
  const corner = (i: number): { x: number; y: number } => {
    const a = Math.PI / 2 + (2 * Math.PI * i) / 3;
    const r = 40 / Math.sqrt(3);
    return { x: r * Math.cos(a), y: r * Math.sin(a) };
  };
  const c = corner(k + 2);
  const from = corner(k);
  return arc<'sheet'>(c, 40, Math.atan2(from.y - c.y, from.x - c.x), Math.PI / 3, 1e-7).slice(
    0,
    -1,
  );
});
const polygon = (n: number, side: number): Ring<'sheet'> =>
  sampled(n, (t) => {
    const r = side / (2 * Math.sin(Math.PI / n));
    return [r * Math.cos(t), r * Math.sin(t)];
  });
const ellipse = (a: number, b: number): Ring<'sheet'> =>
  sampled(N, (t) => [a * Math.cos(t), b * Math.sin(t)]);
const superellipse = (a: number, b: number, n: number): Ring<'sheet'> =>
  sampled(N, (t) => {
    const power = (v: number): number => Math.sign(v) * Math.abs(v) ** (2 / n);
    return [a * power(Math.cos(t)), b * power(Math.sin(t))];
  });

interface Row {
  readonly name: string;
  readonly ring: Ring<'sheet'>;
  readonly area: number;
  readonly perimeter: number;
  readonly largest?: number;
  readonly smallest?: number;
  readonly rectangle?: number;
}
const rows: Row[] = [
  {
    name: 'Reuleaux triangle, width 40',
    ring: reuleaux,
    area: 1127.63348,
    perimeter: 125.66371,
    largest: 40,
    smallest: 40,
    rectangle: 1600,
  },
  {
    name: 'ellipse 50, 30',
    ring: ellipse(50, 30),
    area: 4712.38898,
    perimeter: 255.26998863,
    largest: 100,
    smallest: 60,
    rectangle: 6000,
  },
  {
    name: 'ellipse 50, 10',
    ring: ellipse(50, 10),
    area: 1570.79633,
    perimeter: 210.1004454,
    largest: 100,
    smallest: 20,
    rectangle: 2000,
  },
  {
    name: 'superellipse 30, 20, n 4',
    ring: superellipse(30, 20, 4),
    area: 2224.88961,
    perimeter: 176.21115,
    largest: 62.76578,
    smallest: 40,
  },
  {
    name: 'superellipse 30, 20, n 2.5',
    ring: superellipse(30, 20, 2.5),
    area: 2028.56122,
    perimeter: 164.91483,
    largest: 60.10325,
    smallest: 40,
  },
  {
    name: 'astroid, a 30',
    ring: superellipse(30, 30, 2 / 3),
    area: 1060.28752,
    perimeter: 180,
    largest: 60,
    smallest: 42.42641,
    rectangle: 1800,
  },
  {
    name: 'cardioid, a 10',
    ring: sampled(N, (t) => [
      10 * (1 + Math.cos(t)) * Math.cos(t),
      10 * (1 + Math.cos(t)) * Math.sin(t),
    ]),
    area: 471.2389,
    perimeter: 80,
    largest: 25.98076,
    smallest: 22.5,
  },
  {
    name: 'equilateral triangle, side 10',
    ring: polygon(3, 10),
    area: 43.30127,
    perimeter: 30,
    largest: 10,
    smallest: 8.66025,
    rectangle: 86.60254,
  },
  {
    name: 'regular pentagon, side 10',
    ring: polygon(5, 10),
    area: 172.04774,
    perimeter: 50,
    largest: 16.18034,
    smallest: 15.38842,
    rectangle: 248.98983,
  },
  {
    name: 'regular hexagon, side 10',
    ring: polygon(6, 10),
    area: 259.80762,
    perimeter: 60,
    largest: 20,
    smallest: 17.32051,
    rectangle: 346.41016,
  },
  {
    name: 'regular heptagon, side 10',
    ring: polygon(7, 10),
    area: 363.39124,
    perimeter: 70,
    largest: 22.4698,
    smallest: 21.90643,
    rectangle: 492.23304,
  },
  {
    name: 'right triangle 30, 40, 50',
    ring: [
      { x: 0, y: 0 },
      { x: 40, y: 0 },
      { x: 0, y: 30 },
    ],
    area: 600,
    perimeter: 120,
    largest: 50,
    smallest: 24,
    rectangle: 1200,
  },
  {
    name: 'stadium, straight 60, R 10',
    ring: stadium,
    area: 1514.15927,
    perimeter: 182.83185,
    largest: 80,
    smallest: 20,
    rectangle: 1600,
  },
];

describe.each(rows)('$name', ({ ring, area, perimeter: length, largest, smallest, rectangle }) => {
  it('has its area and perimeter', () => {
    expect(Math.abs(regionArea({ outer: ring, holes: [] }) - area)).toBeLessThan(6e-4);
    expect(Math.abs(perimeter(ring) - length)).toBeLessThan(1e-4);
  });

  it('has its largest and smallest width between jaws', () => {
    const corners = hull(ring);
    const widths = Array.from({ length: 3600 }, (_, k) => feret(corners, (k * Math.PI) / 3600));
    // A step of 1/20 degree misses a corner's extreme by less than w/2 · (step/2)², at a hull edge by w · step/2.
    if (largest) expect(Math.abs(Math.max(...widths) - largest)).toBeLessThan(2e-5);
    if (smallest) expect(Math.abs(Math.min(...widths) - smallest)).toBeLessThan(0.027);
    // Cauchy: the mean width of a convex shape is its perimeter over pi.
    const mean = widths.reduce((sum, w) => sum + w, 0) / widths.length;
    expect(Math.abs(mean - perimeter(corners) / Math.PI)).toBeLessThan(1e-4);
  });

  it.runIf(rectangle)('has its smallest rectangle', () => {
    const { longMm, shortMm } = smallestRectangle(ring);
    expect(Math.abs(longMm * shortMm - rectangle!)).toBeLessThan(2e-3);
  });
});

describe('other measures', () => {
  it('puts the centroid of a half disc 4 R / (3 pi) from its diameter', () => {
    const half = arc<'sheet'>({ x: 300, y: 200 }, 10, 0, Math.PI, 1e-7);
    const c = centroid(half);
    expect(c.x).toBeCloseTo(300, 6);
    expect(c.y).toBeCloseTo(200 + 40 / (3 * Math.PI), 5);
  });

  it('tells crossing rings from plain ones', () => {
    expect(selfCrossing(stadium)).toBeUndefined();
    const tie: Ring<'sheet'> = [
      { x: 0, y: 0 },
      { x: 10, y: 10 },
      { x: 10, y: 0 },
      { x: 0, y: 10 },
    ];
    expect(selfCrossing(tie)).toEqual([0, 2]);
  });

  it('measures the distance between two rings, 0 where one holds the other', () => {
    const square = (x: number, side: number): Ring<'sheet'> => [
      { x, y: 0 },
      { x: x + side, y: 0 },
      { x: x + side, y: side },
      { x, y: side },
    ];
    expect(ringDistance(square(0, 10), square(13.5, 10))).toBeCloseTo(3.5, 12);
    expect(ringDistance(square(0, 10), square(5, 10))).toBe(0);
    expect(
      ringDistance(
        square(-50, 100),
        square(5, 10).map(({ x, y }) => ({ x, y: y + 20 })),
      ),
    ).toBe(0);
    const [a, b] = [square(0, 10), square(13, 10).map(({ x, y }) => ({ x, y: y + 14 }))];
    expect(ringDistance(a, b)).toBeCloseTo(5, 12); // the 3-4-5 triangle between two corners
  });

  it('resamples at equal steps', () => {
    const points = resample(ellipse(50, 30), 0.5);
    expect(points.length).toBe(Math.ceil(255.26998863 / 0.5));
    for (let k = 0; k < points.length; k++) {
      const p = points[k]!;
      const q = points[(k + 1) % points.length]!;
      expect(Math.hypot(q.x - p.x, q.y - p.y)).toBeCloseTo(255.26998863 / points.length, 3);
      expect(inside(ellipse(50.01, 30.01), p)).toBe(true);
    }
  });
});
