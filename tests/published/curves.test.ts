import { describe, expect, it } from 'vitest';
import { flatten, onCubic } from '../../src/geometry/curve.ts';
import { deviation, fitCurves, type Measured } from '../../src/geometry/fit.ts';
import { lightRing } from '../../src/geometry/light.ts';
import { signedArea } from '../../src/geometry/measure.ts';
import type { CurveRing } from '../../src/geometry/shape.ts';
import { curvesOfMask } from '../../src/outline/potrace.ts';
import { CORNER, pointsOfCurve } from '../../src/outline/mask-curves.ts';
import { hasOpenData, openBytes, openFiles } from '../open-data.ts';
import sharp from 'sharp';

type P = { x: number; y: number };

const closed = (count: number, at: (t: number) => [number, number]): P[] =>
  Array.from({ length: count }, (_, k) => {
    const [x, y] = at((2 * Math.PI * k) / count);
    return { x, y };
  });
const smooth = (points: P[], sigmaMm = 1e-4): Measured<'blank'> => ({
  points,
  corner: new Uint8Array(points.length),
  sigmaMm,
});

/** Directions at which a curve arrives at and leaves each of its nodes. */
function turns(curve: CurveRing<'blank'>): number[] {
  const ends: [P, P][] = [];
  let from = curve.start;
  for (const s of curve.segments) {
    if (s.kind === 'cubic') ends.push([diff(s.c1, from), diff(s.to, s.c2)]);
    else if (s.kind === 'line') ends.push([diff(s.to, from), diff(s.to, from)]);
    else {
      const way = Math.sign(s.sweepRad);
      const across = (p: P): P => ({ x: -way * (p.y - s.centre.y), y: way * (p.x - s.centre.x) });
      ends.push([across(from), across(s.to)]);
    }
    from = s.to;
  }
  return ends.map(([, b], k) => {
    const a = ends[(k + 1) % ends.length]![0];
    return Math.abs(Math.atan2(b.x * a.y - b.y * a.x, b.x * a.x + b.y * a.y));
  });
}
const diff = (p: P, q: P): P => ({ x: p.x - q.x, y: p.y - q.y });

describe('cubics on a circle', () => {
  // Greatest error over R of the usual cubics (handles of 4/3 tan(a/4)): 4 pieces 2.725e-4, 8 pieces 4.246e-6, the sixth power
  // (computed in closed form: the distance of the cubic's points from the circle).
  it.each([
    [4, 2.725e-4],
    [8, 4.246e-6],
  ])('%i of them leave it by the known share of its radius', (pieces, share) => {
    const a = (2 * Math.PI) / pieces;
    const h = (4 / 3) * Math.tan(a / 4);
    let most = 0;
    for (let k = 0; k <= 2000; k++) {
      const { x, y } = onCubic<'blank'>(
        { x: 1, y: 0 },
        { x: 1, y: h },
        { x: Math.cos(a) + h * Math.sin(a), y: Math.sin(a) - h * Math.cos(a) },
        { x: Math.cos(a), y: Math.sin(a) },
        k / 2000,
      );
      most = Math.max(most, Math.abs(Math.hypot(x, y) - 1));
    }
    expect(most / share).toBeCloseTo(1, 3);
  });
});

