import { describe, expect, it } from 'vitest';
import { calibrate } from '../../src/view/adjust.ts';
import { faceUncertainty } from '../../src/view/modes.ts';
import type { CalibrationSettings, Remedy, View } from '../../src/view/view.ts';
import { simulate, type Case } from '../support/simulate.ts';

// Woodbury's identity says beforehand what one more observation does to a covariance; the adjustment that really has the
// observation is the check. Source: Golub and Van Loan, Matrix Computations, 2.1.4 (from memory).
const base: Case = { seed: 6, height: 10, printError: 0.02, bow: 0, fKnown: 0.035 };

const viewOf = (
  o: Case,
  change: (s: CalibrationSettings) => CalibrationSettings = (s) => s,
): View => {
  const s = simulate(o);
  return calibrate(s.found, s.meta, s.widthPx, s.heightPx, change(s.settings));
};
const promised = (view: View, what: Remedy['what']): number =>
  view.remedies.find((r) => r.what === what)?.uMm ?? NaN;
const uOf = (view: View): number => faceUncertainty(view, 0).uMm;

describe('what would help is computed from the covariance', () => {
  it('reading the spans', () => {
    const none = viewOf(base, (s) => ({ ...s, spansMm: {}, wantMm: 10 }));
    const read = viewOf(base);
    expect(uOf(read)).toBeLessThan(0.6 * uOf(none));
    expect(promised(none, 'read the spans') / uOf(read)).toBeCloseTo(1, 1);
    expect(promised(read, 'read the spans')).toBeNaN();
    // What helps most stands first.
    const promises = none.remedies.map(({ uMm }) => uMm);
    expect(promises).toEqual([...promises].sort((a, b) => a - b));
  });

  it('measuring the thickness', () => {
    const rough = viewOf({ ...base, thicknessU: 0.5, thicknessError: 0 });
    const fine = viewOf({ ...base, thicknessU: 0.02, thicknessError: 0 });
    expect(promised(rough, 'measure the thickness') / uOf(fine)).toBeCloseTo(1, 1);
    expect(promised(fine, 'measure the thickness')).toBeNaN();
  });

  it.each([10, 20, 40])('laying a rider on a face at %d mm', (height) => {
    const without = viewOf({ ...base, height }, (s) => ({ ...s, wantMm: 10 }));
    const withOne = viewOf({ ...base, height, rider: 50 });
    expect(uOf(withOne)).toBeLessThan(0.6 * uOf(without));
    // The paper under it and its own slope are not foreseen: a tenth is left to them.
    expect(uOf(withOne) / promised(without, 'lay a rider')).toBeGreaterThan(0.9);
    expect(uOf(withOne) / promised(without, 'lay a rider')).toBeLessThan(1.1);
    expect(promised(withOne, 'lay a rider')).toBeNaN();
  });
});
