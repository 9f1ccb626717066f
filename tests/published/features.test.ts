import { describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import type { Dimension, Feature } from '../../src/check/check.ts';
import { measure, toBlank, toSheet } from '../../src/check/feature.ts';
import { fitCircle } from '../../src/geometry/circle.ts';
import type { Region } from '../../src/geometry/shape.ts';
import type { Outline } from '../../src/outline/outline.ts';
import { card, modeOf, outlineOf, plaque } from '../outlines.ts';
import { arc, sampled } from '../shapes.ts';

const codeOf = (work: () => unknown): string => {
  try {
    work();
  } catch (error) {
    if (error instanceof Refusal) return error.reason.code;
    throw error;
  }
  return 'taken';
};
const hole = (x: number, y: number, r: number) =>
  arc<'sheet'>({ x, y }, r, 0, -2 * Math.PI, 0.001).slice(0, -1);

/** A board 80 x 50 with filing holes 6 mm wide, 60 mm apart, and a slot 20 x 4.2 with square ends. */
const board: Region<'sheet'> = {
  outer: [
    { x: 20, y: 30 },
    { x: 100, y: 30 },
    { x: 100, y: 80 },
    { x: 20, y: 80 },
  ],
  holes: [
    hole(30, 40, 3),
    hole(90, 40, 3),
    [
      { x: 50, y: 60 },
      { x: 50, y: 64.2 },
      { x: 70, y: 64.2 },
      { x: 70, y: 60 },
    ],
  ],
};
/** A bone: a waist of 15 mm, 30 mm long from bulge to bulge, in closed form y = ±(10 - 2.5 (1 + cos(pi x / 15)) / 1). */
const waist: Region<'sheet'> = {
  outer: [
    ...Array.from({ length: 241 }, (_, k) => {
      const x = -30 + k / 4;
      return { x, y: -(10 - 1.25 * (1 + Math.cos((Math.PI * x) / 15))) };
    }),
    ...Array.from({ length: 241 }, (_, k) => {
      const x = 30 - k / 4;
      return { x, y: 10 - 1.25 * (1 + Math.cos((Math.PI * x) / 15)) };
    }),
  ],
  holes: [],
};
const of = (
  outline: Outline,
  feature: (at: (x: number, y: number) => { x: number; y: number }) => Feature,
) =>
  measure(
    outline,
    feature((x, y) => toBlank(outline, { x, y })),
  );

describe('circle of least squares', () => {
  // Gander, Golub, Strebel, BIT 34 (1994), example of section 2: geometric fit (from memory).
  it('fits the six points of the paper', () => {
    const points = [
      [1, 7],
      [2, 6],
      [5, 8],
      [7, 7],
      [9, 5],
      [3, 7],
    ].map(([x, y]) => ({ x: x!, y: y! }));
    const found = fitCircle(points)!;
    expect(found.centre.x).toBeCloseTo(4.7398, 4);
    expect(found.centre.y).toBeCloseTo(2.9835, 4);
    expect(found.radiusMm).toBeCloseTo(4.7142, 4);
  });
  it('finds none through points on a line', () => {
    expect(fitCircle([0, 1, 2, 3].map((x) => ({ x, y: 2 * x })))).toBeUndefined();
  });
});

describe('sizes in closed form', () => {
  const outline = outlineOf(board);
  it('edge to edge over material, wherever along the edges the jaws are laid', () => {
    const found = of(outline, (at) => ({ kind: 'edges', a: at(41, 29.4), b: at(47, 81) }));
    expect(found.kind).toBe('edges');
    expect(found.valueMm).toBeCloseTo(50, 9);
    expect(Math.abs(Math.sin(found.directionRad))).toBeCloseTo(1, 9);
  });
  it('from the rim of the board to the slot', () => {
    const found = of(outline, (at) => ({ kind: 'edges', a: at(60, 30), b: at(58, 60) }));
    expect(found.valueMm).toBeCloseTo(30, 9);
  });
  it('inside a slot', () => {
    const found = of(outline, (at) => ({ kind: 'edges', a: at(58, 60.3), b: at(61, 64) }));
    expect(found.kind).toBe('slot');
    expect(found.valueMm).toBeCloseTo(4.2, 9);
  });
  it('the least of a waist and the most of a bulge: 15 and 20', () => {
    const bone = outlineOf(waist);
    const at = (x: number): Dimension =>
      of(bone, (p) => ({ kind: 'edges', a: p(x + 1.3, -9), b: p(x - 0.9, 9) }));
    expect(at(0).valueMm).toBeCloseTo(15, 2);
    expect(at(-15).valueMm).toBeCloseTo(20, 2);
  });
  it('diameter and distance of filing holes (ISO 838: 6 mm; here 60 mm apart)', () => {
    const diameter = of(outline, (at) => ({ kind: 'hole', at: at(31, 41) }));
    // The polygon through points of the circle lies up to 0.001 mm inside it.
    expect(Math.abs(diameter.valueMm - 6)).toBeLessThan(0.002);
    const apart = of(outline, (at) => ({ kind: 'holes', a: at(30, 40), b: at(88, 40) }));
    expect(apart.valueMm).toBeCloseTo(60, 9);
  });
  it('corner radius 3.18 of a card (ISO/IEC 7813)', () => {
    const found = of(outlineOf(card), (at) => {
      const box = card.outer.reduce((a, p) => ({ x: Math.max(a.x, p.x), y: Math.max(a.y, p.y) }));
      return { kind: 'radius', at: at(box.x - 0.93, box.y - 0.93) };
    });
    // The stretch grows until it leaves the circle by half the roundness asked for: that far into the straight sides.
    expect(Math.abs(found.valueMm - 3.18)).toBeLessThan(0.12);
  });
  it('follows the blank when the picture shows its back', () => {
    const mirrored = {
      ...outlineOf({
        outer: [...board.outer].reverse().map(({ x, y }) => ({ x: 120 - x, y })),
        holes: board.holes.map((h) => [...h].reverse().map(({ x, y }) => ({ x: 120 - x, y }))),
      }),
      mirrored: true,
    };
    const feature: Feature = {
      kind: 'edges',
      a: toBlank(outline, { x: 60, y: 30 }),
      b: toBlank(outline, { x: 58, y: 60 }),
    };
    expect(measure(mirrored, feature).valueMm).toBeCloseTo(measure(outline, feature).valueMm, 9);
    const p = toSheet(mirrored, feature.a);
    expect(toBlank(mirrored, p)).toEqual(feature.a);
  });
});

describe('what cannot be measured is said', () => {
  const outline = outlineOf(board);
  it.each<
    [string, Outline, (at: (x: number, y: number) => { x: number; y: number }) => Feature, string]
  >([
    [
      'one place',
      outline,
      (at) => ({ kind: 'edges', a: at(60, 30), b: at(60, 29.9) }),
      'edges-one',
    ],
    [
      'edges square to each other',
      outline,
      (at) => ({ kind: 'edges', a: at(60, 30), b: at(100, 55) }),
      'edges-no-hold',
    ],
    ['no hole', outlineOf(card), () => ({ kind: 'hole', at: { x: 0, y: 0 } }), 'hole-none'],
    ['a slot', outline, (at) => ({ kind: 'hole', at: at(60, 62) }), 'hole-not-round'],
    ['a straight side', outline, (at) => ({ kind: 'radius', at: at(60, 30) }), 'corner-not-round'],
    [
      'one hole twice',
      outline,
      (at) => ({ kind: 'holes', a: at(30, 40), b: at(31, 40) }),
      'edges-one',
    ],
  ])('%s', (_, shape, feature, code) => {
    expect(codeOf(() => of(shape, feature))).toBe(code);
  });
});

describe('uncertainty', () => {
  const modes = [
    modeOf(plaque, 'spans', (x, y) => [(x - 100) * 1e-3, (y - 150) * 4e-4]),
    modeOf(plaque, 'thickness', (x, y) => [2e-5 * (x - 110) ** 2, 1e-5 * (x - 110) * (y - 150)]),
    modeOf(plaque, 'lens', (x, y) => [0.02 * Math.sin(y / 9), 0.02 * Math.cos(x / 11)]),
  ];
  const outline = outlineOf(plaque, { modes });
  const features: Feature[] = [
    { kind: 'main', side: 'width' },
    { kind: 'across', directionRad: 0.7 },
    { kind: 'edges', a: { x: 0, y: -28 }, b: { x: 1, y: 28 } },
    { kind: 'hole', at: { x: 0, y: 18 } },
  ];
  // Second implementation: the outline is really moved by the mode, and measured again.
  it.each(features)('$kind moves with each mode as an outline does that is moved', (feature) => {
    const before = measure(outline, feature);
    const eps = 0.02;
    modes.forEach(({ dx, dy }, m) => {
      let k = 0;
      const ring = (r: Region<'sheet'>['outer']) =>
        r.map(({ x, y }) => {
          const p = { x: x + eps * dx[k]!, y: y + eps * dy[k]! };
          k++;
          return p;
        });
      const moved = {
        ...outline,
        region: { outer: ring(plaque.outer), holes: plaque.holes.map(ring) },
      };
      const slope = (measure(moved, feature).valueMm - before.valueMm) / eps;
      // A jaw's mean contact is up to 0.01 mm deep: sensitivities differ by what a mode changes over it.
      expect(Math.abs(slope - before.shifts[m]!)).toBeLessThan(2e-3 + 0.02 * Math.abs(slope));
    });
  });

  it('of a hole by its circle is that of the mean of its independent places', () => {
    const still = outlineOf(plaque, { edgeU: 0.02, modes: [] });
    still.u.forEach((ring) => ring.fill(0.02));
    const { u } = measure(still, { kind: 'hole', at: { x: 0, y: 18 } });
    // Radius from n places of 0.02 each: 0.02 / sqrt(n); the diameter is twice that. n = 6 pi / 0.6 mm.
    expect(u / ((2 * 0.02) / Math.sqrt((6 * Math.PI) / 0.6))).toBeGreaterThan(0.9);
    expect(u / ((2 * 0.02) / Math.sqrt((6 * Math.PI) / 0.6))).toBeLessThan(1.1);
  });

  it('of a radius is as its scatter over 300 noisy arcs', () => {
    // Noise independent from one 0.6 mm to the next, as the edge's own is taken to be.
    let seed = 7;
    const uniform = (): number => (seed = (seed * 48271) % 2147483647) / 2147483647;
    const normal = (): number =>
      Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
    const drawn = Array.from({ length: 300 }, () => {
      const lumps = Array.from({ length: 105 }, () => 0.01 * normal());
      const outer = sampled(628, (t) => {
        const r = 10 + lumps[Math.min(104, Math.floor((t * 10) / 0.6))]!;
        return [r * Math.cos(t), r * Math.sin(t)];
      });
      return fitCircle(outer.slice(0, 157))!.radiusMm;
    });
    const mean = drawn.reduce((a, b) => a + b, 0) / drawn.length;
    const scatter = Math.sqrt(drawn.reduce((a, b) => a + (b - mean) ** 2, 0) / drawn.length);
    // A quarter of the circle, its weights of the same fit.
    const quarter = sampled(628, (t) => [10 * Math.cos(t), 10 * Math.sin(t)]).slice(0, 157);
    const { weights } = fitCircle(quarter)!;
    const predicted = 0.01 * Math.sqrt(weights[2].reduce((s, w) => s + w * w, 0) * 6);
    expect(predicted / scatter).toBeGreaterThan(0.85);
    expect(predicted / scatter).toBeLessThan(1.15);
  });
});
