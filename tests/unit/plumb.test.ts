import { expect, it } from 'vitest';
import { heldAt, plumbed, type Wall, type WallPlace } from '../../src/outline/plumb.ts';
import { seenPlanes } from '../../src/outline/uncertainty.ts';
import { calibrate } from '../../src/view/adjust.ts';
import { eyeOf, sheetOfPicture } from '../../src/view/model.ts';
import type { View } from '../../src/view/view.ts';
import { Random, seen, simulate, type Simulated } from '../support/simulate.ts';

// A disc 30 mm high and 50 across, 70 mm beside the middle of the sheet: its wall shows towards the camera. The true camera's
// projection is written apart from the program's.
const AT = { x: 105, y: 218 };
const RADIUS_MM = 25;
const HEIGHT_MM = 30;
const COUNT = 150;

interface Seeds {
  readonly s: Simulated;
  readonly view: View;
  /** Both edges as they are. */
  readonly exact: Wall;
  /** With what shadows and noise do to them. */
  readonly wall: Wall;
}

/** @param leanMm how far the rim lies inside the foot all round */
function discOf(seed: number, leanMm = 0): Seeds {
  const s = simulate({
    ...{ seed, height: HEIGHT_MM, printError: 0.03, bow: 0.2, rider: 50 as const },
    fKnown: 0.035,
  });
  const view = calibrate(s.found, s.meta, s.widthPx, s.heightPx, s.settings);
  const random = new Random(seed);
  const mmPerPx = view.mmPerPx;
  const shadow = [0.5, 0.25, 0.25].map((px) => random.normal(px * mmPerPx));
  const at = (x: number, y: number, z: number): { x: number; y: number } => {
    const [u, v] = seen(s.camera, x, y, z);
    return { x: u, y: v };
  };
  const drawn = (noisy: boolean): Wall => ({
    heights: { thicknessIndex: 0, belowFaceMm: 0, at: AT },
    places: Array.from({ length: COUNT }, (_, k): WallPlace => {
      // The half that faces the camera.
      const a = Math.PI + (Math.PI * (k + 0.5)) / COUNT;
      const [nx, ny] = [Math.cos(a), Math.sin(a)];
      const edge = (off: number, z: number): { x: number; y: number } =>
        at(AT.x + (RADIUS_MM + off) * nx, AT.y + (RADIUS_MM + off) * ny, z);
      const noise = noisy ? random.normal(0.2 * mmPerPx) : 0;
      const foot = noisy ? shadow[0]! + shadow[1]! * nx + shadow[2]! * ny + noise : 0;
      const base = s.faceZ - HEIGHT_MM;
      return { rim: edge(-leanMm, s.faceZ), foot: edge(foot, base), nx, ny };
    }),
  });
  return { s, view, exact: drawn(false), wall: drawn(true) };
}

/** How far rims lie off their feet on the whole, mm along x and y, by a vector of parameters. */
function shiftOf(view: View, { places, heights }: Wall, values = view.values): [number, number] {
  const [near, far] = seenPlanes(view, heights, values);
  const eye = eyeOf(view, values);
  let [x, y] = [0, 0];
  for (const { rim, foot } of places) {
    const [p, q] = [sheetOfPicture(eye, rim, far), sheetOfPicture(eye, foot, near)];
    x += (p.x - q.x) / places.length;
    y += (p.y - q.y) / places.length;
  }
  return [x, y];
}

/** The same, and its standard uncertainties by the view's modes. */
function judged(view: View, wall: Wall): { off: [number, number]; u: [number, number] } {
  const off = shiftOf(view, wall);
  const variance = [0, 0];
  for (const { delta } of view.modes) {
    const moved = shiftOf(
      view,
      wall,
      view.values.map((v, k) => v + delta[k]!),
    );
    for (const c of [0, 1]) variance[c]! += (moved[c]! - off[c]!) ** 2;
  }
  return { off, u: variance.map(Math.sqrt) as [number, number] };
}

const rms = (values: readonly number[]): number =>
  Math.sqrt(values.reduce((s, v) => s + v * v, 0) / values.length);

it('walls tell where the camera stood, and no surer than they do', () => {
  const before: number[] = [];
  const after: number[] = [];
  const stated: number[] = [];
  for (let seed = 1; seed <= 8; seed++) {
    const { view, exact, wall } = discOf(seed);
    const was = judged(view, exact);
    const is = judged(plumbed(view, [wall]), exact);
    for (const c of [0, 1] as const) {
      before.push(was.off[c]);
      after.push(is.off[c]);
      stated.push(is.off[c] / is.u[c]);
      expect(is.u[c]).toBeLessThan(was.u[c]);
    }
  }
  expect(rms(after)).toBeLessThan(0.6 * rms(before));
  // 16 values: 1 ± 0.18 if they are what is claimed of them.
  expect(rms(stated)).toBeGreaterThan(0.5);
  expect(rms(stated)).toBeLessThan(1.4);
});

it('a rim that lies inside its foot all round is no misplaced camera', () => {
  const { view, exact } = discOf(5);
  const { wall } = discOf(5, 0.15);
  const was = judged(view, exact).off;
  const is = judged(plumbed(view, [wall]), exact).off;
  expect(Math.hypot(...is)).toBeLessThan(Math.hypot(...was) + 0.04);
});

it('keeps the face where it was, and leaves a view alone of which walls say nothing', () => {
  const { view, wall } = discOf(3);
  const held = heldAt(plumbed(view, [wall]), view, wall.heights);
  const middle = (v: View): { x: number; y: number } =>
    sheetOfPicture(v.eye, { x: 1500, y: 900 }, seenPlanes(v, wall.heights)[1]);
  const [is, was] = [middle(held), middle(view)];
  expect(Math.hypot(is.x - was.x, is.y - was.y)).toBeLessThan(0.03);
  expect(eyeOf(held).kind).toBe(held.eye.kind);
  expect(sheetOfPicture(eyeOf(held), { x: 1500, y: 900 }, 30)).toEqual(
    sheetOfPicture(held.eye, { x: 1500, y: 900 }, 30),
  );
  const few = { ...wall, places: wall.places.slice(0, 10) };
  expect(plumbed(view, [few])).toBe(view);
});
