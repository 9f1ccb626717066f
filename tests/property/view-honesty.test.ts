import { expect, it } from 'vitest';
import { calibrate } from '../../src/view/adjust.ts';
import { heightOf, sheetOfPicture } from '../../src/view/model.ts';
import { faceJacobian, facePoints, faceUncertainty } from '../../src/view/modes.ts';
import { seen, simulate, type Case } from '../support/simulate.ts';

/** Error of the face's scale, and its predicted standard deviation. */
function scaleOfFace(o: Case): { error: number; sd: number } {
  const s = simulate(o);
  const view = calibrate(s.found, s.meta, s.widthPx, s.heightPx, s.settings);
  const points = facePoints(view);
  const c = points[0]!;
  const spread = points.reduce((t, q) => t + (q.x - c.x) ** 2 + (q.y - c.y) ** 2, 0);
  const scale = (d: (k: number) => number): number =>
    points.reduce((t, q, k) => t + d(2 * k) * (q.x - c.x) + d(2 * k + 1) * (q.y - c.y), 0) / spread;
  const moved = points.flatMap((q) => {
    const [x, y] = seen(s.camera, q.x, q.y, s.faceZ);
    const p = sheetOfPicture(view.eye, { x, y }, heightOf(view, 0));
    return [p.x - q.x, p.y - q.y];
  });
  const rows = faceJacobian(view, 0);
  const variance = view.modes.reduce(
    (t, m) => t + scale((k) => m.delta.reduce((u, v, i) => u + v * rows[k]![i]!, 0)) ** 2,
    0,
  );
  return { error: scale((k) => moved[k]!), sd: Math.sqrt(variance) };
}

// Simulated marks, every quantity drawn from the law its stated uncertainty claims: the errors must follow the prediction.
const cases: readonly (readonly [string, Omit<Case, 'seed'>])[] = [
  ['thin, on paper', { height: 0.8, printError: 0.03, bow: 0, fKnown: 0.035 }],
  ['10 mm, no rider', { height: 10, printError: 0.008, bow: 0, fKnown: 0.035 }],
  ['10 mm, rider, bowed', { height: 10, printError: 0.03, bow: 0.3, fKnown: 0.035, rider: 50 }],
  ['40 mm, rider, nothing known of f', { height: 40, printError: 0.03, bow: 0, rider: 50 }],
];

/** Riders of two sizes at two heights, none of them on the blank: the one rider's block is half as high. */
const onBlocks: Omit<Case, 'seed'> = {
  height: 30,
  printError: 0.008,
  bow: 0,
  beside: [
    { size: 50, heightMm: 16, block: true },
    { size: 30, heightMm: 30, block: false },
  ],
};

it('is off by as much as it says: face scale over 60 simulated pictures', () => {
  const z: number[] = [];
  for (const o of [...cases.map(([, o]) => o), onBlocks]) {
    for (let seed = 1; seed <= 12; seed++) {
      const { error, sd } = scaleOfFace({ ...o, seed });
      z.push(error / sd);
    }
  }
  const rms = Math.sqrt(z.reduce((t, v) => t + v * v, 0) / z.length);
  expect(z.length).toBe(60);
  expect(rms).toBeGreaterThan(0.8);
  expect(rms).toBeLessThan(1.25);
}, 240000);

it('a sheet that may have grown since its spans were read: its scale is unknown by just that', () => {
  const s = simulate({ seed: 5, height: 0.8, printError: 0.008, bow: 0, fKnown: 0.035 });
  const of = (growthU: number): number[] => {
    const settings = { ...s.settings, growthU };
    const view = calibrate(s.found, s.meta, s.widthPx, s.heightPx, settings);
    return [0, 1].map((along) => {
      const aged = view.modes.filter((m) => m.source === 'sheet age');
      const at = view.places.print + along;
      return Math.sqrt(aged.reduce((sum, m) => sum + m.delta[at]! ** 2, 0));
    });
  };
  // Both sides by their mean, for the picture shows by how much they differ; less by a fiftieth: that no printer is off by
  // more than about 1 % tells a little too.
  for (const u of of(0.002)) expect(Math.abs(u / 0.002 - 0.98)).toBeLessThan(0.06);
  for (const u of of(0)) expect(u).toBeLessThan(1e-6);
}, 60000);

it('widens by the predicted amount when the thickness is known half as well', () => {
  const base: Case = { seed: 4, height: 10, printError: 0.008, bow: 0, fKnown: 0.035 };
  const u = (thicknessU: number) => {
    const s = simulate({ ...base, thicknessU, thicknessError: 0 });
    const view = calibrate(s.found, s.meta, s.widthPx, s.heightPx, s.settings);
    const { uMm, bySource } = faceUncertainty(view, 0);
    const total = [...bySource.values()].reduce((a, b) => a + b, 0);
    return { uMm, share: bySource.get('thickness')! / total, total };
  };
  const [one, two] = [u(0.3), u(0.6)];
  // Doubling one term of a sum of squares adds three times its share.
  expect(one.share).toBeGreaterThan(0.05);
  expect(two.total / one.total).toBeCloseTo(1 + 3 * one.share, 1);
  expect(two.uMm).toBeGreaterThan(one.uMm);
}, 30000);
