import { describe, expect, it } from 'vitest';
import { layOn, regionMovedBy, type Motion } from '../../src/geometry/lay.ts';
import { mapRegion } from '../../src/geometry/measure.ts';
import type { Region } from '../../src/geometry/shape.ts';

/** A blob without any symmetry, by a Fourier series of its radius, mm. */
const blob: Region<'sheet'> = {
  outer: Array.from({ length: 400 }, (_, k) => {
    const a = (2 * Math.PI * k) / 400;
    const r = 40 + 9 * Math.cos(a) + 6 * Math.sin(2 * a + 0.4) + 3 * Math.cos(3 * a - 1);
    return { x: r * Math.cos(a), y: r * Math.sin(a) };
  }),
  holes: [],
};

const farthest = (a: Region<'sheet'>, b: Region<'sheet'>): number =>
  Math.max(...a.outer.map((p, k) => Math.hypot(p.x - b.outer[k]!.x, p.y - b.outer[k]!.y)));

describe('laying one outline on another', () => {
  // A law: what was moved by a rigid motion is brought back by its inverse, whatever the motion.
  for (const turnDeg of [0, 3, 47, 179, -120]) {
    for (const mirrored of [false, true]) {
      it(`finds a piece turned by ${turnDeg} degrees${mirrored ? ' and over' : ''}`, () => {
        const motion: Motion = { mirrored, turnRad: (turnDeg * Math.PI) / 180, xMm: 71, yMm: -33 };
        const piece = regionMovedBy(motion, blob);
        const laid = layOn(piece, blob, mirrored);
        expect(laid.rmsMm).toBeLessThan(0.002);
        const back = regionMovedBy(laid.motion, piece);
        const same = mirrored ? { outer: [...back.outer], holes: [] } : back;
        // Mirroring twice restores the order of the vertices.
        expect(farthest(same, blob)).toBeLessThan(0.01);
      });
    }
  }

  it('does not take a piece that lies face down for one that lies face up', () => {
    const over = regionMovedBy({ mirrored: true, turnRad: 1, xMm: 0, yMm: 0 }, blob);
    expect(layOn(over, blob, false).rmsMm).toBeGreaterThan(20 * layOn(over, blob, true).rmsMm);
    expect(layOn(over, blob, false).rmsMm).toBeGreaterThan(1);
  });

  it('is not pulled by a corner that is broken off', () => {
    const broken = mapRegion<'sheet', 'sheet'>(blob, (p) => (p.x > 51 ? { x: 51, y: p.y } : p));
    const moved = regionMovedBy({ mirrored: false, turnRad: 0.3, xMm: 5, yMm: 2 }, broken);
    const back = regionMovedBy(layOn(moved, blob, false).motion, moved);
    const whole = back.outer.filter((_, k) => blob.outer[k]!.x < 45);
    const apart = whole.map((p, k) => {
      const q = blob.outer.filter((b) => b.x < 45)[k]!;
      return Math.hypot(p.x - q.x, p.y - q.y);
    });
    expect(Math.max(...apart)).toBeLessThan(0.25);
  });
});
