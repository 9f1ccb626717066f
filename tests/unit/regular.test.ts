/** Edges made straight, parallel, square, even and symmetric under turning: against the shapes they were made rough from. */
import { describe, expect, it } from 'vitest';
import type { Point } from '../../src/base/measure.ts';
import { flatten } from '../../src/geometry/curve.ts';
import { fitCurves } from '../../src/geometry/fit.ts';
import { centroid, signedArea } from '../../src/geometry/measure.ts';
import { Nearest } from '../../src/geometry/nearest.ts';
import type { CurveRing, Ring, Segment } from '../../src/geometry/shape.ts';
import { mended, offers, type Mend } from '../../src/outline/mend.ts';
import type { Outline } from '../../src/outline/outline.ts';
import type { Shape } from '../../src/outline/regular.ts';
import { divided } from '../../src/outline/trace.ts';
import { pictureOf } from '../../src/view/model.ts';
import type { Camera } from '../../src/view/view.ts';
import { outlineOf } from '../outlines.ts';
import { sampled } from '../shapes.ts';

type P = Point<'sheet'>;
const eye: Camera = {
  fPx: 3000,
  cxPx: 2000,
  cyPx: 1500,
  k1: 0,
  k2: 0,
  p1: 0,
  p2: 0,
  rotation: [1, 0, 0, 0, -1, 0, 0, 0, -1],
  centre: [100, 130, 303],
};

const line = (x: number, y: number): Segment<'sheet'> => ({ kind: 'line', to: { x, y } });
const curved = (start: P, ...segments: Segment<'sheet'>[]): CurveRing<'sheet'> => ({
  start,
  segments,
});
/** An outline of curves as they are. */
function of(outer: CurveRing<'sheet'>, holes: readonly CurveRing<'sheet'>[] = []): Outline {
  const ring = (c: CurveRing<'sheet'>): Ring<'sheet'> => divided(flatten(c, 0.0025));
  const region = { outer: ring(outer), holes: holes.map(ring) };
  return { ...outlineOf(region, { edgeU: 0.05 }), curves: { outer, holes } };
}
function made(o: Outline, shape: Shape, at: P): { outline: Outline; movedMm: number } {
  const mend: Mend = { picture: 'a', kind: 'regular', shape, at: pictureOf(eye, at.x, at.y, 3) };
  const { trace, effects } = mended(
    { outlines: [o], verdict: 'ok', reasons: [] },
    [mend],
    new Map([['a', eye]]),
  );
  const [effect] = effects;
  if (!effect || 'lost' in effect) throw new Error('lost');
  return { outline: trace.outlines[0]!, movedMm: effect.movedMm };
}
const directions = (c: CurveRing<'sheet'>): number[] => {
  const starts = [c.start, ...c.segments.map((s) => s.to)];
  return c.segments.flatMap((s, k) =>
    s.kind === 'line' ? [Math.atan2(s.to.y - starts[k]!.y, s.to.x - starts[k]!.x)] : [],
  );
};
const radii = (c: CurveRing<'sheet'>): number[] => {
  const starts = [c.start, ...c.segments.map((s) => s.to)];
  return c.segments.flatMap((s, k) =>
    s.kind === 'arc' ? [Math.hypot(starts[k]!.x - s.centre.x, starts[k]!.y - s.centre.y)] : [],
  );
};
/** Angles at which one piece follows another, radians. */
const bends = (c: CurveRing<'sheet'>): number[] => {
  const ring = flatten(c, 1e-5).filter((p, k, all) => {
    const q = all[(k + 1) % all.length]!;
    return Math.hypot(q.x - p.x, q.y - p.y) > 1e-6;
  });
  return ring.map((p, k) => {
    const [a, b] = [ring[(k + ring.length - 1) % ring.length]!, ring[(k + 1) % ring.length]!];
    return Math.abs(
      Math.atan2(
        (p.x - a.x) * (b.y - p.y) - (p.y - a.y) * (b.x - p.x),
        (p.x - a.x) * (b.x - p.x) + (p.y - a.y) * (b.y - p.y),
      ),
    );
  });
};

