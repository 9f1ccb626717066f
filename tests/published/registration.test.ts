import { describe, expect, it } from 'vitest';
import { REGISTRATION, registrationOf, type RegistrationOf } from '../../src/plan/registration.ts';
import { materialOf, type Stock } from '../../src/pocket/material.ts';

const still = { boardSeatMm: 0, cutterMm: 0, printerMm: 0, spreadMm: 0, heatK: 0, dampPercent: 0 };
const of: RegistrationOf = {
  clearanceMm: 0,
  outlineU: 0,
  reachMm: 600,
  board: { material: 'acrylic' },
  bleedMm: 2,
  safeMm: 2,
};

describe('growth of the board', () => {
  // Acrylic sheet, suppliers' data: 7.4 to 7.7e-5 /K, so 600 mm over 10 K 0.444 to 0.462 mm; from 60 to 80 % RH 0.6 mm.
  it('acrylic of 600 mm: 10 K and 20 % RH', () => {
    const { heatPerK, dampPerPercent } = materialOf('acrylic').movement!;
    expect(600 * 10 * heatPerK).toBeGreaterThanOrEqual(0.444);
    expect(600 * 10 * heatPerK).toBeLessThanOrEqual(0.462);
    expect(600 * 20 * dampPerPercent!).toBeCloseTo(0.6, 9);
    const half = 600 * 20 * dampPerPercent!;
    const { offMm } = registrationOf({ ...still, dampPercent: 20 }, of);
    // A rectangle of half-width a has the standard uncertainty a / sqrt(3): JCGM 100, 4.3.7.
    expect(offMm).toBeCloseTo((2 * half) / Math.sqrt(3), 9);
  });

  it('is not counted, and that is said, where the board is not told', () => {
    const { growthKnown, offMm } = registrationOf({ ...still, heatK: 10 }, { ...of, board: {} });
    expect([growthKnown, offMm]).toEqual([false, 0]);
  });
});

describe('the whole budget', () => {
  // JCGM 101, Monte Carlo: the sources drawn from their own laws and added up, in ignorance of the formula.
  it('holds at least 95 % of what a simulation of the same sources lands off, and little more', () => {
    const settings = { ...REGISTRATION, spreadMm: 0.3 };
    const case1 = { ...of, clearanceMm: 0.2, outlineU: 0.05, reachMm: 300 };
    const { offMm, inputs } = registrationOf(settings, case1);
    expect(inputs.reduce((sum, { share }) => sum + share, 0)).toBeCloseTo(1, 9);
    let state = 1;
    const random = (): number => (state = (state * 48271) % 2147483647) / 2147483647;
    const box = (half: number): number => half * (2 * random() - 1);
    const normal = (): number =>
      Math.sqrt(-2 * Math.log(random())) * Math.cos(2 * Math.PI * random());
    const RUNS = 100_000;
    let held = 0;
    for (let k = 0; k < RUNS; k++) {
      const sum =
        box(0.2) +
        box(0.1) +
        box(0.1) +
        box(0.1) +
        box(0.15) +
        0.05 * normal() +
        300 * (box(7.5e-5 * 5) + box(5e-5 * 10));
      if (Math.abs(sum) <= offMm) held++;
    }
    expect(held / RUNS).toBeGreaterThan(0.95);
    expect(held / RUNS).toBeLessThan(0.975);
  });

  it('warns of a bare edge and a short safe area exactly where they are less than it', () => {
    const settings = REGISTRATION;
    const { offMm, leastMm } = registrationOf(settings, of);
    expect(leastMm).toBeGreaterThanOrEqual(offMm);
    expect(leastMm - offMm).toBeLessThan(0.05);
    const codes = (bleedMm: number, safeMm: number): string[] =>
      registrationOf(settings, { ...of, bleedMm, safeMm }).reasons.map(({ code }) => code);
    expect(codes(leastMm, leastMm)).toEqual([]);
    expect(codes(offMm - 0.01, leastMm)).toEqual(['edge-bare']);
    expect(codes(leastMm, offMm - 0.01)).toEqual(['safe-short']);
  });

  it('grows with every source, never shrinks', () => {
    const base = registrationOf(REGISTRATION, of).offMm;
    for (const key of Object.keys(REGISTRATION) as (keyof typeof REGISTRATION)[])
      expect(
        registrationOf({ ...REGISTRATION, [key]: REGISTRATION[key] + 1 }, of).offMm,
      ).toBeGreaterThan(base);
    expect(registrationOf(REGISTRATION, { ...of, clearanceMm: 0.3 }).offMm).toBeGreaterThan(base);
  });
});

/* Heat alone, within ± d kelvin (rectangular): U = 2 · share · reach · d / √3; GUM 4.3.7. */
it('a board of her own grows by her figures, and by its material’s where she has none', () => {
  const heatOnly = { ...still, heatK: 10 };
  const stock: Stock = { name: 'sheets of the shop', material: 'acrylic', heatPerK: 9e-5 };
  const off = (own: Stock | undefined): number =>
    registrationOf(heatOnly, { ...of, board: { material: 'acrylic', ...(own && { stock: own }) } })
      .offMm;
  const grows = (share: number): number => (2 * share * 600 * 10) / Math.sqrt(3);
  expect(off(stock)).toBeCloseTo(grows(9e-5), 6);
  expect(off({ name: 'other', material: 'acrylic' })).toBeCloseTo(grows(7.5e-5), 6);
  expect(off(undefined)).toBeCloseTo(grows(7.5e-5), 6);
});
