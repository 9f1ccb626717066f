import { Random } from '../support/simulate.ts';
import { describe, expect, it } from 'vitest';
import { decide } from '../../src/check/decide.ts';
import { allWithin, alongJaws, allRound, withinTolerance } from '../../src/check/fit.ts';
import { toleranceOf } from '../../src/check/tolerance.ts';
import { judge } from '../../src/check/judge.ts';
import { average, INSTRUMENTS, readingU } from '../../src/check/reading.ts';
import { holeWidth, mainWidths, width } from '../../src/check/width.ts';
import type { Outline } from '../../src/outline/outline.ts';
import { card, modeOf, outlineOf, plaque } from '../outlines.ts';

describe('E_n (ISO 13528, ISO/IEC 17043; from memory): agree up to 1', () => {
  it('80.12 ± 0.08 against 80.02 ± 0.05 contradict: E_n 1.06', () => {
    const found = judge({ readMm: 80.02, u: 0.025 }, { valueMm: 80.12, u: 0.04 });
    expect(found.en).toBeCloseTo(1.06, 2);
    expect(found.jointU).toBeCloseTo(Math.hypot(0.08, 0.05), 12);
    expect(found.verdict).toBe('contradicts');
    expect(found.sentence).toMatch(/0\.10 mm larger than you read.*±0\.09 mm/);
  });

  it('says which way it differs, and agrees within the joint U', () => {
    expect(judge({ readMm: 80.3, u: 0.025 }, { valueMm: 80.12, u: 0.04 }).sentence).toMatch(
      /0\.18 mm smaller/,
    );
    expect(judge({ readMm: 80.05, u: 0.025 }, { valueMm: 80.12, u: 0.04 }).verdict).toBe('agrees');
  });

  it('says little where the joint U is wider than the play of the pocket', () => {
    const dimension = { valueMm: 80.1, u: 0.2 };
    expect(judge({ readMm: 80, u: 0.025 }, dimension, 0.15).verdict).toBe('says little');
    expect(judge({ readMm: 80, u: 0.025 }, dimension, 0.25).verdict).toBe('agrees');
    // What contradicts, contradicts, however wide the clearance.
    expect(judge({ readMm: 79, u: 0.025 }, dimension, 0.15).verdict).toBe('contradicts');
  });

  it('takes a caliper for U = 0.05 mm: 0.03 rectangular, step 0.01, seating 0.02', () => {
    const u = Math.hypot(0.03 / Math.sqrt(3), 0.01 / Math.sqrt(12), 0.02);
    expect(u).toBeCloseTo(0.0266, 4);
    expect(readingU(INSTRUMENTS.caliper)).toBeCloseTo(2 * u, 3);
  });
});

