import { inverse, Matrix } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import { measure } from '../../src/check/feature.ts';
import { modeCovariance, nextCheck, otherDirection, type Known } from '../../src/check/next.ts';
import { INSTRUMENTS } from '../../src/check/reading.ts';
import type { Outline } from '../../src/outline/outline.ts';
import { card, modeOf, outlineOf } from '../outlines.ts';

const { sharedU, eachU } = INSTRUMENTS.caliper;
const [mx, my] = [100, 120];
/** A card whose scale is doubtful along x and along y, and which may be sheared. */
const doubtful = (x: number, y: number, shear: number): Outline =>
  outlineOf(card, {
    modes: [
      modeOf(card, 'spans', (px) => [(px - mx) * x, 0]),
      modeOf(card, 'spans', (_, py) => [0, (py - my) * y]),
      modeOf(card, 'spans', (px, py) => [(py - my) * shear, (px - mx) * shear]),
    ],
  });
const read = (outline: Outline, feature: Parameters<typeof measure>[1]): Known => ({
  dimension: measure(outline, feature),
  ownU: eachU,
  sharedU,
});
const WIDTH = { kind: 'main', side: 'width' } as const;
const HEIGHT = { kind: 'main', side: 'height' } as const;

describe('what readings leave of the doubt', () => {
  it('is the inverse of the sum of informations (the other form of the same least squares)', () => {
    const outline = doubtful(2e-3, 1e-3, 5e-4);
    const known = [WIDTH, HEIGHT, { kind: 'across', directionRad: 0.7 } as const].map((f) =>
      read(outline, f),
    );
    const g = new Matrix(known.map((k) => Array.from(k.dimension.shifts)));
    const r = new Matrix(
      known.map((a, i) =>
        known.map(
          (b, j) => a.sharedU * b.sharedU + (i === j ? a.ownU ** 2 + a.dimension.ownVariance : 0),
        ),
      ),
    );
    const direct = inverse(Matrix.eye(3).add(g.transpose().mmul(inverse(r)).mmul(g)));
    const found = modeCovariance(3, known);
    expect(Matrix.sub(found, direct).norm()).toBeLessThan(1e-9);
    // Knowing more never leaves more: every variance is less than it was.
    for (let k = 0; k < 3; k++) expect(found.get(k, k)).toBeLessThan(1);
  });

  it('a second reading of the same instrument helps less than one of another would', () => {
    const outline = doubtful(2e-3, 1e-3, 0);
    const one = read(outline, WIDTH);
    const left = (shared: number): number =>
      modeCovariance(3, [
        { ...one, sharedU: shared },
        { ...one, sharedU: shared },
      ]).get(0, 0);
    // The same u in all, once shared by both readings, once each its own.
    const own = Math.hypot(sharedU, eachU);
    const apart = modeCovariance(3, [
      { ...one, ownU: own, sharedU: 0 },
      { ...one, ownU: own, sharedU: 0 },
    ]).get(0, 0);
    expect(left(sharedU)).toBeGreaterThan(apart);
  });
});

describe('the next check', () => {
  it('goes where the doubt is', () => {
    expect(nextCheck(doubtful(2e-3, 1e-4, 0), [], INSTRUMENTS.caliper)!.feature).toEqual(WIDTH);
    expect(nextCheck(doubtful(1e-4, 3e-3, 0), [], INSTRUMENTS.caliper)!.feature).toEqual(HEIGHT);
  });

  it('asks for a slanting direction once both sides are read: they do not show shear', () => {
    const outline = doubtful(1e-3, 1e-3, 2e-3);
    const known = [read(outline, WIDTH), read(outline, HEIGHT)];
    const found = nextCheck(outline, known, INSTRUMENTS.caliper)!;
    expect(found.feature.kind).toBe('across');
    expect(found.thenU).toBeLessThan(found.nowU);
  });

  it('is none where no reading would help', () => {
    expect(nextCheck(doubtful(1e-5, 1e-5, 1e-5), [], INSTRUMENTS.caliper)).toBeUndefined();
  });

  it('foresees what the reading leaves, whatever it turns out to be', () => {
    const outline = doubtful(2e-3, 1e-3, 0);
    const first = nextCheck(outline, [], INSTRUMENTS.caliper)!;
    const second = nextCheck(outline, [read(outline, first.feature)], INSTRUMENTS.caliper)!;
    expect(second.nowU).toBeCloseTo(first.thenU, 9);
  });
});

describe('where a corrected outline is checked', () => {
  const apart = (a: number, b: number): number => {
    const turn = Math.abs(a - b) % Math.PI;
    return Math.min(turn, Math.PI - turn);
  };
  it.each([false, true])('is as far as may be from all that was read, mirrored: %s', (mirrored) => {
    const outline = { ...outlineOf(card), mirrored };
    const read = [WIDTH, HEIGHT].map((f) => measure(outline, f).directionRad);
    for (let k = 0; k < 3; k++) {
      const { directionRad } = measure(outline, otherDirection(outline, read));
      const room = Math.min(...read.map((r) => apart(directionRad, r)));
      for (let deg = 0; deg < 180; deg += 15)
        expect(
          Math.min(...read.map((r) => apart((deg * Math.PI) / 180 + read[0]!, r))),
        ).toBeLessThanOrEqual(room + 1e-6);
      // Between two sides at right angles that is 45 degrees off both.
      if (k < 2) expect(room).toBeCloseTo(Math.PI / 4, 6);
      read.push(directionRad);
    }
  });
});
