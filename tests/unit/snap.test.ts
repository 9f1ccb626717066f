import { describe, expect, it } from 'vitest';
import { snapped } from '../../src/outline/snap.ts';
import type { Picture } from '../../src/picture/picture.ts';

/** A picture of 120 x 100 px; its colour at a place. */
function drawn(at: (x: number, y: number) => readonly [number, number, number]): Picture {
  const [widthPx, heightPx] = [120, 100];
  const data = new Uint8Array(3 * widthPx * heightPx);
  for (let y = 0; y < heightPx; y++)
    for (let x = 0; x < widthPx; x++) data.set(at(x, y).map(Math.round), 3 * (y * widthPx + x));
  const meta = {
    format: 'png' as const,
    bitsPerChannel: 8 as const,
    storedWidthPx: widthPx,
    storedHeightPx: heightPx,
    orientation: 1 as const,
    hasExif: false,
  };
  return { name: 'drawn', widthPx, heightPx, channels: 3, data, meta };
}
/** A step as a lens of sigma 1 px shows it (a logistic curve is within a hundredth of the error function). */
const soft = (d: number): number => 1 / (1 + Math.exp(-1.702 * d));

describe('a point laid by hand', () => {
  it.each([0, 0.4, 1.1, 2.5])(
    'snaps to an edge at %f rad, to a tenth of a px across it',
    (angle) => {
      const [nx, ny] = [Math.cos(angle), Math.sin(angle)];
      const away = (x: number, y: number): number => nx * (x - 60.3) + ny * (y - 49.6);
      const picture = drawn((x, y) => [40 + 160 * soft(away(x, y)), 90, 90]);
      for (const [x, y] of [
        [60, 50],
        [60 + 4 * nx, 50 + 4 * ny],
        [60 - 5 * nx - 3 * ny, 50 - 5 * ny + 3 * nx],
      ] as const) {
        const found = snapped(picture, { x, y }, 8)!;
        expect(Math.abs(away(found.x, found.y))).toBeLessThan(0.1);
        expect(Math.hypot(found.x - x, found.y - y)).toBeLessThan(8);
      }
    },
  );

  it('stays where nothing stands out, where the edge is too far, and at the rim of the picture', () => {
    const flat = drawn((x, y) => [120 + ((x * 7 + y * 3) % 5), 120, 120]);
    expect(snapped(flat, { x: 60, y: 50 }, 8)).toBeUndefined();
    const edge = drawn((x) => [x < 60 ? 40 : 200, 90, 90]);
    expect(snapped(edge, { x: 80, y: 50 }, 8)).toBeUndefined();
    expect(snapped(edge, { x: 60, y: 1 }, 8)).toBeUndefined();
  });
});