describe('a straight edge', () => {
  // A plate of 60 x 40 mm whose lower edge bows by 0.09 mm in two pieces.
  const bowed = curved(
    { x: 80, y: 110 },
    {
      kind: 'cubic',
      c1: { x: 90, y: 110.08 },
      c2: { x: 100, y: 110.12 },
      to: { x: 110, y: 110.12 },
    },
    { kind: 'cubic', c1: { x: 120, y: 110.12 }, c2: { x: 130, y: 110.08 }, to: { x: 140, y: 110 } },
    line(140, 150),
    line(80, 150),
    line(80, 110),
  );
  it('is offered with how far it moves the outline, and becomes one line between the same sides', () => {
    const o = of(bowed);
    const offer = offers(o).find((x) => x.shape === 'straight edge')!;
    expect(offer.movedMm).toBeGreaterThan(0.05);
    expect(offer.movedMm).toBeLessThan(0.1);
    expect(offer.movedMm).toBeLessThan(offer.U);
    const { outline, movedMm } = made(o, 'straight edge', { x: 110, y: 110 });
    expect(movedMm).toBeCloseTo(offer.movedMm, 2);
    expect(outline.curves.outer.segments.map((s) => s.kind)).toEqual(Array(4).fill('line'));
    // Of least squares: the line through the bow at its mean height, two thirds of about 0.12 mm.
    const low = outline.region.outer.filter((p) => p.y < 115 && p.x > 81 && p.x < 139);
    for (const p of low) expect(p.y).toBeCloseTo(110.08, 1);
  });
  it('leaves the other edges measured, and says which one it took for straight', () => {
    const { outline } = made(of(bowed), 'straight edge', { x: 110, y: 110 });
    expect(outline.byHand).toHaveLength(1);
    const { from, to } = outline.byHand![0]!;
    const ring = outline.region.outer;
    for (const k of [from, to]) expect(Math.abs(ring[k]!.y - 110)).toBeLessThan(0.2);
    const top = ring.findIndex((p) => Math.abs(p.y - 150) < 1e-6 && p.x > 90 && p.x < 130);
    expect(outline.u[0]![top]!).toBeLessThan(outline.u[0]![(from + 3) % ring.length]!);
  });
});

/** A plate with arcs at its corners, its sides turned by these angles (degrees) from 0, 90, 180 and 270. */
function plate(skew: readonly number[], r: readonly number[]): CurveRing<'sheet'> {
  const middles = [
    [110, 110],
    [150, 135],
    [110, 160],
    [70, 135],
  ] as const;
  const lines = middles.map(([x, y], k) => {
    const a = (k * Math.PI) / 2 + (skew[k]! * Math.PI) / 180;
    return { x, y, tx: Math.cos(a), ty: Math.sin(a) };
  });
  const segments: Segment<'sheet'>[] = [];
  let start: P | undefined;
  lines.forEach((l, k) => {
    const m = lines[(k + 1) % 4]!;
    const across = l.tx * m.ty - l.ty * m.tx;
    const t = ((m.x - l.x) * m.ty - (m.y - l.y) * m.tx) / across;
    const corner = { x: l.x + t * l.tx, y: l.y + t * l.ty };
    const turn = Math.atan2(across, l.tx * m.tx + l.ty * m.ty);
    const reach = r[k]! * Math.tan(turn / 2);
    const from = { x: corner.x - reach * l.tx, y: corner.y - reach * l.ty };
    const to = { x: corner.x + reach * m.tx, y: corner.y + reach * m.ty };
    segments.push({ kind: 'line', to: from });
    segments.push({
      kind: 'arc',
      to,
      centre: { x: from.x - r[k]! * l.ty, y: from.y + r[k]! * l.tx },
      sweepRad: turn,
    });
    if (k === 3) start = to;
  });
  return curved(start!, ...segments);
}

describe('parallel edges and right angles', () => {
  it('sides a little off become square, with the corners touching them as before', () => {
    const o = of(plate([0.1, -0.12, 0, 0.08], [5, 5, 5, 5]));
    const offer = offers(o).find((x) => x.shape === 'right angles')!;
    // Half of 60 mm of straight side, turned by about a tenth of a degree: 0.05 mm.
    expect(offer.movedMm).toBeGreaterThan(0.02);
    expect(offer.movedMm).toBeLessThan(0.09);
    const { outline } = made(o, 'right angles', o.region.outer[0]!);
    const [first, ...rest] = directions(outline.curves.outer);
    rest.forEach((a, k) =>
      expect(Math.abs(Math.sin(a - first! - ((k + 1) * Math.PI) / 2))).toBeLessThan(1e-9),
    );
    expect(Math.max(...bends(outline.curves.outer))).toBeLessThan(0.01);
    for (const r of radii(outline.curves.outer)) expect(r).toBeCloseTo(5, 9);
  });
  it('a trapezium gets its two parallel sides parallel and keeps the others', () => {
    const trapezium = curved(
      { x: 80, y: 110 },
      line(140, 110.05),
      line(125, 150),
      line(95, 150),
      line(80, 110),
    );
    const o = of(trapezium);
    expect(offers(o).some((x) => x.shape === 'right angles')).toBe(
      offers(o).some((x) => x.shape === 'parallel edges'),
    );
    const { outline } = made(o, 'parallel edges', o.region.outer[0]!);
    const [a, b, c, d] = directions(outline.curves.outer) as [number, number, number, number];
    expect(Math.abs(Math.sin(a - c))).toBeLessThan(1e-9);
    const was = directions(trapezium);
    expect(b).toBeCloseTo(was[1]!, 9);
    expect(d).toBeCloseTo(was[3]!, 9);
  });
  it('a plate that is far from square is not offered to be so', () => {
    expect(
      offers(of(plate([3, 0, -3, 0], [5, 5, 5, 5]))).some((x) => x.shape === 'right angles'),
    ).toBe(false);
  });
});

