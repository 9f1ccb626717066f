import { expect, it } from 'vitest';
import { CORNER, CUBIC, pointsOfCurve } from '../../src/outline/mask-curves.ts';
import { curvesOfMask } from '../../src/outline/potrace.ts';

const mask = (side: number, inside: (x: number, y: number) => boolean): Uint8Array =>
  Uint8Array.from({ length: side * side }, (_, k) =>
    inside(k % side, Math.floor(k / side)) ? 1 : 0,
  );

// potrace's private names are used: this fails when they change.
it('rounds a disc and its hole, pixel centres at integers', () => {
  const side = 120;
  const curves = curvesOfMask(
    mask(side, (x, y) => {
      const r = Math.hypot(x - 60, y - 58);
      return r < 45 && r > 12;
    }),
    side,
    side,
  );
  expect(curves).toHaveLength(2);
  const radii = curves.map((curve) => {
    expect(curve.points).toHaveLength(6 * curve.kinds.length);
    expect([...curve.kinds].every((k) => k === CORNER || k === CUBIC)).toBe(true);
    const points = pointsOfCurve(curve, 1);
    let sum = 0;
    for (let k = 0; k < points.length; k += 2) {
      const r = Math.hypot(points[k]! - 60, points[k + 1]! - 58);
      sum += r;
    }
    return sum / (points.length / 2);
  });
  radii.sort((a, b) => a - b);
  expect(radii[0]!).toBeCloseTo(12, 0);
  expect(Math.abs(radii[1]! - 45)).toBeLessThan(0.4);
});

it('keeps the corners of a square', () => {
  const curves = curvesOfMask(
    mask(80, (x, y) => x >= 20 && x < 60 && y >= 20 && y < 60),
    80,
    80,
  );
  expect(curves).toHaveLength(1);
  expect([...curves[0]!.kinds].filter((k) => k === CORNER)).toHaveLength(4);
});
