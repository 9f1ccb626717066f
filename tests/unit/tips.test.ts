import { describe, expect, it } from 'vitest';
import type { Point } from '../../src/base/measure.ts';
import { resample } from '../../src/geometry/measure.ts';
import { tipsOf, tipUncertainty } from '../../src/outline/tips.ts';

const ring = (...xy: readonly (readonly [number, number])[]): Point<'sheet'>[] =>
  xy.map(([x, y]) => ({ x, y }));
const W = 0.25;

describe('tips and clefts', () => {
  // Plane geometry: two sides that open by a are w apart at w / (2 tan(a/2)) from their meeting.
  it.each([90, 60, 36])('of %d degrees end unseen over w / (2 tan(a/2))', (degrees) => {
    const half = (degrees * Math.PI) / 360;
    const [x, y] = [30 * Math.cos(half), 30 * Math.sin(half)];
    const wedge = resample(ring([0, 0], [x, -y], [x, y]), 0.1);
    const tip = tipsOf(wedge, W).find(
      ({ vertex }) => Math.hypot(wedge[vertex]!.x, wedge[vertex]!.y) < W / 2,
    )!;
    expect(tip.unseenMm).toBeCloseTo(W / (2 * Math.tan(half)), 2);
  });

  it('are none on a circle of ten resolved widths', () => {
    const circle = Array.from({ length: 400 }, (_, k) => ({
      x: 10 * W * Math.cos((k * Math.PI) / 200),
      y: 10 * W * Math.sin((k * Math.PI) / 200),
    }));
    expect(tipsOf<'sheet'>(circle, W)).toEqual([]);
  });

  it('widen the uncertainty at the tip and nowhere along the sides', () => {
    const square = resample(ring([0, 0], [10, 0], [10, 10], [0, 10]), 0.05);
    const u = tipUncertainty(square, W);
    const corner = square.findIndex((p) => Math.hypot(p.x, p.y) < 0.03);
    const middle = square.findIndex((p) => Math.hypot(p.x - 5, p.y) < 0.03);
    expect(u[corner]).toBeGreaterThan(0.3 * W * 0.5);
    expect(u[middle]).toBe(0);
  });
});