describe('equal radii', () => {
  const circle = (x: number, y: number, r: number): CurveRing<'sheet'> => {
    const centre = { x, y };
    return curved(
      { x: x + r, y },
      { kind: 'arc', to: { x: x - r, y }, centre, sweepRad: -Math.PI },
      { kind: 'arc', to: { x: x + r, y }, centre, sweepRad: -Math.PI },
    );
  };
  const o = of(plate([0, 0, 0, 0], [5, 5.1, 4.95, 5.05]), [
    circle(90, 125, 2.02),
    circle(130, 125, 1.98),
    circle(110, 145, 8),
  ]);
  it('of corners and of holes: each group on its own, the mean of its members', () => {
    const found = offers(o).filter((x) => x.shape === 'equal radii');
    expect(found.map((x) => x.ring).sort()).toEqual([0, 1]);
    const corners = made(o, 'equal radii', o.curves.outer.segments[0]!.to).outline.curves;
    const r = radii(corners.outer);
    for (const v of r) expect(Math.abs(v - 5.025)).toBeLessThan(0.001);
    expect(radii(corners.holes[0]!)[0]).toBeCloseTo(2.02, 9);
    const holes = made(o, 'equal radii', { x: 92.02, y: 125 }).outline;
    expect(radii(holes.curves.holes[0]!)[0]).toBeCloseTo(2, 3);
    expect(radii(holes.curves.holes[1]!)[0]).toBeCloseTo(2, 3);
    expect(radii(holes.curves.holes[2]!)[0]).toBeCloseTo(8, 9);
    expect(holes.byHand!.map((s) => s.ring).sort()).toEqual([1, 2]);
  });
});

describe('symmetry under turning', () => {
  let state = 7;
  const noise = (): number => (state = (state * 16807) % 2147483647) / 2147483647 - 0.5;
  const flower = (t: number): [number, number] => {
    const r = 30 + 5 * Math.cos(5 * t) + 2 * Math.sin(5 * t);
    return [110 + r * Math.cos(t), 130 + r * Math.sin(t)];
  };
  const ring = sampled(1500, flower).map((p) => ({
    x: p.x + 0.02 * noise(),
    y: p.y + 0.02 * noise(),
  }));
  const { curve } = fitCurves<'sheet'>(
    { points: ring, corner: new Uint8Array(ring.length), sigmaMm: 0.006 },
    0.03,
  );
  const o = of(curve);
  it('is counted, offered, and exact once taken', () => {
    const offer = offers(o).find((x) => x.shape === 'rotational')!;
    expect(offer.turns).toBe(5);
    expect(offer.movedMm).toBeLessThan(0.06);
    const { outline } = made(o, 'rotational', o.region.outer[0]!);
    const fine = flatten(outline.curves.outer, 1e-4);
    const c = centroid(fine);
    const near = new Nearest([fine], 1);
    const a = (2 * Math.PI) / 5;
    for (const p of fine) {
      const [x, y] = [p.x - c.x, p.y - c.y];
      expect(
        near.distance(
          c.x + x * Math.cos(a) - y * Math.sin(a),
          c.y + x * Math.sin(a) + y * Math.cos(a),
        ),
      ).toBeLessThan(0.001);
    }
    // Nearer to the true flower than a hundredth, though the points scattered by as much.
    const truth = new Nearest([sampled(20000, flower)], 1);
    expect(Math.max(...fine.map((p) => truth.distance(p.x, p.y)))).toBeLessThan(0.02);
    // Area of r(t): half the integral of r² = pi (30² + (5² + 2²) / 2).
    expect(signedArea(fine) / (Math.PI * (900 + 14.5))).toBeCloseTo(1, 3);
  });
  it('is not offered for a circle, nor for what only looks alike', () => {
    const round = of(
      fitCurves<'sheet'>(
        {
          points: sampled(800, (t) => [110 + 20 * Math.cos(t), 130 + 20.05 * Math.sin(t)]),
          corner: new Uint8Array(800),
          sigmaMm: 0.001,
        },
        0.02,
      ).curve,
    );
    expect(offers(round).map((x) => x.shape)).not.toContain('rotational');
    const pear = of(
      fitCurves<'sheet'>(
        {
          points: sampled(800, (t) => [
            110 + (30 + 3 * Math.cos(t)) * Math.cos(t),
            130 + (30 + 6 * Math.cos(3 * t)) * Math.sin(t),
          ]),
          corner: new Uint8Array(800),
          sigmaMm: 0.001,
        },
        0.02,
      ).curve,
    );
    expect(offers(pear).map((x) => x.shape)).not.toContain('rotational');
  });
});
