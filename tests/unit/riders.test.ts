import { describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { calibrate } from '../../src/view/adjust.ts';
import { facesUnder } from '../../src/view/lying.ts';
import { faceUncertainty } from '../../src/view/modes.ts';
import { simulate, type Case } from '../support/simulate.ts';

const thick: Case = { seed: 6, height: 30, printError: 0.008, bow: 0, fKnown: 0.035 };

function viewOf(o: Case) {
  const s = simulate(o);
  return calibrate(s.found, s.meta, s.widthPx, s.heightPx, s.settings);
}

describe('a rider that does not lie on the blank', () => {
  it('on a block of another height tells the camera almost as much as on the blank', () => {
    const u = (o: Partial<Case>): number => faceUncertainty(viewOf({ ...thick, ...o }), 0).uMm;
    const none = u({});
    const block = u({ beside: [{ size: 50, heightMm: 25, block: true }] });
    expect(block).toBeLessThan(0.3 * none);
    expect(block).toBeGreaterThan(0.9 * u({ rider: 50 }));
  });

  it('is told from one on the blank', () => {
    for (const heightMm of [12, 26, 34]) {
      const view = viewOf({ ...thick, rider: 50, beside: [{ size: 30, heightMm, block: true }] });
      const on = view.riders.map(({ design, thicknessIndex }) => [design.sizeMm, thicknessIndex]);
      expect(on).toEqual([
        [50, 0],
        [30, 1],
      ]);
    }
  });

  it('contradicts where nobody spoke of a block', () => {
    const why = (): string => {
      try {
        viewOf({ ...thick, beside: [{ size: 50, heightMm: 12, block: false }] });
      } catch (error) {
        if (error instanceof Refusal) return error.reason.code;
        throw error;
      }
      return 'nothing';
    };
    expect(why()).toBe('rider-height');
  });
});

it('two riders of one size err together by their one reading', () => {
  const s = simulate({ ...thick, rider: 50, beside: [{ size: 50, heightMm: 30, block: false }] });
  const view = calibrate(s.found, s.meta, s.widthPx, s.heightPx, {
    ...s.settings,
    riderSpansMm: { 50: 50 },
  });
  const [a, b] = [0, 1].map((r) => view.names.indexOf(`rider ${r} ln size`)) as [number, number];
  const moved = (k: number, l: number): number =>
    view.modes.reduce((sum, { delta }) => sum + delta[k]! * delta[l]!, 0);
  const shared = moved(a, b) / Math.sqrt(moved(a, a) * moved(b, b));
  // Were each measured by itself, they would share only what the sheet's own scale leaves.
  expect(shared).toBeGreaterThan(0.4);
});

describe('on which height each rider lies', () => {
  const none = { riderOf: [0, 1], facesMm: [10, 4], blocks: 0, faceU: 0.05, betweenU: 0.05 };

  it('is decided by all of them: a focal length that is off lifts both alike', () => {
    // 40 % too high, both: next to their own heights lie 10 and 10.
    const share = 0.4;
    const heightsMm = [14, 7.4];
    const covariance = [10, 5].map((a) => [10, 5].map((b) => share ** 2 * a * b));
    const both = facesUnder({ ...none, facesMm: [10, 5], heightsMm, covariance });
    expect(both.map((b) => b.face)).toEqual([0, 1]);
    const alone = { ...none, facesMm: [10, 5], riderOf: [0], heightsMm: [7.6], covariance: [[1]] };
    expect(facesUnder(alone)[0]!.face).toBe(0);
  });

  it('a block was entered because a rider lies on it', () => {
    const one = { ...none, riderOf: [0], heightsMm: [10.9], covariance: [[0.64]], blocks: 1 };
    expect(facesUnder({ ...one, facesMm: [10, 12] })).toEqual([{ face: 1, orElseU: 0 }]);
    expect(facesUnder({ ...one, facesMm: [10, 12], blocks: 0 })[0]!.face).toBe(0);
  });

  it('where two heights explain it alike, their difference is uncertain', () => {
    const between = { ...none, riderOf: [0], heightsMm: [10.25], covariance: [[0.64]] };
    const { orElseU } = facesUnder({ ...between, facesMm: [10, 10.5] })[0]!;
    // Half and half: 0.5 mm off or not.
    expect(orElseU).toBeCloseTo(0.5 * Math.SQRT1_2, 3);
    expect(facesUnder({ ...between, facesMm: [10, 60] })[0]!.orElseU).toBeLessThan(1e-6);
  });
});
