import fc from 'fast-check';
import { expect, it } from 'vitest';
import { isSimple, lightRing } from '../../src/geometry/light.ts';
import { Nearest } from '../../src/geometry/nearest.ts';
import { signedArea } from '../../src/geometry/measure.ts';
import { behindSilhouette } from '../../src/geometry/radial.ts';

const RUNS = { numRuns: 100 };

/** A star-shaped ring with 3 to 7 waves. */
const ring = fc
  .record({
    waves: fc.integer({ min: 3, max: 7 }),
    depth: fc.double({ min: 0, max: 0.35, noNaN: true }),
    turn: fc.double({ min: 0, max: 6, noNaN: true }),
    radius: fc.double({ min: 8, max: 60, noNaN: true }),
  })
  .map(({ waves, depth, turn, radius }) =>
    Array.from({ length: 600 }, (_, k) => {
      const a = (2 * Math.PI * k) / 600;
      const r = radius * (1 + depth * Math.sin(waves * a + turn));
      return { x: 100 + r * Math.cos(a), y: 140 + r * Math.sin(a) };
    }),
  );

// simplify-js does the thinning: without it there is no light ring.
it('a light ring has fewer vertices, stays within its tolerance and never crosses itself', () => {
  fc.assert(
    fc.property(ring, fc.double({ min: 0.02, max: 1, noNaN: true }), (full, tolerance) => {
      const light = lightRing(full, tolerance);
      expect(light.length).toBeLessThan(full.length);
      expect(isSimple(light)).toBe(true);
      expect(Math.sign(signedArea(light))).toBe(1);
      const near = new Nearest([light], 2);
      for (const p of full) expect(near.distance(p.x, p.y)).toBeLessThanOrEqual(tolerance + 1e-9);
    }),
    RUNS,
  );
});

it('what lies behind a silhouette lies inside it, and is all of it at height nought', () => {
  fc.assert(
    fc.property(
      ring,
      fc.double({ min: 20, max: 180, noNaN: true }),
      fc.double({ min: 1.005, max: 1.1, noNaN: true }),
      (silhouette, x, s) => {
        const foot = { x, y: 97.3 };
        const area = (rings: readonly (readonly { x: number; y: number }[])[]): number =>
          rings.reduce((sum, r) => sum + signedArea(r), 0);
        const whole = signedArea(silhouette);
        const less = area(behindSilhouette([silhouette], foot, s));
        const more = area(behindSilhouette([silhouette], foot, (1 + s) / 2));
        expect(area(behindSilhouette([silhouette], foot, 1))).toBeCloseTo(whole, 6);
        // Monotone: the higher the blank is said to be, the less of the silhouette it can fill.
        expect(less).toBeLessThanOrEqual(more + 1e-9);
        expect(more).toBeLessThanOrEqual(whole + 1e-9);
        // S/s lies around R: R is at least as small as both ends.
        expect(less).toBeLessThanOrEqual(whole / (s * s) + 1e-9);
      },
    ),
    RUNS,
  );
});
