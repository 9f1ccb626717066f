import { expect, it } from 'vitest';
import type { Backdrop } from '../../src/outline/backdrop.ts';
import { huedFor } from '../../src/outline/hue.ts';
import { lightsOf } from '../../src/outline/linear.ts';
import type { Planes } from '../../src/outline/planes.ts';

const lights = lightsOf({ widthPx: 4, heightPx: 4, channels: 3, data: new Uint8Array(48) });

/** What tells a blank of one colour from a stage of another, linear light. */
function told(blank: readonly number[], stage: readonly number[]) {
  const colour = blank.map((v) => new Float32Array(16).fill(v));
  const hueOf = (up: number, down: number): number =>
    Math.log((stage[up]! + 0.005) / (stage[down]! + 0.005));
  const planes = { colour } as unknown as Planes;
  return huedFor(new Uint8Array(16).fill(1), planes, { hueOf } as Backdrop, lights);
}

const BLACK = [0.015, 0.015, 0.015];

it('tells a blank from its stage by red and blue where they differ, as most do', () => {
  const { lights: own, sheetHue } = told([0.6, 0.2, 0.05], BLACK);
  expect([own.up, own.down]).toEqual([lights.red, lights.blue]);
  expect(sheetHue.off([0.3, 0.3, 0.3])).toBeCloseTo(0);
});

it.each([
  ['green', [0.02, 0.4, 0.03]],
  ['magenta', [0.4, 0.02, 0.42]],
])(
  'tells a %s blank, whose red is to its blue as the stage has them, by its green',
  (_, colour) => {
    const { lights: own } = told(colour, BLACK);
    expect(own.up).toBe(lights.green);
    expect(own.down).not.toBe(lights.green);
  },
);

it('keeps red and blue for a grey blank, which has no hue at all', () => {
  expect(told([0.3, 0.3, 0.3], BLACK).lights.up).toBe(lights.red);
});

// A shadow takes as much of every channel; two channels that agree with the stage's say nothing of the third.
it('says how far light is from the hue of the stage by whichever two channels tell most', () => {
  const { sheetHue } = told([0.3, 0.3, 0.3], [0.1, 0.3, 0.25]);
  expect(sheetHue.off([0.1, 0.3, 0.25])).toBeCloseTo(0, 9);
  expect(sheetHue.off([0.05, 0.15, 0.125])).toBeLessThan(0.04);
  expect(sheetHue.off([0.1, 0.605, 0.25])).toBeCloseTo(Math.log(0.61 / 0.305), 9);
});
