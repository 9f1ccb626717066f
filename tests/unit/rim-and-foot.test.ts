import { expect, it } from 'vitest';
import type { RayVertex } from '../../src/geometry/radial.ts';
import { lightsOf } from '../../src/outline/linear.ts';
import { throughBoth } from '../../src/outline/rim-and-foot.ts';
import type { View } from '../../src/view/view.ts';

// A disc of 30 mm radius, 10 mm thick, beside a camera 300 mm above the sheet that looks straight down: ten pixels to the
// millimetre on the sheet. Its wall shows up to 1 mm wide on the side of the camera. Drawn here, nine points to a pixel.
const CAMERA_MM = 300;
const FACE_MM = 10;
const F_PX = 3000;
const CENTRE_MM = 60;
const RADIUS_MM = 30;
const SCALE = CAMERA_MM / (CAMERA_MM - FACE_MM);
const [WIDE, HIGH] = [760, 720];
const [CX, CY] = [-230, 360];

const eye = {
  kind: 'camera',
  fPx: F_PX,
  cxPx: CX,
  cyPx: CY,
  k1: 0,
  k2: 0,
  p1: 0,
  p2: 0,
  rotation: [1, 0, 0, 0, -1, 0, 0, 0, -1],
  centre: [0, 0, CAMERA_MM],
};
const view = { eye, blurPx: 0.6 } as unknown as View;

const STAGE = [40, 120, 110];
const WALL = [90, 70, 50];
const FACE = [200, 160, 110];

/** Whether a place of the sheet is covered by any height of a disc's wall: the way to the camera's foot meets the disc. */
function covered(x: number, y: number, from: number, to: number, radius: number): boolean {
  const along = (x * CENTRE_MM) / (x * x + y * y);
  const t = Math.min(to, Math.max(from, along));
  return Math.hypot(t * x - CENTRE_MM, t * y) < radius;
}

/** @param insetMm how far the face ends inside the disc */
function drawn(insetMm: number): Uint8Array {
  const light = (coded: number): number => (coded / 255) ** 2.2;
  const data = new Uint8Array(3 * WIDE * HIGH);
  for (let j = 0; j < HIGH; j++) {
    for (let i = 0; i < WIDE; i++) {
      const sum = [0, 0, 0];
      for (let s = 0; s < 9; s++) {
        // Spread over 1.5 pixels: some blur.
        const x = ((i + ((s % 3) - 1) / 2 - CX) * CAMERA_MM) / F_PX;
        const y = (-(j + (Math.floor(s / 3) - 1) / 2 - CY) * CAMERA_MM) / F_PX;
        const face = Math.hypot(x / SCALE - CENTRE_MM, y / SCALE) < RADIUS_MM - insetMm;
        const colour = face ? FACE : covered(x, y, 1 / SCALE, 1, RADIUS_MM) ? WALL : STAGE;
        for (let c = 0; c < 3; c++) sum[c]! += light(colour[c]!) / 9;
      }
      for (let c = 0; c < 3; c++)
        data[3 * (j * WIDE + i) + c] = Math.round(255 * sum[c]! ** (1 / 2.2));
    }
  }
  return data;
}

/** The disc, but for 3 mm of it near the camera, where the rim was taken for the foot. */
const mistaken = Array.from({ length: 1800 }, (_, k): RayVertex<'sheet'> => {
  const a = (2 * Math.PI * k) / 1800;
  const [x, y] = [CENTRE_MM + RADIUS_MM * Math.cos(a), RADIUS_MM * Math.sin(a)];
  const off = Math.abs(a - Math.PI - 0.4) * RADIUS_MM;
  const share = off < 1.5 ? Math.cos((off / 1.5) * (Math.PI / 2)) ** 2 : 0;
  const by = 1 + share * (SCALE - 1);
  return { x: by * x, y: by * y, kind: 'near', from: k, hiddenAfter: false };
});
const farthest = (ring: readonly RayVertex<'sheet'>[]): number =>
  Math.max(...ring.map(({ x, y }) => Math.abs(Math.hypot(x - CENTRE_MM, y) - RADIUS_MM)));

const looked = (insetMm: number): RayVertex<'sheet'>[][] =>
  throughBoth(
    [mistaken],
    { x: 0, y: 0 },
    SCALE,
    lightsOf({ widthPx: WIDE, heightPx: HIGH, channels: 3, data: drawn(insetMm) }),
    view,
    [0, FACE_MM],
    0.1,
    undefined,
    () => false,
  );

it('moves a stretch whose rim was taken for its foot to where both edges lie', () => {
  expect(farthest(mistaken)).toBeGreaterThan(0.8);
  expect(farthest(looked(0)[0]!)).toBeLessThan(0.06);
});

it('leaves a blank alone whose face ends inside its widest place', () => {
  expect(looked(1.2)).toEqual([mistaken]);
});
