import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { findPython, TOOLS } from '../accuracy/render.ts';
import { pairUp, score, type Measured, type Place } from '../accuracy/score.ts';

const circle = (r: number, n = 720, x = 0, y = 0): Place[] =>
  Array.from({ length: n }, (_, i): Place => {
    const t = (i / n) * 2 * Math.PI;
    return [x + r * Math.cos(t), y + r * Math.sin(t)];
  });
const hole = (r: number, x = 0, y = 0): Place[] => circle(r, 360, x, y).reverse();
const measured = (rings: Place[][], u = 0.05): Measured => ({
  rings,
  u: rings.map((r) => new Float64Array(r.length).fill(u)),
  hidden: [],
  wholeFactor: 3,
});
const turned = (rings: Place[][], deg: number, dx: number, dy: number): Place[][] => {
  const c = Math.cos((deg * Math.PI) / 180);
  const s = Math.sin((deg * Math.PI) / 180);
  return rings.map((r) => r.map(([x, y]): Place => [c * x - s * y + dx, s * x + c * y + dy]));
};
/** An outline without symmetry: a wavy ring with a hole off its centre. */
const wavy = (grow = 0): Place[][] => [
  Array.from({ length: 1400 }, (_, i): Place => {
    const t = (i / 1400) * 2 * Math.PI;
    const r = 40 + 4 * Math.cos(2 * t + 0.3) + 2 * Math.cos(5 * t) + grow;
    return [r * Math.cos(t), r * Math.sin(t)];
  }),
  hole(4 - grow, 12, 5),
];

describe('the scorer', () => {
  it('finds the offset of two concentric circles', () => {
    const s = score(measured([circle(30.2)]), { rings: [circle(30)], hidden: [] });
    expect(s.maxMm).toBeCloseTo(0.2, 3);
    expect(s.rmsMm).toBeCloseTo(0.2, 3);
    expect(s.meanSignedMm).toBeCloseTo(0.2, 3);
    expect(s.inside).toEqual([0, 0, 0]);
    expect(s.wholeHolds).toBe(false);
  });

  it('sees no difference in a motion, and all of it in a scale', () => {
    const rings = wavy();
    const still = score(measured(turned(rings, 2, 0.7, -0.4)), { rings, hidden: [] });
    expect(still.maxMm).toBeLessThan(1e-3);
    expect(still.inside).toEqual([1, 1, 1]);
    const larger = rings.map((r) => r.map(([x, y]): Place => [x * 1.005, y * 1.005]));
    const scaled = score(measured(larger), { rings, hidden: [] });
    // The farthest place from the centre is about 45 mm away: 0.005 of that.
    expect(scaled.maxMm).toBeGreaterThan(0.19);
    expect(scaled.maxMm).toBeLessThan(0.26);
  });

  it('looks both ways: a missing hole is a deviation of the truth from the outline', () => {
    const s = score(measured([wavy()[0]!]), { rings: wavy(), hidden: [] });
    expect(s.holes).toEqual([0, 1]);
    expect(s.maxMm).toBeGreaterThan(10);
  });

  it('counts what is hidden, and leaves it out of the deviations', () => {
    const real = wavy();
    const dented = real.map((r) => r.map(([x, y]): Place => [x, y]));
    for (let i = 100; i <= 150; i++) dented[0]![i] = [dented[0]![i]![0] + 2, dented[0]![i]![1]];
    let along = 0;
    const arcs = real[0]!.map(([x, y], i) => {
      const before = along;
      const [nx, ny] = real[0]![(i + 1) % 1400]!;
      along += Math.hypot(nx - x, ny - y);
      return before;
    });
    const hidden = [{ ring: 0, from_mm: arcs[90]!, to_mm: arcs[160]! }];
    const open = score(measured(dented), { rings: real, hidden: [] });
    expect(open.maxMm).toBeGreaterThan(1);
    const said: Measured = { ...measured(dented), hidden: [{ ring: 0, from: 125, to: 170 }] };
    const s = score(said, { rings: real, hidden });
    // The motion is that of the whole curve, the dent included.
    expect(s.maxMm).toBeLessThan(0.2);
    expect(s.hiddenMm).toBeCloseTo(arcs[160]! - arcs[90]!, 0);
    expect(s.hiddenRecall).toBeGreaterThan(0.4);
    expect(s.hiddenRecall).toBeLessThan(0.7);
    expect(s.visibleMarked).toBeGreaterThan(0);
    expect(s.visibleMarked).toBeLessThan(0.02);
  });

  it('pairs outlines with blanks by place, each once', () => {
    const at = (x: number): { rings: Place[][] } => ({ rings: [circle(10, 90, x, 0)] });
    expect(pairUp([at(50), at(0)], [at(1), at(51), at(200)])).toEqual([1, 0, undefined]);
  });
});

