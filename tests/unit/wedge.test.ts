import { describe, expect, it } from 'vitest';
import { LinearLuma } from '../../src/outline/linear.ts';
import { bivariateNormal, fitWedge, wedgeAt, type Wedge } from '../../src/outline/wedge.ts';

/** Share of a wedge under a Gaussian blur by summing small squares. */
function summed(w: Wedge, convex: boolean, blurPx: number, px: number, py: number): number {
  const axis = Math.atan2(
    Math.sin(w.back) + Math.sin(w.forth),
    Math.cos(w.back) + Math.cos(w.forth),
  );
  const half = Math.abs(Math.atan2(Math.sin(w.back - axis), Math.cos(w.back - axis)));
  let [inside, all] = [0, 0];
  const step = blurPx / 8;
  for (let a = -32; a <= 32; a++) {
    for (let b = -32; b <= 32; b++) {
      const weight = Math.exp(-(a * a + b * b) / 128);
      const angle = Math.atan2(py + b * step - w.y, px + a * step - w.x) - axis;
      all += weight;
      if (Math.abs(Math.atan2(Math.sin(angle), Math.cos(angle))) < half === convex)
        inside += weight;
    }
  }
  return inside / all;
}

describe('bivariate normal', () => {
  // Sheppard 1899: both below their means with probability 1/4 + asin(r) / (2 pi).
  it.each([-0.95, -0.8, -0.3, 0, 0.5, 0.9])('has the orthant probability for r = %f', (r) => {
    expect(bivariateNormal(0, 0, r)).toBeCloseTo(0.25 + Math.asin(r) / (2 * Math.PI), 6);
  });

  it('falls apart into two where nothing correlates', () => {
    // Normal distribution at 1 and 1/2: 0.841345, 0.691462 (Abramowitz and Stegun, table 26.1).
    expect(bivariateNormal(1, 0.5, 0)).toBeCloseTo(0.841345 * 0.691462, 5);
  });
});

const apex = { x: 20.3, y: 19.6, backBend: 0, forthBend: 0 };

/** A picture of these linear lights. */
function pictured(lightAt: (x: number, y: number) => number): LinearLuma {
  const side = 41;
  const data = new Uint8Array(3 * side * side);
  for (let y = 0; y < side; y++) {
    for (let x = 0; x < side; x++) {
      // IEC 61966-2-1.
      const value = Math.round(255 * (1.055 * lightAt(x, y) ** (1 / 2.4) - 0.055));
      data.fill(value, 3 * (y * side + x), 3 * (y * side + x) + 3);
    }
  }
  return new LinearLuma({ widthPx: side, heightPx: side, channels: 3, data });
}

// A soft shadow whose border runs from the apex away from the point, as that of a blank on a lid that is lit from one side.
it.each([38, 60, 80])('a point of %d degrees is found beside a shadow', (degrees) => {
  const half = ((degrees / 2) * Math.PI) / 180;
  const wedge = { ...apex, back: 0.4 + half, forth: 0.4 - half };
  const plane = pictured((x, y) => {
    const below = -(x - wedge.x) * Math.sin(0.2) + (y - wedge.y) * Math.cos(0.2);
    const ground = 0.7 * (1 - 0.5 / (1 + Math.exp(-below / 1.2)));
    const share = wedgeAt(wedge, true, 0.7, x, y);
    return 0.05 * share + ground * (1 - share);
  });
  const found = fitWedge(
    plane,
    { ...wedge, x: wedge.x + 0.7, y: wedge.y - 0.5 },
    true,
    0.7,
    9,
    undefined,
  )!;
  // A sharper wedge tells less of where it ends.
  expect(Math.hypot(found.x - wedge.x, found.y - wedge.y)).toBeLessThan(0.15 / Math.sin(half));
  expect(found.rest).toBeLessThan(0.07);
});

describe.each([20, 60, 90, 140])('a wedge of %d degrees', (degrees) => {
  const half = ((degrees / 2) * Math.PI) / 180;
  const wedge = { ...apex, back: 0.4 + half, forth: 0.4 - half };

  it.each([true, false])('has the light that summing it up gives (convex: %s)', (convex) => {
    for (const [x, y] of [
      [20, 20],
      [22, 21],
      [25, 23],
      [18, 19],
      [21, 17],
    ] as const) {
      expect(
        Math.abs(wedgeAt(wedge, convex, 0.7, x, y) - summed(wedge, convex, 0.7, x, y)),
      ).toBeLessThan(0.006);
    }
  });

  it.each([true, false])('is found again in a picture of it (convex: %s)', (convex) => {
    const plane = pictured((x, y) => 0.1 + 0.6 * summed(wedge, convex, 0.7, x, y));
    const start = {
      ...wedge,
      x: wedge.x + 1,
      y: wedge.y - 1,
      back: wedge.back + 0.1,
      forth: wedge.forth + 0.05,
    };
    const found = fitWedge(plane, start, convex, 0.7, 9, undefined)!;
    // A sharper wedge tells less of where it ends.
    const along = 0.02 / Math.sin(half);
    expect(Math.hypot(found.x - wedge.x, found.y - wedge.y)).toBeLessThan(along);
    expect(found.rest).toBeLessThan(0.01);
  });
});
