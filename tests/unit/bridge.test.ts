import { expect, it } from 'vitest';
import { bridgesOf } from '../../src/outline/bridge.ts';

// A circle of 300 px, and 50 points of it to be drawn anew, of which a third lie a pixel and a half off: what a change of print
// at the edge does to profiles.
const RADIUS = 300;
const COUNT = Math.round(2 * Math.PI * RADIUS);
const GAP = [700, 750] as const;
const off = (k: number): number => (k > 715 && k < 732 ? -1.5 : 0);
const ring = Float64Array.from({ length: 2 * COUNT }, (_, i) => {
  const k = i >> 1;
  const a = (2 * Math.PI * k) / COUNT;
  return (RADIUS + off(k)) * (i % 2 === 0 ? Math.cos(a) : Math.sin(a));
});
const flags = (of: (k: number) => boolean): Uint8Array =>
  Uint8Array.from({ length: COUNT }, (_, k) => (of(k) ? 1 : 0));
const gap = flags((k) => k >= GAP[0] && k < GAP[1]);

it('draws a curve on across a gap whose points are drawn off in the middle', () => {
  const drawn = bridgesOf(
    ring,
    gap,
    flags((k) => !gap[k]),
  );
  expect(drawn.size).toBeGreaterThan(14);
  for (const [k, [x, y]] of drawn) {
    expect(gap[k]).toBe(1);
    // A fifth of what the middle is drawn off by.
    expect(Math.abs(Math.hypot(x, y) - RADIUS)).toBeLessThan(1.5 / 5);
  }
  // A chord would leave the circle by its sagitta, length squared over eight radii.
  expect(50 ** 2 / (8 * RADIUS)).toBeGreaterThan(1);
});

it('draws nothing where a side has too few points to say how it goes on', () => {
  expect(
    bridgesOf(
      ring,
      gap,
      flags((k) => !gap[k] && (k < 690 || k > 755)),
    ).size,
  ).toBe(0);
});
