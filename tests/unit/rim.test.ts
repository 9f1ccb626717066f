import { expect, it } from 'vitest';
import type { Point } from '../../src/base/measure.ts';
import type { RayVertex } from '../../src/geometry/radial.ts';
import { insideBulge, widestBehind } from '../../src/outline/rim.ts';

const FOOT: Point<'sheet'> = { x: 0, y: 0 };
const CAMERA_MM = 300;
/** A disc about the foot point, so that every line of sight lies across its edge. */
const disc = (radius: number): RayVertex<'sheet'>[] =>
  Array.from({ length: 720 }, (_, k) => {
    const a = (2 * Math.PI * k) / 720;
    return {
      x: radius * Math.cos(a),
      y: radius * Math.sin(a),
      kind: 'far',
      from: k,
      hiddenAfter: false,
    };
  });
const radiusOf = (ring: readonly Point<'sheet'>[]): number =>
  ring.reduce((sum, { x, y }) => sum + Math.hypot(x, y), 0) / ring.length;

// The quarter circle is gone round in small steps for the place where the line of sight touches it.
it.each([0.1, 0.3, 0.6])(
  'takes half a rounded edge’s bulge off, seen at a slope of %s',
  (slope) => {
    const depth = 3;
    let most = 0;
    for (let a = 0; a <= Math.PI / 2; a += 1e-4)
      most = Math.max(most, depth * (Math.cos(a) + slope * Math.sin(a)) - depth);
    const radius = slope * CAMERA_MM;
    const inside = insideBulge(disc(radius), depth, FOOT, CAMERA_MM);
    expect(radius - radiusOf(inside)).toBeCloseTo(most / 2, 3);
  },
);

it('goes out from a face by its inset, but no farther than the face overhangs', () => {
  const rim = { insetMm: 0.2, uMm: 0.03 };
  // Three hundredths of 50 mm is 1.5 mm of overhang; three thousandths of 10 mm is less than the inset.
  expect(radiusOf(widestBehind(disc(50), rim, FOOT, 1.03)) - 50).toBeCloseTo(0.2, 3);
  expect(radiusOf(widestBehind(disc(10), rim, FOOT, 1.003)) - 10).toBeCloseTo(0.03, 3);
});
