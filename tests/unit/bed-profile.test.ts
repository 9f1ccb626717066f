import { describe, expect, it } from 'vitest';
import { mapPoint } from '../../src/geometry/affine.ts';
import {
  bedProfileOf,
  driftOf,
  printedFromMeant,
  sentFromMeant,
  type BedReading,
} from '../../src/plan/bed-profile.ts';

const P = (x: number, y: number) => ({ x, y });
const MARKS = { a: P(20, 20), b: P(400, 20), c: P(20, 280), d: P(400, 280) };
const SPANS = [
  [MARKS.a, MARKS.b],
  [MARKS.a, MARKS.c],
  [MARKS.a, MARKS.d],
  [MARKS.b, MARKS.c],
] as const;

/** What is read of a printer that does this, with errors. */
function read(
  true_: { sx: number; sy: number; g: number; ox: number; oy: number },
  error: () => number = () => 0,
): BedReading {
  const printed = (p: { x: number; y: number }) => ({
    x: (1 + true_.sx) * p.x + true_.g * p.y + true_.ox,
    y: (1 + true_.sy) * p.y + true_.oy,
  });
  return {
    on: '2026-03-14',
    readU: 0.05,
    spans: SPANS.map(([from, to]) => {
      const [p, q] = [printed(from), printed(to)];
      return { from, to, readMm: Math.hypot(q.x - p.x, q.y - p.y) + error() };
    }),
    edges: [
      { axis: 'x', at: MARKS.a, readMm: printed(MARKS.a).x + error() },
      { axis: 'y', at: MARKS.a, readMm: printed(MARKS.a).y + error() },
    ],
  };
}

describe('the profile of a bed', () => {
  const TRUE = { sx: 0.0021, sy: -0.0013, g: 0.0008, ox: 0.35, oy: -0.2 };

  it('finds what a printer does from four distances and two edges', () => {
    const found = bedProfileOf(read(TRUE));
    // The formula for lengths is linear: squares of thousandths are left out, 1e-6 of 380 mm.
    expect(found.scaleX.value).toBeCloseTo(TRUE.sx, 4);
    expect(found.scaleY.value).toBeCloseTo(TRUE.sy, 4);
    expect(found.shear.value).toBeCloseTo(TRUE.g, 4);
    expect(found.offsetX.value).toBeCloseTo(TRUE.ox, 1);
    expect(found.offsetY.value).toBeCloseTo(TRUE.oy, 1);
    expect(found.assumed).toEqual([]);
    // What is sent corrected lands where it was meant.
    const landed = mapPoint<'bed'>(
      printedFromMeant(found),
      mapPoint(sentFromMeant(found), P(210, 150)),
    );
    expect(landed.x).toBeCloseTo(210, 9);
    expect(landed.y).toBeCloseTo(150, 9);
  });

  it('its doubts hold: two standard deviations cover 95 % of a thousand noisy readings (JCGM 100, G.6)', () => {
    let seed = 1;
    const uniform = (): number => (seed = (seed * 48271) % 2147483647) / 2147483647;
    const gauss = (): number =>
      Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
    const inside = { scaleX: 0, scaleY: 0, shear: 0, offsetX: 0, offsetY: 0 };
    for (let k = 0; k < 1000; k++) {
      const found = bedProfileOf(read(TRUE, () => 0.05 * gauss()));
      const wanted = {
        scaleX: TRUE.sx,
        scaleY: TRUE.sy,
        shear: TRUE.g,
        offsetX: TRUE.ox,
        offsetY: TRUE.oy,
      };
      for (const name of Object.keys(inside) as (keyof typeof inside)[])
        if (Math.abs(found[name].value - wanted[name]) <= 2 * found[name].u) inside[name]++;
    }
    for (const [name, n] of Object.entries(inside)) {
      expect(n / 1000, name).toBeGreaterThan(0.93);
      expect(n / 1000, name).toBeLessThan(0.98);
    }
  });

  it('what no reading tells is said to be assumed, with a wide doubt', () => {
    const { spans, ...rest } = read(TRUE);
    const found = bedProfileOf({ ...rest, spans: spans.slice(0, 1), edges: [] });
    expect(found.assumed).toEqual(['scaleY', 'shear', 'offsetX', 'offsetY']);
    expect(found.scaleX.value).toBeCloseTo(TRUE.sx, 4);
    expect(found.shear.u).toBeCloseTo(0.001, 6);
  });

  it('readings that contradict each other show in the misfit', () => {
    const good = read(TRUE);
    expect(bedProfileOf(good).misfit!).toBeLessThan(1);
    const bad = {
      ...good,
      spans: good.spans.map((s, k) => (k === 2 ? { ...s, readMm: s.readMm + 1 } : s)),
    };
    expect(bedProfileOf(bad).misfit!).toBeGreaterThan(3);
  });

  it('drift is what changed by more than both doubts', () => {
    const before = bedProfileOf(read(TRUE));
    const now = bedProfileOf(read({ ...TRUE, sx: TRUE.sx + 0.001 }));
    const drift = driftOf(before, now);
    expect(drift.find(({ name }) => name === 'scaleX')!.en).toBeGreaterThan(1);
    expect(drift.find(({ name }) => name === 'scaleY')!.en).toBeLessThan(1);
  });

  it('nothing read, or too short', () => {
    expect(() => bedProfileOf({ on: '', spans: [], edges: [], readU: 0.05 })).toThrow(
      /No distance/,
    );
    expect(() =>
      bedProfileOf({
        on: '',
        spans: [{ from: P(0, 0), to: P(20, 0), readMm: 20 }],
        edges: [],
        readU: 0.05,
      }),
    ).toThrow(/20\.0 mm/);
  });
});