const python = findPython();
const there = python !== undefined && existsSync(join(TOOLS, 'score.py'));
const why = there ? '' : ' (left out: there is no ../shared/tools/score.py with its python3)';

describe.skipIf(!there)(`the scorer against an independent one${why}`, () => {
  const folder = mkdtempSync(join(tmpdir(), 'score-'));
  afterAll(() => rmSync(folder, { recursive: true }));

  // Deterministic noise, smooth along the ring.
  const shaken = (rings: Place[][], amount: number): Place[][] =>
    rings.map((r, k) =>
      r.map(([x, y], i): Place => {
        const t = (i / r.length) * 2 * Math.PI;
        const d = amount * (Math.sin(7 * t + k) + 0.6 * Math.cos(23 * t) + 0.3 * Math.sin(51 * t));
        const h = Math.hypot(x, y);
        return [x + (d * x) / h, y + (d * y) / h];
      }),
    );

  it.each([
    ['noise', 0.02, 0, []],
    ['noise, grown and moved', 0.03, 0.05, []],
    ['with a hidden stretch', 0.05, 0.02, [{ ring: 0, from_mm: 30, to_mm: 55 }]],
  ] as const)(
    '%s',
    (_name, amount, grow, hidden) => {
      const rings = turned(wavy(), 20, 105, 148);
      const rough = turned(shaken(wavy(grow), amount), 20.4, 105.3, 147.8);
      const m = measured(rough, 0.03);
      writeFileSync(
        join(folder, 'outline.json'),
        JSON.stringify({
          type: 'FeatureCollection',
          features: [
            {
              type: 'Feature',
              properties: { u_mm: m.u.map((u) => Array.from(u)) },
              geometry: { type: 'Polygon', coordinates: rough.map((r) => [...r, r[0]]) },
            },
          ],
        }),
      );
      const truth = {
        scene: 'own',
        blanks: [{ name: 'wavy', role: 'blank', widest: rings }],
        views: [{ hidden: [hidden] }],
      };
      writeFileSync(join(folder, 'truth.json'), JSON.stringify(truth));
      execFileSync(python!, [
        join(TOOLS, 'score.py'),
        ...['outline.json', 'truth.json'].map((f) => join(folder, f)),
        ...['--visible', '--json', join(folder, 'score.json')],
      ]);
      const other = (
        JSON.parse(readFileSync(join(folder, 'score.json'), 'utf8')) as {
          results: Record<string, number>[];
        }
      ).results[0]!;
      const own = score(m, { rings, hidden });
      // The other one moves from nearest place to nearest place and may stop a little short of the least squares.
      expect(Math.abs(own.maxMm - other['max']!)).toBeLessThan(0.002);
      expect(own.rmsMm).toBeLessThan(other['rms']! + 2e-5);
      expect(own.rmsMm).toBeGreaterThan(other['rms']! - 5e-4);
      expect(own.meanSignedMm).toBeCloseTo(other['mean_signed']!, 3);
      expect(Math.abs(own.inside[0] - other['inside_k1']!)).toBeLessThan(0.02);
      expect(Math.abs(own.inside[1] - other['inside_k2']!)).toBeLessThan(0.02);
      expect(own.uMeanMm).toBeCloseTo(other['u_mean']!, 6);
    },
    60_000,
  );
});
