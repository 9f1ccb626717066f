import { expect, it } from 'vitest';
import { flatten, mirrored } from '../../src/geometry/curve.ts';
import { deviation, fitCurves } from '../../src/geometry/fit.ts';
import { signedArea } from '../../src/geometry/measure.ts';

type P = { x: number; y: number };
const noise = (amplitude: number): (() => number) => {
  let state = 12345;
  return () => ((state = (state * 16807) % 2147483647) / 2147483647 - 0.5) * 2 * amplitude;
};

it('finds a circle as two arcs and gives its radius', () => {
  const n = noise(0.005);
  const points = Array.from({ length: 900 }, (_, k) => {
    const a = (2 * Math.PI * k) / 900;
    return { x: 5 + 15 * Math.cos(a) + n(), y: -3 + 15 * Math.sin(a) + n() };
  });
  const { curve, deviationMm } = fitCurves(
    { points, corner: new Uint8Array(900), sigmaMm: 0.003 },
    0.02,
  );
  expect(curve.segments.map((s) => s.kind)).toEqual(['arc', 'arc']);
  expect(Math.abs(signedArea(flatten(curve, 0.0001)) - Math.PI * 225)).toBeLessThan(0.1);
  expect(deviationMm).toBeLessThan(0.1);
});

it('holds an ellipse to the tolerance with few cubics, both ways', () => {
  const points = Array.from({ length: 1200 }, (_, k) => {
    const a = (2 * Math.PI * k) / 1200;
    return { x: 30 * Math.cos(a), y: 18 * Math.sin(a) };
  });
  const { curve, deviationMm } = fitCurves(
    { points, corner: new Uint8Array(1200), sigmaMm: 0.0005 },
    0.02,
  );
  expect(curve.segments.length).toBeLessThanOrEqual(10);
  // Against the closed form: x²/a² + y²/b² = 1; distance about |F| / |grad F|.
  for (const p of flatten(curve, 0.001)) {
    const f = (p.x / 30) ** 2 + (p.y / 18) ** 2 - 1;
    const g = 2 * Math.hypot(p.x / 900, p.y / 324);
    expect(Math.abs(f / g)).toBeLessThan(0.02);
  }
  expect(deviationMm).toBeLessThan(0.11);
});

it('draws a rounded rectangle with its straight sides as lines, tangent to what follows', () => {
  const n = noise(0.004);
  const points: P[] = [];
  const [w, h, r] = [85.6, 53.98, 3.18];
  const side = (x0: number, y0: number, x1: number, y1: number): void => {
    const count = Math.round(Math.hypot(x1 - x0, y1 - y0) / 0.1);
    for (let k = 0; k < count; k++)
      points.push({ x: x0 + ((x1 - x0) * k) / count, y: y0 + ((y1 - y0) * k) / count });
  };
  const bend = (cx: number, cy: number, from: number): void => {
    for (let k = 0; k < 50; k++) {
      const a = from + (Math.PI / 2) * (k / 50);
      points.push({ x: cx + r * Math.cos(a), y: cy + r * Math.sin(a) });
    }
  };
  side(r, 0, w - r, 0);
  bend(w - r, r, -Math.PI / 2);
  side(w, r, w, h - r);
  bend(w - r, h - r, 0);
  side(w - r, h, r, h);
  bend(r, h - r, Math.PI / 2);
  side(0, h - r, 0, r);
  bend(r, r, Math.PI);
  const noisy = points.map((p) => ({ x: p.x + n(), y: p.y + n() }));
  const { curve } = fitCurves(
    { points: noisy, corner: new Uint8Array(points.length), sigmaMm: 0.003 },
    0.02,
  );
  expect(curve.segments.filter((s) => s.kind === 'line').length).toBeGreaterThanOrEqual(4);
  expect(curve.segments.length).toBeLessThanOrEqual(24);
  // ISO/IEC 7810: area of the ID-1 card with radius 3.18 mm is 4612.0074 mm².
  expect(Math.abs(signedArea(flatten(curve, 0.0005)) - 4612.0074)).toBeLessThan(0.6);
  expect(deviation(curve, points)).toBeLessThan(0.05);
});

