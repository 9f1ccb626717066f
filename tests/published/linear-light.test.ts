import { expect, it } from 'vitest';
import {
  codedOfLinear,
  LINEAR_OF_BYTE,
  linearOfCoded,
  LinearLuma,
} from '../../src/outline/linear.ts';

// Source: IEC 61966-2-1 (sRGB), values computed from its two formulas to six digits.
it.each([
  [10, 0.003035],
  [11, 0.003347],
  [64, 0.051269],
  [127, 0.212231],
  [128, 0.215861],
  [188, 0.502886],
  [254, 0.991102],
])('8-bit %d is %f of full light', (byte, linear) => {
  expect(LINEAR_OF_BYTE[byte]!).toBeCloseTo(linear, 6);
  expect(linearOfCoded(byte / 255)).toBeCloseTo(linear, 6);
});

it.each([
  [0.18, 0.461356 * 255],
  [0.25, 136.96],
  [0.5, 187.516],
  [0.75, 224.61],
])('light %f is coded %f', (linear, coded) => {
  expect(255 * codedOfLinear(linear)).toBeCloseTo(coded, 2);
});

it('undoes luma of a grey pixel as the pixel itself', () => {
  const data = Uint8Array.from({ length: 256 * 3 }, (_, k) => Math.floor(k / 3));
  const luma = new LinearLuma({ widthPx: 256, heightPx: 1, channels: 3, data });
  luma.need(0, 0, 255, 0);
  for (let v = 0; v < 256; v++)
    expect(luma.at(v, 0) / 65535).toBeCloseTo(linearOfCoded(v / 255), 4);
});
