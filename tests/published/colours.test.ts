import { describe, expect, it } from 'vitest';
import { readPicture } from '../../src/picture/decode-node.ts';
import { matrixProfile } from '../../src/picture/icc.ts';
import type { Picture } from '../../src/picture/picture.ts';
import { ADOBE_1998, COLOURS, profiled } from '../support/profiled.ts';

const times = (m: readonly (readonly number[])[], v: readonly number[]): number[] =>
  m.map((row) => row.reduce((sum, c, k) => sum + c * v[k]!, 0));

/**
 * Adobe RGB (1998) in sRGB, 0 to 255, by arithmetic from the spaces' own matrices at D65, so that nothing of the profile
 * is used. Source: Adobe RGB (1998) Color Image Encoding, 4.3; IEC 61966-2-1 (both from memory).
 */
function expected(rgb: readonly number[]): number[] {
  const xyz = times(
    [
      [0.57667, 0.18556, 0.18823],
      [0.29734, 0.62736, 0.07529],
      [0.02703, 0.07069, 0.99134],
    ],
    rgb.map((v) => (v / 255) ** (563 / 256)),
  );
  return times(
    [
      [3.2404542, -1.5371385, -0.4985314],
      [-0.969266, 1.8760108, 0.041556],
      [0.0556434, -0.2040259, 1.0572252],
    ],
    xyz,
  ).map((v) => {
    const c = Math.min(1, Math.max(0, v));
    return 255 * (c <= 0.0031308 ? 12.92 * c : 1.055 * c ** (1 / 2.4) - 0.055);
  });
}

describe('a wide space is converted to sRGB by its profile', () => {
  it.each(['png', 'tiff', 'jpeg'] as const)('%s', async (format) => {
    const read = async (icc: Uint8Array): Promise<Picture> =>
      readPicture(await profiled(icc, format), `wide.${format === 'jpeg' ? 'jpg' : format}`);
    // With a profile of sRGB itself the numbers stay; those of the JPEG are what its compression has left.
    const stored = await read(matrixProfile());
    if (format !== 'jpeg')
      COLOURS.forEach((v, k) => expect(Math.abs(stored.data[k]! - v)).toBeLessThanOrEqual(1));
    const { data, channels, meta } = await read(matrixProfile(ADOBE_1998));
    expect(meta.reasons).toEqual([]);
    let greatest = 0;
    let moved = 0;
    for (let at = 0; at < data.length; at += channels) {
      const before = [...stored.data.subarray(at, at + 3)];
      expected(before).forEach((v, c) => {
        greatest = Math.max(greatest, Math.abs(data[at + c]! - v));
        moved = Math.max(moved, Math.abs(before[c]! - v));
      });
    }
    expect(moved, 'the profile matters').toBeGreaterThan(50);
    // Half a count of rounding, and as much again for the profile's own figures of 16 bits.
    expect(greatest).toBeLessThanOrEqual(1);
  });

  it('a profile that cannot be used is said; the colours are read as sRGB', async () => {
    const broken = matrixProfile(ADOBE_1998).slice(0, 160);
    const { data, meta } = await readPicture(await profiled(broken, 'tiff'), 'wide.tif');
    expect(meta.reasons).toMatchObject([{ code: 'picture-profile', level: 'doubt' }]);
    expect([...data]).toEqual([...COLOURS]);
  });
});
