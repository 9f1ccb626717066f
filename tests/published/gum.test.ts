import { describe, expect, it } from 'vitest';
import {
  combine,
  expand,
  inputsOf,
  lawOf,
  trapezoidFactor,
  type Input,
} from '../../src/check/budget.ts';
import { conformance } from '../../src/check/decide.ts';
import { expansion, normalBelow } from '../../src/check/student.ts';
import { width } from '../../src/check/width.ts';
import { card, modeOf, outlineOf } from '../outlines.ts';
import { generalTolerance } from '../../src/check/tolerance.ts';

const input = (name: string, u: number, sensitivity = 1, degrees?: number): Input => ({
  name,
  unit: 'nm',
  u,
  sensitivity,
  source: 'JCGM 100:2008, H.1',
  ...(degrees === undefined ? {} : { degrees }),
});

// JCGM 100:2008 (GUM), example H.1: length of an end gauge. Inputs and contributions as the documentation of the GTC
// library gives them; every step, not the last number only.
describe('GUM H.1, end gauge of 50 mm', () => {
  const [lS, alphaS, theta] = [50_000_623, 11.5e-6, -0.1];
  it('H.1.3.2: the difference of the comparator, 9.7 nm with 25.4 degrees of freedom', () => {
    const d = combine([
      input('repeated', 13 / Math.sqrt(5), 1, 24),
      input('random', 0.01e3 / expansion(0.95, 5), 1, 5),
      input('systematic', 0.02e3 / 3, 1, 8),
    ]);
    expect(13 / Math.sqrt(5)).toBeCloseTo(5.8, 1);
    expect(0.01e3 / 2.57).toBeCloseTo(3.9, 1);
    expect(d.contributions.map((c) => Number(c.u.toFixed(1)))).toEqual([5.8, 3.9, 6.7]);
    expect(d.u).toBeCloseTo(9.7, 1);
    expect(Math.floor(d.degrees)).toBe(25);
  });
  const dAlpha = lawOf.rectangular(1e-6);
  const dTheta = lawOf.rectangular(0.05);
  it('H.1.3.3 to H.1.3.6: half-widths become standard uncertainties', () => {
    expect(dAlpha).toBeCloseTo(0.577e-6, 9);
    expect(dTheta).toBeCloseTo(0.0289, 4);
    expect(lawOf.rectangular(2e-6)).toBeCloseTo(1.2e-6, 7);
    expect(lawOf.arcsine(0.5)).toBeCloseTo(0.35, 2);
    expect(Math.hypot(0.2, lawOf.arcsine(0.5))).toBeCloseTo(0.41, 2);
  });
  const inputs = [
    input('standard', 25, 1, 18),
    input('repeated', 5.8, 1, 24),
    input('random', 3.9, 1, 5),
    input('systematic', 6.7, 1, 8),
    input('difference of expansion', dAlpha, -lS * theta, 50),
    input('difference of temperature', dTheta, -lS * alphaS, 2),
    input('expansion', lawOf.rectangular(2e-6), 0),
    input('temperature', 0.41, 0),
  ];
  const whole = combine(inputs);
  it('H.1.4: contributions 25, 5.8, 3.9, 6.7, 2.9, 16.6 nm and u = 32 nm', () => {
    expect(whole.contributions.map((c) => Number(c.u.toFixed(1)))).toEqual([
      25, 5.8, 3.9, 6.7, 2.9, 16.6, 0, 0,
    ]);
    expect(Math.abs(whole.u ** 2 - 1002)).toBeLessThan(1.5);
    expect(Math.round(whole.u)).toBe(32);
    expect(whole.contributions.reduce((sum, c) => sum + c.share, 0)).toBeCloseTo(1, 12);
  });
  it('H.1.4: l = 50.000 838 mm', () => {
    expect((lS + 215 - lS * (0 * theta + alphaS * 0)) / 1e6).toBeCloseTo(50.000838, 6);
  });
  it('H.1.6: 16 effective degrees of freedom, t99 = 2.92, U99 = 93 nm', () => {
    // With the comparator as one input of 25 degrees, as the example has it.
    const merged = combine([inputs[0]!, input('d', 9.7, 1, 25.6), inputs[4]!, inputs[5]!]);
    expect(Math.abs(merged.degrees - 16.7)).toBeLessThan(0.1);
    const { k, expandedU } = expand(merged, 0.99);
    expect(k).toBeCloseTo(2.9208, 4);
    expect(expandedU).toBeCloseTo(92.5, 1);
    expect(Math.round(2.92 * 32)).toBe(93);
  });
  it('H.1.7: terms of second order, 11.7 and 1.7 nm, make it 34 nm', () => {
    const second = [lS * dAlpha * 0.406, lS * lawOf.rectangular(2e-6) * dTheta];
    expect(second[0]).toBeCloseTo(11.7, 1);
    expect(second[1]).toBeCloseTo(1.7, 1);
    expect(Math.round(Math.hypot(whole.u, ...second))).toBe(34);
  });
});

