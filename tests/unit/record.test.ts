import { describe, expect, it } from 'vitest';
import { experienceOf, widenedBy, type RecordEntry } from '../../src/check/record.ts';
import type { Trace } from '../../src/outline/outline.ts';
import { Random } from '../support/simulate.ts';

/** Readings of outlines whose error is `times` what their U says; half of an outline's error is common to its readings. */
function made(random: Random, outlines: number, times: number, drift = 0): RecordEntry[] {
  return Array.from({ length: outlines }, (_, p) => {
    const shared = random.normal(Math.SQRT1_2);
    return [0, 1, 2].map((k): RecordEntry => {
      const outlineU = 0.03 + 0.05 * random.next();
      const error = times * outlineU * (shared + random.normal(Math.SQRT1_2));
      return {
        key: `${p} ${k}`,
        picture: `${p}`,
        on: '2026-01-01',
        camera: 'invented',
        sheet: 'A4',
        with: 'caliper',
        readMm: 80 + random.normal(0.025),
        readU: 0.025,
        outlineMm: 80 + error + (p >= outlines - 5 ? drift : 0),
        outlineU,
      };
    });
  }).flat();
}

describe('the record of readings', () => {
  it('counts how many lay within U', () => {
    const [entry] = made(new Random(1), 1, 1) as [RecordEntry];
    const at = (off: number): RecordEntry => ({
      ...entry,
      readMm: 80 + off,
      outlineMm: 80,
      outlineU: 0.04,
      readU: 0.03,
    });
    // Joint u is 0.05 (3, 4, 5), U 0.10.
    const { made: all, within } = experienceOf([at(0), at(0.099), at(-0.101), at(0.5)]);
    expect([within, all]).toEqual([2, 4]);
  });

  it('leaves an honest U alone, and widens one that is half of what it should be', () => {
    const random = new Random(7);
    const share = (outlines: number, times: number): number => {
      let widened = 0;
      for (let k = 0; k < 1000; k++)
        if (experienceOf(made(random, outlines, times)).factor > 1) widened++;
      return widened / 1000;
    };
    for (const outlines of [3, 6, 20, 60]) expect(share(outlines, 1)).toBeLessThan(0.012);
    expect(share(20, 2)).toBeGreaterThan(0.9);
    expect(share(60, 2)).toBe(1);
    // By about as much as it falls short.
    const factors = Array.from({ length: 200 }, () => experienceOf(made(random, 60, 2)).factor);
    const mean = factors.reduce((a, b) => a + b, 0) / factors.length;
    expect(Math.abs(mean - 2)).toBeLessThan(0.25);
  });

  it('is not misled by one mistyped reading', () => {
    const random = new Random(3);
    for (let k = 0; k < 200; k++) {
      const entries = made(random, 12, 1);
      entries[4] = { ...entries[4]!, readMm: 108 };
      const clean = experienceOf(entries.filter((_, n) => n !== 4)).factor;
      if (
        clean === 1 &&
        entries.every(
          (e, n) =>
            n === 4 || Math.abs(e.readMm - e.outlineMm) < 2 * Math.hypot(e.readU, e.outlineU),
        )
      )
        expect(experienceOf(entries).factor).toBe(1);
    }
  });

  it('tells a drift, and no drift where there is none', () => {
    const random = new Random(11);
    let found = 0;
    let false_ = 0;
    for (let k = 0; k < 500; k++) {
      if (experienceOf(made(random, 30, 1, 0.15)).drift) found++;
      if (experienceOf(made(random, 30, 1)).drift) false_++;
    }
    expect(found).toBeGreaterThan(0.8 * 500);
    // Three standard deviations of a normal law; few degrees of freedom make it a little more.
    expect(false_).toBeLessThan(0.012 * 500);
  });

  it('widens every U of an outline, and says why', () => {
    const u = [Float64Array.of(0.02, 0.03)];
    const outline = {
      u,
      edgeU: u,
      modes: [{ source: 'spans', dx: Float64Array.of(1, 2), dy: Float64Array.of(0, 0) }],
    };
    const trace = { outlines: [outline], verdict: 'ok', reasons: [] } as unknown as Trace;
    const wide = widenedBy(trace, 'invented', { made: 60, within: 40, pictures: 20, factor: 2 });
    expect([...wide.outlines[0]!.u[0]!]).toEqual([0.04, 0.06]);
    expect([...wide.outlines[0]!.modes[0]!.dx]).toEqual([2, 4]);
    expect(wide.verdict).toBe('doubtful');
    expect(wide.reasons[0]!.message).toMatch(/60 readings .* only 40 lie within U/);
    expect(widenedBy(trace, 'a', { made: 9, within: 9, pictures: 5, factor: 1 })).toBe(trace);
  });
});