describe('repeated readings', () => {
  const caliper = INSTRUMENTS.caliper;
  it('average what differs each time, and keep what the instrument shares', () => {
    const { readMm, u, ownU } = average([80.02, 80.0, 80.01, 80.01], caliper);
    expect(readMm).toBeCloseTo(80.01, 12);
    // JCGM 100, 4.2.3: the mean of n has s / sqrt(n).
    // Step 0.01, rectangular; seating 0.02; permissible error 0.03, rectangular.
    const own = Math.hypot(0.01 / Math.sqrt(12), 0.02) / 2;
    expect(ownU).toBeCloseTo(own, 12);
    expect(u).toBeCloseTo(Math.hypot(0.03 / Math.sqrt(3), own), 12);
  });
  it('count their own scatter where it is larger', () => {
    // JCGM 100, 4.2: s of 0, 3, 6 hundredths is 3 hundredths; its mean has s / sqrt(3).
    const { ownU } = average([80.0, 80.03, 80.06], caliper);
    expect(ownU).toBeCloseTo(0.03 / Math.sqrt(3), 9);
  });
  it('say little when they scatter more than ISO 5725-6 allows: 2.77 s for two, 3.31 s for three', () => {
    const limit = average([80, 80], caliper).rangeLimitMm;
    expect(limit / caliper.eachU).toBeCloseTo(2.77, 2);
    expect(average([80, 80, 80], caliper).rangeLimitMm / caliper.eachU).toBeCloseTo(3.31, 2);
    const at = { valueMm: 80, u: 0.03 };
    expect(judge(average([80, 80.3], caliper), at).verdict).toBe('says little');
    expect(judge(average([80, 80.3], caliper), at).sentence).toMatch(/differ by 0\.30 mm/);
    expect(judge(average([80, 80.03], caliper), at).verdict).toBe('agrees');
  });
  it('let their median stand from four on, with u from their scatter (ISO 5725-6, 5.2.2; from memory)', () => {
    const at = { valueMm: 80, u: 0.03 };
    // One of three strays: another is asked for. Then the two in the middle are what counts.
    expect(judge(average([80.01, 80.12, 80.0], caliper), at).verdict).toBe('says little');
    const four = average([80.01, 80.12, 80.0, 80.02], caliper);
    expect(four.byMedian).toBe(true);
    expect(four.readMm).toBeCloseTo(80.015, 9);
    // s of the four, over the root of 4, times the root of pi / 2 at most (Laplace).
    const mean = 80.0375;
    const s = Math.sqrt(
      [80.01, 80.12, 80.0, 80.02].reduce((sum, v) => sum + (v - mean) ** 2, 0) / 3,
    );
    expect(four.ownU).toBeCloseTo((Math.sqrt(Math.PI / 2) * s) / 2, 9);
    expect(judge(four, at)).toMatchObject({ verdict: 'agrees' });
    expect(judge(four, at).sentence).toMatch(/differ by 0\.12 mm, so the middle one counts/);
    // A gross slip leaves the four so unsure that they tell nothing of the play, and says which way out.
    const slip = judge(average([80.01, 86, 80.0, 80.02], caliper), at, 0.3);
    expect(slip.verdict).toBe('says little');
    expect(slip.sentence).toMatch(/differ by 6\.00 mm.*mistyped/);
  });
  it('with one that strays, or none, hold within 2 u of the truth at least 95 times in 100', () => {
    const random = new Random(5);
    let within = 0;
    const [sets, eachU] = [1000, caliper.eachU];
    for (let k = 0; k < sets; k++) {
      const stray = k % 2 === 0 ? 0 : random.between(-0.5, 0.5);
      const values = [stray, 0, 0, 0].map((by) => by + random.normal(eachU));
      const { readMm, u, sharedU } = average(values, caliper);
      // The instrument's own error stands apart.
      if (Math.abs(readMm) <= 2 * Math.sqrt(u * u - sharedU * sharedU)) within++;
    }
    // A share counted over 1000 strays by 0.66 %; three times that.
    expect(within / sets).toBeGreaterThan(0.9545 - 0.02);
  });
  it('say little on a stretch that no picture saw', () => {
    const at = { valueMm: 80, u: 0.03, unseen: true };
    expect(judge(average([80], caliper), at).verdict).toBe('says little');
    expect(judge(average([81], caliper), at).verdict).toBe('contradicts');
  });
});

describe('whether it goes in (ISO 14253-1, U = 2 u), apart from whether the reading agrees', () => {
  const read = (mm: number) => ({ ...average([mm], INSTRUMENTS.caliper), u: 0.025 });
  it.each([
    // Φ(0.02 / 0.025) = 0.788: table of the normal law.
    // Pocket 80 + 2 · 0.15 = 80.30 wide: play is what is left, ± 0.05.
    [80.0, 'proven', /with 0\.30 ± 0\.05 mm of play/],
    [80.24, 'proven', /0\.06 ± 0\.05/],
    [
      80.28,
      'not proven',
      /likely to 79 %\): only 0\.02 ± 0\.05 mm of play here\. Give 0\.02 mm more/,
    ],
    [80.32, 'not proven', /short by 0\.02/],
    [80.5, 'proven not', /0\.20 ± 0\.05 mm wider than its pocket here\. Give 0\.13 mm more/],
  ] as const)('read %d: %s', (mm, decision, words) => {
    const found = alongJaws(80, read(mm), 0.15);
    expect(found.decision).toBe(decision);
    expect(found.sentence).toMatch(words);
  });
  it('all round only where the whole band is inside the clearance', () => {
    expect(allRound(0.2, 0.3).decision).toBe('proven');
    expect(allRound(0.31, 0.3)).toMatchObject({ decision: 'not proven' });
    expect(allRound(0.31, 0.3).sentence).toMatch(/off by 0\.31 mm somewhere.*Give 0\.35 mm/);
  });
});