// EA-4/02, example S10: a vernier caliper held against a steel block of 150 mm. Inputs from memory.
describe('EA-4/02 S10, vernier caliper', () => {
  const um = (name: string, u: number, sensitivity = 1): Input => ({
    ...input(name, u, sensitivity),
    unit: 'µm',
    source: 'EA-4/02, S10',
  });
  const found = combine([
    um('block', lawOf.rectangular(0.8), -1),
    um('temperature', lawOf.rectangular(2), 150e3 * 11.5e-6),
    um('step', lawOf.rectangular(25)),
    um('mechanical effects', lawOf.rectangular(50)),
  ]);
  it('0.46, 2.0, 14.4, 28.9 µm make 32.3 µm (printed 33 from 15 and 29)', () => {
    expect(found.contributions.map((c) => Number(c.u.toFixed(c.u < 1 ? 2 : 1)))).toEqual([
      0.46, 2, 14.4, 28.9,
    ]);
    expect(found.u).toBeCloseTo(32.3, 0);
    expect(Math.round(Math.hypot(0.46, 2, 15, 29))).toBe(33);
  });
  it('a trapezoid: k = 1.83 and not 2, U = 0.06 mm', () => {
    const k = trapezoidFactor(0.95, 50, 25);
    expect(k).toBeCloseTo(1.834, 3);
    expect(Math.round(k * found.u)).toBe(59);
    expect((k * found.u) / 1000).toBeCloseTo(0.06, 2);
  });
});

it('JCGM 100, 5.2.2, example: ten resistors compared with one standard, fully correlated, are known to 1 Ω', () => {
  // 1000 Ω each, u = 100 mΩ from the standard, r = 1 (from memory); taken as independent they would be 0.32 Ω.
  const ten = Array.from({ length: 10 }, (_, k) => ({ ...input(`R${k}`, 0.1), unit: 'Ω' }));
  const together = combine(ten, () => 1);
  expect(together.u).toBeCloseTo(1, 12);
  together.contributions.forEach(({ share }) => expect(share).toBeCloseTo(0.1, 12));
  expect(combine(ten).u).toBeCloseTo(0.316, 3);
});

it('the budget of a dimension, as inputs, combines to its own u (5.1.2)', () => {
  const modes = [
    modeOf(card, 'spans', (x) => [(x - 50) * 1e-3, 0]),
    modeOf(card, 'thickness', (x) => [(x - 90) * 2e-4, 0]),
  ];
  const found = width(outlineOf(card, { modes }), 0);
  const inputs = inputsOf(found, {
    spans: { u: 0.03, from: 'calipers' },
    thickness: { value: 10.03, u: 0.05, from: 'calipers' },
  });
  expect(combine(inputs).u).toBeCloseTo(found.u, 12);
  const spans = inputs.find((i) => i.name === 'spans')!;
  // 85.6 mm wide, 0.1 % of scale: 0.0856 mm by 0.03 mm.
  expect(spans.sensitivity).toBeCloseTo(0.0856 / 0.03, 3);
  expect(inputs.find((i) => i.name === 'thickness')).toMatchObject({ value: 10.03, u: 0.05 });
  combine(inputs).contributions.forEach(({ share }, k) =>
    expect(share).toBeCloseTo(found.budget[k]!.share, 12),
  );
});

describe('factors of Student and of the normal law', () => {
  // JCGM 100, table G.2 (from memory).
  it.each([
    [1, 0.95, 12.71],
    [2, 0.9545, 4.53],
    [3, 0.9545, 3.31],
    [5, 0.95, 2.57],
    [10, 0.9545, 2.28],
    [16, 0.99, 2.92],
    [50, 0.95, 2.01],
    [Infinity, 0.9545, 2.0],
    [Infinity, 0.99, 2.576],
  ])('%d degrees, p = %d: %d', (degrees, p, factor) => {
    expect(Math.abs(expansion(p, degrees) - factor)).toBeLessThan(0.006);
  });
  it('Φ⁻¹(0.95) = 1.6449 (guard band of ISO 14253-1:2017)', () => {
    expect(normalBelow(1.6449)).toBeCloseTo(0.95, 5);
    expect(normalBelow(-1.6449)).toBeCloseTo(0.05, 5);
  });
});

it('JCGM 106, conformance probability: 80 ± 0.3 with u = 0.04, y = 80.25 gives 0.8944', () => {
  expect(conformance(80.25, 0.04, { least: 79.7, most: 80.3 })).toBeCloseTo(0.8944, 4);
  expect(conformance(80, 0.04, { most: 80 })).toBeCloseTo(0.5, 9);
});

describe('ISO 2768-1', () => {
  it.each([
    [3, 0.1],
    [6, 0.1],
    [6.01, 0.2],
    [30, 0.2],
    [120, 0.3],
    [120.01, 0.5],
    [400, 0.5],
    [0.49, undefined],
    [4000.1, undefined],
  ])('class m at %d mm: %s', (nominal, tolerance) => {
    expect(generalTolerance(nominal, 'm')).toBe(tolerance);
  });
  it('has no f above 2000 mm and no v up to 3 mm; radii of c and v are twice those of f and m', () => {
    expect(generalTolerance(2500, 'f')).toBeUndefined();
    expect(generalTolerance(3, 'v')).toBeUndefined();
    for (const r of [2, 5, 8])
      expect(generalTolerance(r, 'c', 'radius')).toBe(2 * generalTolerance(r, 'm', 'radius')!);
  });
});
