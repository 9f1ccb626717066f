import { expect, it } from 'vitest';
import { STAGE, type Backdrop } from '../../src/outline/backdrop.ts';
import type { Planes } from '../../src/outline/planes.ts';
import { holesOrPrint, maskOf, type Evidence } from '../../src/outline/silhouette.ts';

/** A scan at 600 dpi: 0.0423 mm/px, coarse pixels of 8 x 8. */
const MM_PER_PX = 25.4 / 600;
const STEP = 8;
const SIDE = 64;
interface Divided {
  readonly mask: Uint8Array;
  readonly within: ReturnType<typeof holesOrPrint>;
}
/** ln of light against the sheet's: of a blank, and of what shows where `floor` says so. */
interface Tones {
  readonly lid: boolean;
  readonly blank: number;
  readonly floor: number;
  /** The blank is certain nowhere, for it has no colour of its own; its silhouette is given. */
  readonly neutral?: boolean;
  /** Where a rider lies on it. */
  readonly rider?: (x: number, y: number) => boolean;
}
const SHADED_LID: Tones = { lid: true, blank: 0.2, floor: -1.1 };
/** Pale wood on a black stage throws light on it. */
const BLACK_STAGE: Tones = { lid: false, blank: 2.9, floor: 0.1 };

function divided(
  floor: (x: number, y: number) => boolean,
  { lid, ...tones }: Tones = SHADED_LID,
  mmPerPx = MM_PER_PX,
): Divided {
  const count = SIDE * SIDE;
  const level = new Float32Array(count);
  const evidence: Evidence = { sure: new Uint8Array(count), lit: new Uint8Array(count) };
  const sharp = new Uint8Array(count);
  const blank = new Uint8Array(count);
  for (let k = 0; k < count; k++) {
    const [x, y] = [k % SIDE, Math.floor(k / SIDE)];
    const within = x >= 12 && x < 52 && y >= 12 && y < 52;
    const shown = within && floor(x, y);
    blank[k] = within && !shown ? 1 : 0;
    evidence.sure[k] = tones.neutral ? 0 : blank[k]!;
    evidence.lit[k] = within ? 0 : 1;
    level[k] = within ? (shown ? tones.floor : tones.blank) : 0;
  }
  for (let k = SIDE; k < count - SIDE; k++)
    if (blank[k] && [1, -1, SIDE, -SIDE].some((to) => !blank[k + to])) sharp[k] = 1;
  const none = new Float32Array(count);
  const planes: Planes = {
    ...{ left: 0, top: 0, step: STEP, width: SIDE, height: SIDE },
    colour: [none, none, none],
  };
  const backdrop: Backdrop = {
    kind: new Uint8Array(count).fill(STAGE),
    mixedLight: () => [0, 1],
    inkAt: () => 0,
    level,
    chroma: none,
    levelSigma: 0.01,
    chromaSigma: none.slice().fill(0.012),
    hueOf: () => 0,
    lid,
    stageTone: [0.06, 0.06, 0.06],
  };
  const steps = { sharp, height: none };
  const inRider = new Uint8Array(count);
  for (let k = 0; k < count; k++) if (tones.rider?.(k % SIDE, Math.floor(k / SIDE))) inRider[k] = 1;
  const mask = tones.neutral
    ? evidence.lit.map((lit) => 1 - lit)
    : maskOf(planes, backdrop, steps, evidence, mmPerPx);
  return {
    mask,
    within: holesOrPrint(mask, planes, backdrop, steps, evidence, inRider, mmPerPx),
  };
}
const opened = (mask: Uint8Array, floor: (x: number, y: number) => boolean): number => {
  let count = 0;
  for (let k = 0; k < mask.length; k++)
    if (floor(k % SIDE, Math.floor(k / SIDE)) && !mask[k]) count++;
  return count;
};

// A hole of 1 mm shows at least 0.4 mm² of its floor in whole coarse pixels of 0.34 mm.
it.each([
  [
    'a hole of 1 mm in deep shade',
    (x: number, y: number) => x >= 30 && x < 32 && y >= 30 && y < 32,
    4,
  ],
  ['the end of a narrow bay', (x: number, y: number) => x >= 49 && x < 52 && y >= 30 && y < 32, 6],
] as const)('opens %s', (_, floor, pixels) => {
  expect(opened(divided(floor).mask, floor)).toBe(pixels);
});

it('leaves a crumb of dust on the blank closed', () => {
  const crumb = (x: number, y: number): boolean => x >= 30 && x < 32 && y === 30;
  expect(opened(divided(crumb).mask, crumb)).toBe(0);
});

// 0.3 mm²: too small for a hole; what is open to the stage may be that small, for a fibre lies there and is no part of the blank.
it('tells a fibre against the blank from a crumb on it', () => {
  const fibre = (x: number, y: number): boolean => x >= 46 && x < 52 && y === 30;
  const crumb = (x: number, y: number): boolean => fibre(x + 20, y);
  expect(opened(divided(fibre, SHADED_LID, MM_PER_PX / 1.5).mask, fibre)).toBe(6);
  expect(opened(divided(crumb, SHADED_LID, MM_PER_PX / 1.5).mask, crumb)).toBe(0);
});

// The floor of a bay is brighter than the open stage there, so that no shadow tells what it is; it runs out onto the stage without a step.
it('opens deep bays of a pale blank on a black stage', () => {
  const bay = (x: number, y: number): boolean => x >= 22 && y >= 30 && y < 34;
  expect(opened(divided(bay, BLACK_STAGE).mask, (x, y) => bay(x, y) && x < 52)).toBe(4 * 30);
});

it('says where something as bright as the stage may be a hole or print', () => {
  const patch = (x: number, y: number): boolean => x >= 30 && x < 36 && y >= 20 && y < 26;
  const { mask, within } = divided(patch, BLACK_STAGE);
  expect(opened(mask, patch)).toBe(0);
  expect(within).toHaveLength(1);
  expect(within[0]!.x).toBeCloseTo(32.5, 6);
  expect(within[0]!.y).toBeCloseTo(22.5, 6);
  expect(within[0]!.areaMm2).toBeCloseTo(36 * (STEP * MM_PER_PX) ** 2, 6);
  expect(divided(() => false, BLACK_STAGE).within).toEqual([]);
});

it('takes the rim of a rider that was cut wide for neither', () => {
  const around = (x: number, y: number, by: number): boolean =>
    Math.abs(x - 31.5) < 8 + by && Math.abs(y - 31.5) < 8 + by;
  const rider = (x: number, y: number): boolean => around(x, y, 0);
  const rim = (x: number, y: number): boolean => around(x, y, 3) && !rider(x, y);
  expect(divided(rim, BLACK_STAGE).within).toHaveLength(1);
  expect(divided(rim, { ...BLACK_STAGE, rider }).within).toEqual([]);
});

// A grey blank has no colour that parts it from its stage: a small deep hole is darker than the stage, and so may print be.
it('says so of a small dark part of a bright blank without a colour', () => {
  const hole = (x: number, y: number): boolean => x >= 28 && x < 34 && y >= 28 && y < 34;
  const { within } = divided(hole, { lid: false, blank: 2.9, floor: -1.4, neutral: true });
  expect(within).toHaveLength(1);
  expect(within[0]!.x).toBeCloseTo(30.5, 6);
  expect(divided(() => false, { ...BLACK_STAGE, neutral: true }).within).toEqual([]);
});