describe('a tolerance asked of the outline', () => {
  const general = { by: 'general', class: 'm' } as const;
  it("is the drawing's general one for that size (ISO 2768-1, tables 1 and 2)", () => {
    expect(toleranceOf(general, 85.6)).toEqual({ mm: 0.3, name: 'ISO 2768-1 m' });
    expect(toleranceOf(general, 120.01)?.mm).toBe(0.5);
    expect(toleranceOf(general, 3.18, 'radius')?.mm).toBe(0.5);
    expect(toleranceOf({ by: 'general', class: 'v' }, 2.9)).toBeUndefined();
    expect(toleranceOf({ by: 'own', mm: 0.15 }, 85.6)?.mm).toBe(0.15);
    expect(toleranceOf({ by: 'clearance' }, 85.6)).toBeUndefined();
  });
  // The rows of 80 ± 0.3 with U = 0.08: inside up to 80.22, outside from 80.38.
  it.each([
    [0.21, 'proven', /^Keeps ± 0\.30 mm \(ISO 2768-1 m\): the outline is 0\.21 ± 0\.08 mm larger/],
    [-0.21, 'proven', /smaller/],
    [0.23, 'not proven', /Read once more/],
    [0.37, 'not proven', /Read once more/],
    [-0.39, 'proven not', /^Breaks .* smaller than you read\. Look at the thickness/],
  ] as const)('outline %d mm off: %s', (off, decision, words) => {
    const found = withinTolerance(off, 0.08, toleranceOf(general, 80)!);
    expect(found.decision).toBe(decision);
    expect(found.sentence).toMatch(words);
  });
  it('narrower than U proves nothing, and says so (± 0.1 with u = 0.06)', () => {
    const found = withinTolerance(0, 0.12, { mm: 0.1, name: 'your own' });
    expect(found.decision).toBe('not proven');
    expect(found.sentence).toMatch(/^Cannot be proven.* known to ± 0\.12 mm only/);
  });
  it('holds for sizes that nobody read where twice the whole band is inside it', () => {
    expect(allWithin(0.15, { mm: 0.3, name: 'x' }).decision).toBe('proven');
    expect(allWithin(0.16, { mm: 0.3, name: 'x' }).sentence).toMatch(/may be off by 0\.32 mm/);
  });
});

describe('decision rule of ISO 14253-1, 80 ± 0.3 mm, U = 2 u = 0.08', () => {
  const limits = { least: 79.7, most: 80.3 };
  it.each([
    [79.77, 'not proven'],
    [79.79, 'proven'],
    [80.219, 'proven'],
    [80.23, 'not proven'],
    [80.3, 'not proven'],
    [80.39, 'proven not'],
    [79.61, 'proven not'],
  ] as const)('%d is %s', (y, verdict) => {
    expect(decide(y, 0.08, limits)).toBe(verdict);
  });

  it('80.23 is proven by the guard band of the 2017 edition (1.645 u) and not by 2 u', () => {
    expect(decide(80.23, 1.645 * 0.04, limits)).toBe('proven');
    expect(decide(80.24, 1.645 * 0.04, limits)).toBe('not proven');
  });

  it('nothing can be proven inside ± 0.1 with u = 0.06', () => {
    for (let y = 79.8; y < 80.2; y += 0.005) {
      expect(decide(y, 0.12, { least: 79.9, most: 80.1 })).not.toBe('proven');
    }
  });
});