it('keeps corners where they are', () => {
  const points: P[] = [];
  const corner: number[] = [];
  const star = Array.from({ length: 10 }, (_, k) => {
    const a = (Math.PI * k) / 5;
    const r = k % 2 ? 12 : 30;
    return { x: r * Math.cos(a), y: r * Math.sin(a) };
  });
  star.forEach((p, k) => {
    const q = star[(k + 1) % 10]!;
    for (let s = 0; s < 150; s++) {
      points.push({ x: p.x + ((q.x - p.x) * s) / 150, y: p.y + ((q.y - p.y) * s) / 150 });
      corner.push(s === 0 ? 1 : 0);
    }
  });
  const { curve, deviationMm } = fitCurves(
    { points, corner: Uint8Array.from(corner), sigmaMm: 0.001 },
    0.02,
  );
  expect(curve.segments).toHaveLength(10);
  expect(curve.segments.every((s) => s.kind === 'line')).toBe(true);
  expect(deviationMm).toBeLessThan(0.1);
  star.forEach((p, k) => {
    const at = k === 0 ? curve.start : curve.segments[k - 1]!.to;
    expect(Math.hypot(at.x - p.x, at.y - p.y)).toBeLessThan(1e-9);
  });
});

it('mirrors a curve and turns it the same way round', () => {
  const points = Array.from({ length: 400 }, (_, k) => {
    const a = (2 * Math.PI * k) / 400;
    return {
      x: (10 + 2 * Math.cos(3 * a)) * Math.cos(a) + 40,
      y: (10 + Math.sin(2 * a)) * Math.sin(a),
    };
  });
  const { curve } = fitCurves({ points, corner: new Uint8Array(400), sigmaMm: 0.001 }, 0.02);
  const there = flatten(mirrored(curve, 40), 0.001);
  expect(signedArea(there)).toBeCloseTo(signedArea(flatten(curve, 0.001)), 6);
  const back = flatten(mirrored(mirrored(curve, 40), 40), 0.001);
  flatten(curve, 0.001).forEach((p, k) => {
    expect(back[k]!.x).toBeCloseTo(p.x, 9);
    expect(back[k]!.y).toBeCloseTo(p.y, 9);
  });
});

const lobes = (t: number): P => {
  const r = 40 + 6 * Math.cos(5 * t);
  return { x: r * Math.cos(t), y: r * Math.sin(t) };
};

it.each([0, 0.005, 0.01, 0.02])(
  'never leaves the tolerance of 0.02 mm, smooth however much the points scatter: %s mm',
  (sigma) => {
    // Uniform noise of amplitude a scatters by a / √3; along a radius, as an edge is measured.
    const n = noise(sigma * Math.sqrt(3));
    const points = Array.from({ length: 3000 }, (_, k) => {
      const t = (2 * Math.PI * k) / 3000;
      const by = 1 + n() / 40;
      const p = lobes(t);
      return { x: by * p.x, y: by * p.y };
    });
    const { curve, deviationMm } = fitCurves(
      { points, corner: new Uint8Array(3000), sigmaMm: sigma },
      0.02,
    );
    expect(deviationMm).toBeLessThanOrEqual(0.02);
    // What the edge truly is, both ways: the tolerance, and what is left of the scatter.
    const truth = Array.from({ length: 6000 }, (_, k) => lobes((2 * Math.PI * k) / 6000));
    expect(deviation(curve, truth)).toBeLessThan(0.02 + sigma);
    expect(curve.segments.length).toBeLessThan(sigma > 0.01 ? 60 : 32);
  },
);

it('goes on smoothly past a gap in a curve without corners', () => {
  const all = Array.from({ length: 2400 }, (_, k) => lobes((2 * Math.PI * k) / 2400));
  const points = all.filter((_, k) => k < 300 || k > 340);
  const { curve, deviationMm } = fitCurves(
    { points, corner: new Uint8Array(points.length), sigmaMm: 0.002 },
    0.05,
  );
  expect(deviationMm).toBeLessThanOrEqual(0.05);
  expect(curve.segments.length).toBeLessThan(40);
  expect(curve.segments.filter((s) => s.kind === 'cubic').length).toBeGreaterThan(10);
});