describe('curves fitted to known shapes', () => {
  it('an ellipse takes no more than one and a half times the nodes of the sixth-power law', () => {
    // Each place as an arc of its own curvature: (turn / 45°) · (4.246e-6 R / tolerance)^(1/6), summed.
    const points = closed(4000, (t) => [50 * Math.cos(t), 30 * Math.sin(t)]);
    for (const tolerance of [0.005, 0.02, 0.05]) {
      let law = 0;
      points.forEach((_, k) => {
        const t = (2 * Math.PI * (k + 0.5)) / 4000;
        const speed = Math.hypot(50 * Math.sin(t), 30 * Math.cos(t));
        const radius = speed ** 3 / 1500;
        law +=
          ((speed * 2 * Math.PI) / 4000 / radius / (Math.PI / 4)) *
          ((4.246e-6 * radius) / tolerance) ** (1 / 6);
      });
      const { curve, deviationMm } = fitCurves(smooth(points), tolerance);
      expect(curve.segments.length).toBeLessThanOrEqual(1.5 * Math.max(law, 3));
      expect(deviationMm).toBeLessThanOrEqual(tolerance);
      // Closed form: x²/a² + y²/b² = 1; distance about |F| / |grad F|.
      for (const p of flatten(curve, 0.0005)) {
        const f = (p.x / 50) ** 2 + (p.y / 30) ** 2 - 1;
        const g = 2 * Math.hypot(p.x / 2500, p.y / 900);
        expect(Math.abs(f / g)).toBeLessThan(tolerance + 0.001);
      }
    }
  });

  it('a rounded rectangle and a stadium come out as their lines and arcs', () => {
    // ISO/IEC 7810 ID-1: 85.60 x 53.98, corners 3.18, area 4612.0074; stadium 60, R 10: area 1514.15927 (closed form).
    const side = (a: P, b: P): P[] => {
      const n = Math.round(Math.hypot(b.x - a.x, b.y - a.y) / 0.1);
      return Array.from({ length: n }, (_, k) => ({
        x: a.x + ((b.x - a.x) * k) / n,
        y: a.y + ((b.y - a.y) * k) / n,
      }));
    };
    const bend = (x: number, y: number, r: number, from: number, sweep: number): P[] => {
      const n = Math.round((r * sweep) / 0.1);
      return Array.from({ length: n }, (_, k) => ({
        x: x + r * Math.cos(from + (sweep * k) / n),
        y: y + r * Math.sin(from + (sweep * k) / n),
      }));
    };
    const [w, h, r] = [85.6, 53.98, 3.18];
    const card = [
      ...side({ x: r, y: 0 }, { x: w - r, y: 0 }),
      ...bend(w - r, r, r, -Math.PI / 2, Math.PI / 2),
      ...side({ x: w, y: r }, { x: w, y: h - r }),
      ...bend(w - r, h - r, r, 0, Math.PI / 2),
      ...side({ x: w - r, y: h }, { x: r, y: h }),
      ...bend(r, h - r, r, Math.PI / 2, Math.PI / 2),
      ...side({ x: 0, y: h - r }, { x: 0, y: r }),
      ...bend(r, r, r, Math.PI, Math.PI / 2),
    ];
    const stadium = [
      ...side({ x: 0, y: 0 }, { x: 60, y: 0 }),
      ...bend(60, 10, 10, -Math.PI / 2, Math.PI),
      ...side({ x: 60, y: 20 }, { x: 0, y: 20 }),
      ...bend(0, 10, 10, Math.PI / 2, Math.PI),
    ];
    for (const [shape, area, kinds] of [
      [card, 4612.0074, 'arc arc arc arc line line line line'],
      [stadium, 1514.15927, 'arc arc line line'],
    ] as const) {
      const { curve } = fitCurves(smooth([...shape], 0.001), 0.02);
      const found = curve.segments.map((s) => s.kind).sort();
      expect(found.join(' ')).toBe(kinds);
      expect(Math.max(...turns(curve))).toBeLessThan(1e-6);
      expect(Math.abs(signedArea(flatten(curve, 0.0002)) - area)).toBeLessThan(0.2);
    }
  });

  it('joins its pieces without a bend where the shape has none', () => {
    const points = closed(3000, (t) => {
      const r = 40 + 6 * Math.cos(5 * t) + 3 * Math.sin(2 * t);
      return [r * Math.cos(t), r * Math.sin(t)];
    });
    let state = 5;
    const noise = (): number => (state = (state * 16807) % 2147483647) / 2147483647 - 0.5;
    const noisy = points.map((p) => ({ x: p.x + 0.01 * noise(), y: p.y + 0.01 * noise() }));
    const { curve, deviationMm } = fitCurves(smooth(noisy, 0.003), 0.03);
    expect(deviationMm).toBeLessThanOrEqual(0.03);
    expect(Math.max(...turns(curve))).toBeLessThan(1e-6);
  });
});

const FOLDER = 'silhouettes/shape_sample';
describe.skipIf(!hasOpenData(FOLDER))('silhouettes that others drew', () => {
  // Source: OpenCV contrib, modules/shape samples; potrace and simplify-js are the libraries of these names.
  const tolerance = 0.03;

  it('take fewer nodes than potrace and than a polyline simplifier, and never leave the tolerance', async () => {
    let [own, traced, simplified] = [0, 0, 0];
    for (const name of openFiles(FOLDER).filter((_, k) => k % 5 === 0)) {
      const { data, info } = await sharp(openBytes(FOLDER, name))
        .extend({ top: 4, bottom: 4, left: 4, right: 4, background: 'black' })
        .greyscale()
        .raw()
        .toBuffer({ resolveWithObject: true });
      const mask = Uint8Array.from(data, (v) => (v > 127 ? 1 : 0));
      const curves = curvesOfMask(mask, info.width, info.height);
      const curve = curves.reduce((a, b) => (b.kinds.length > a.kinds.length ? b : a));
      // A fifth of a millimetre to the pixel; potrace's curve, thickly sampled, is the measured edge.
      const flat = pointsOfCurve(curve, 0.5);
      const points = Array.from({ length: flat.length / 2 }, (_, k) => ({
        x: flat[2 * k]! / 5,
        y: -flat[2 * k + 1]! / 5,
      }));
      const corner = Uint8Array.from(points, (p, k) => {
        const a = points[(k + points.length - 1) % points.length]!;
        const b = points[(k + 1) % points.length]!;
        const turn = Math.atan2(
          (p.x - a.x) * (b.y - p.y) - (p.y - a.y) * (b.x - p.x),
          (p.x - a.x) * (b.x - p.x) + (p.y - a.y) * (b.y - p.y),
        );
        return Math.abs(turn) > 0.35 ? 1 : 0;
      });
      const fitted = fitCurves<'blank'>({ points, corner, sigmaMm: 0.001 }, tolerance);
      expect(fitted.deviationMm, name).toBeLessThanOrEqual(tolerance);
      expect(deviation(fitted.curve, points), name).toBeLessThanOrEqual(tolerance);
      own += fitted.curve.segments.length;
      traced += curve.kinds.reduce((sum, kind) => sum + (kind === CORNER ? 2 : 1), 0);
      simplified += lightRing<'blank'>(points, tolerance).length;
    }
    expect(own).toBeLessThan(traced);
    expect(own).toBeLessThan(simplified);
  });
});
