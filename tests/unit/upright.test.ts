import { describe, expect, it } from 'vitest';
import { holdAgainst, unevenPieces } from '../../src/check/checked.ts';
import { measure } from '../../src/check/feature.ts';
import { improve } from '../../src/check/improve.ts';
import { nextCheck } from '../../src/check/next.ts';
import { average, INSTRUMENTS, type Reading } from '../../src/check/reading.ts';
import type { Outline, OutlineMode } from '../../src/outline/outline.ts';
import { card, modeOf, outlineOf } from '../outlines.ts';

// Thickness and step as checks: what stands upright on the sheet. The laws are those of least squares and of JCGM 100.

/** Seen from 300 mm above the card's middle, a face 1 mm higher looks 1/300 larger (similar triangles). */
const PER_MM = 1 / 300;
const grow = (source: OutlineMode['source'], mm: number): OutlineMode =>
  modeOf(card, source, (x, y) => [-(x - 102.8) * PER_MM * mm, -(y - 127) * PER_MM * mm]);
/** Its face is known to 0.4 mm, and its widest edge, 2 mm lower, to 0.3 mm. */
const bevelled = (blank = 1): Outline => ({
  ...outlineOf(card, {
    blank,
    at: 'widest',
    modes: [
      { ...grow('thickness', 0.4), heightMm: 0.4 },
      { ...grow('widest height', -0.3), belowMm: 0.3 },
    ] as OutlineMode[],
  }),
  heightMm: 8,
  belowFaceMm: 2,
  thicknessMm: 10,
});
const read = (kind: 'thickness' | 'step', valuesMm: number[], more: Partial<Reading> = {}) =>
  ({ blank: 1, feature: { kind }, valuesMm, with: 'caliper', ...more }) as Reading;
const held = (outlines: readonly Outline[], ...readings: Reading[]) =>
  holdAgainst(outlines, readings, INSTRUMENTS, 0.3);

describe('thickness and step', () => {
  it('are what the adjustment left: 10 ± 0.4 mm, and 2 ± 0.3 mm down to the widest edge', () => {
    expect(measure(bevelled(), { kind: 'thickness' })).toMatchObject({ valueMm: 10, u: 0.4 });
    expect(measure(bevelled(), { kind: 'step' })).toMatchObject({ valueMm: 2, u: 0.3 });
    const { budget } = measure(bevelled(), { kind: 'step' });
    expect(budget).toEqual([{ source: 'widest height', u: expect.closeTo(0.3, 9), share: 1 }]);
  });
  it('are refused where no picture tells of heights', () => {
    const { lost, checked } = held([outlineOf(card)], read('thickness', [3]));
    expect(checked).toEqual([]);
    expect(lost[0]!.reason.code).toBe('height-not-pictured');
  });
  it('are judged, with a sentence that says where to put it right', () => {
    const { checked } = held([bevelled()], read('thickness', [12.5]), read('step', [0]));
    expect(checked.map((c) => c.judgement.verdict)).toEqual(['contradicts', 'contradicts']);
    expect(checked[0]!.judgement.sentence).toMatch(/face 2\.50 mm lower than you read.*Outline/);
    expect(checked[1]!.judgement.sentence).toMatch(/widest 0\.00 mm below the face.*Outline/);
    expect(checked.some((c) => c.fit)).toBe(false);
  });
  it('readings that scatter more than the caliper explains are told of the uneven blank', () => {
    const { checked } = held([bevelled()], read('thickness', [9.9, 10.3, 10.1]));
    expect(checked[0]!.judgement.verdict).toBe('says little');
    expect(checked[0]!.judgement.sentence).toMatch(/differ by 0\.40 mm.*uneven/);
  });
});

describe('a thickness that was read', () => {
  const outline = bevelled();
  const reading = read('thickness', [10.3], { use: 'fit' });
  const after = improve(
    { outlines: [outline], verdict: 'ok', reasons: [] },
    [outline],
    [reading],
    INSTRUMENTS,
  ).trace.outlines[0]!;
  const [before, now] = [outline, after].map((o) => measure(o, { kind: 'thickness' }));
  it('moves the face to the weighted mean of both, with its u (two observations of one quantity)', () => {
    const { u } = average([10.3], INSTRUMENTS.caliper);
    const weight = 0.4 ** 2 / (0.4 ** 2 + u ** 2);
    expect(now!.valueMm).toBeCloseTo(10 + weight * 0.3, 9);
    expect(now!.u).toBeCloseTo(Math.sqrt(1 / (1 / 0.4 ** 2 + 1 / u ** 2)), 9);
    expect(measure(after, { kind: 'step' }).valueMm).toBeCloseTo(2, 9);
  });
  it('makes the outline as much smaller as a face that much higher looks larger', () => {
    const size = (o: Outline): number => measure(o, { kind: 'main', side: 'width' }).valueMm;
    const higher = now!.valueMm - before!.valueMm;
    expect(size(after) / size(outline)).toBeCloseTo(1 - higher * PER_MM, 5);
  });
  it('is proposed where height is what the doubt is made of, which is then gone', () => {
    const tall = outlineOf(card, {
      modes: [{ ...grow('thickness', 3), heightMm: 3 }] as OutlineMode[],
    });
    // A direct reading of the height tells more than any width, which it moves by a 300th of itself per mm.
    expect(nextCheck(tall, [], INSTRUMENTS.caliper)!.feature).toEqual({ kind: 'thickness' });
    const known = {
      dimension: measure(tall, { kind: 'thickness' }),
      ownU: INSTRUMENTS.caliper.eachU,
      sharedU: INSTRUMENTS.caliper.sharedU,
    };
    const first = nextCheck(tall, [], INSTRUMENTS.caliper)!;
    expect(nextCheck(tall, [known], INSTRUMENTS.caliper)?.nowU ?? 0).toBeLessThan(first.nowU / 10);
  });
});

describe('pieces of one kind', () => {
  const two = [bevelled(1), bevelled(2)];
  const of = (a: number, b: number) =>
    unevenPieces(
      held(two, read('thickness', [a]), { ...read('thickness', [b]), blank: 2 }).checked,
    );
  it('differ in thickness only beyond what the readings have of their own (the caliper error cancels)', () => {
    const U = 2 * Math.SQRT2 * INSTRUMENTS.caliper.eachU;
    expect(of(10, 10 + U - 0.005)).toEqual([]);
    expect(of(10, 10 + U + 0.005)[0]).toMatchObject({
      code: 'pieces-thickness-differ',
      facts: { thickest: 2, thinnest: 1 },
    });
  });
});