describe('width between jaws', () => {
  // Sizes of the ID-1 card: ISO/IEC 7810.
  const at = (angle: number, outline: Outline) => width(outline, angle);

  it('reads 85.60 and 53.98 on an ID-1 card, however it lies', () => {
    for (const turn of [0, 0.3, 1.2]) {
      const [c, s] = [Math.cos(turn), Math.sin(turn)];
      const outer = card.outer.map(({ x, y }) => ({ x: c * x - s * y, y: s * x + c * y }));
      const sizes = mainWidths(outlineOf({ outer, holes: [] })).map(({ valueMm }) => valueMm);
      sizes.sort((a, b) => b - a);
      expect(sizes[0]).toBeCloseTo(85.6, 4);
      expect(sizes[1]).toBeCloseTo(53.98, 4);
    }
  });

  it('grows in proportion to an error of scale; what moves both jaws alike cancels', () => {
    const modes = [
      modeOf(card, 'spans', (x, y) => [(x - 50) * 1e-3, (y - 70) * 1e-3]),
      modeOf(card, 'marks', () => [0.5, -0.3]),
    ];
    const found = at(0, outlineOf(card, { edgeU: 0, modes }));
    const spans = found.budget.find(({ source }) => source === 'spans')!;
    expect(spans.u).toBeCloseTo(0.0856, 4);
    expect(found.budget.some(({ source }) => source === 'marks')).toBe(false);
  });

  it('reads a hole, whose size carries little of an error of scale', () => {
    const region = plaque;
    const outline = outlineOf(region, {
      edgeU: 0,
      modes: [
        modeOf(region, 'spans', (x, y) => [x * 1e-3, y * 1e-3]),
        modeOf(region, 'marks', () => [0.2, 0.2]),
      ],
    });
    const across = width(outline, 0);
    // The hole is a circle of radius 3 mm.
    const hole = holeWidth(outline, 0, 0.7);
    expect(hole.kind).toBe('hole');
    expect(hole.valueMm).toBeGreaterThan(5.998);
    expect(hole.valueMm).toBeLessThan(6.0001);
    const spans = (d: typeof hole) => d.budget.find(({ source }) => source === 'spans')!.u;
    // A jaw's contact is 0.01 mm deep; its mean lies less than that inside the touch, on both sides.
    expect(Math.abs(spans(hole) - 0.006)).toBeLessThan(2 * 0.01 * 1e-3);
    expect(spans(across)).toBeCloseTo(across.valueMm * 1e-3, 4);
  });

  it('has shares of variance that add up to 1, the largest first', () => {
    const modes = [
      modeOf(card, 'spans', (x) => [(x - 50) * 1e-3, 0]),
      modeOf(card, 'thickness', (x, y) => [(x - 100) * 6e-4, (y - 120) * 6e-4]),
      modeOf(card, 'thickness', (x) => [(x - 90) * 2e-4, 0]),
    ];
    const { budget, u } = at(0, outlineOf(card, { modes }));
    expect(budget.reduce((sum, { share }) => sum + share, 0)).toBeCloseTo(1, 12);
    expect(Math.sqrt(budget.reduce((sum, b) => sum + b.u ** 2, 0))).toBeCloseTo(u, 12);
    budget.forEach(({ share }, k) => expect(share).toBeLessThanOrEqual(budget[k - 1]?.share ?? 1));
    expect(budget[0]!.source).toBe('spans');
    expect(budget.filter(({ source }) => source === 'thickness')).toHaveLength(1);
  });

  it('states the scatter that 4000 drawn outlines show', () => {
    const modes = [
      modeOf(card, 'spans', (x) => [(x - 50) * 1e-3, 0]),
      modeOf(card, 'lens', (x, y) => [1e-5 * (x - 100) * Math.abs(x - 100), 1e-5 * (y - 120) ** 2]),
    ];
    const outline = outlineOf(card, { edgeU: 0, modes });
    outline.u.forEach((ring) => ring.fill(0));
    let seed = 1;
    const uniform = (): number => (seed = (seed * 48271) % 2147483647) / 2147483647;
    const normal = (): number =>
      Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
    const drawn = Array.from({ length: 4000 }, () => {
      const z = modes.map(normal);
      const outer = card.outer.map(({ x, y }, k) => ({
        x: x + z[0]! * modes[0]!.dx[k]! + z[1]! * modes[1]!.dx[k]!,
        y: y + z[0]! * modes[0]!.dy[k]! + z[1]! * modes[1]!.dy[k]!,
      }));
      return width({ ...outline, region: { outer, holes: [] } }, 0).valueMm;
    });
    const mean = drawn.reduce((a, b) => a + b, 0) / drawn.length;
    const scatter = Math.sqrt(drawn.reduce((a, b) => a + (b - mean) ** 2, 0) / drawn.length);
    // The relative error of a scatter from n draws is 1 / sqrt(2 n) = 1.1 %: four times that.
    expect(width(outline, 0).u / scatter).toBeGreaterThan(0.955);
    expect(width(outline, 0).u / scatter).toBeLessThan(1.045);
  });
});
