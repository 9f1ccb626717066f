import { describe, expect, it } from 'vitest';
import { withoutDust } from '../../src/outline/dust.ts';
import type { Edge } from '../../src/outline/edge.ts';

const RADIUS_PX = 200;
const COUNT = 1256;

/** A circle's edge, bulging by `bulgePx` over twelve points; there the level outside is `level` instead of 0.6. */
function edge(bulgePx: number, level: number, corner = false): Edge {
  const zeros = (): Float64Array => new Float64Array(COUNT);
  const turn = (k: number): number => (2 * Math.PI * k) / COUNT;
  const bulge = (k: number): number =>
    k > 600 && k < 612 ? bulgePx * Math.sin((Math.PI * (k - 600)) / 12) : 0;
  const radius = (k: number): number => RADIUS_PX + bulge(k);
  const along = (f: (k: number) => number): Float64Array =>
    Float64Array.from({ length: COUNT }, (_, k) => f(k));
  return {
    count: COUNT,
    x: along((k) => radius(k) * Math.cos(turn(k))),
    y: along((k) => radius(k) * Math.sin(turn(k))),
    nx: along((k) => Math.cos(turn(k))),
    ny: along((k) => Math.sin(turn(k))),
    sigma: zeros().fill(0.03),
    contrast: zeros().fill(0.5),
    ramp: new Uint8Array(COUNT),
    inside: zeros().fill(0.1),
    outside: along((k) => (k > 600 && k < 612 ? level : 0.6)),
    poor: new Uint8Array(COUNT),
    printed: new Uint8Array(COUNT),
    byColour: new Uint8Array(COUNT),
    clipped: new Uint8Array(COUNT),
    corner: Uint8Array.from({ length: COUNT }, (_, k) => (corner && k === 606 ? 1 : 0)),
    room: zeros(),
    footU: zeros(),
    apart: zeros(),
  };
}

const worst = ({ x, y, count }: Edge): number =>
  Math.max(
    ...Array.from({ length: count }, (_, k) => Math.abs(Math.hypot(x[k]!, y[k]!) - RADIUS_PX)),
  );

describe('dust on the glass over an edge', () => {
  it('a speck of a third colour: the edge runs on below it, and is less certain there', () => {
    const clean = withoutDust(edge(2, 0.95));
    expect(worst(clean)).toBeLessThan(0.02);
    expect(clean.sigma[606]).toBeGreaterThan(0.1);
    expect(clean.poor[606]).toBe(1);
    expect(clean.sigma[500]).toBe(0.03);
  });

  it('a bump of the blank itself stays, and so does a corner', () => {
    const bump = edge(2, 0.6);
    expect(withoutDust(bump)).toBe(bump);
    const corner = edge(2, 0.95, true);
    expect(withoutDust(corner)).toBe(corner);
  });

  it('print that changes at a smooth edge moves nothing', () => {
    const printed = edge(0.1, 0.95);
    expect(withoutDust(printed)).toBe(printed);
  });
});
