import { describe, expect, it } from 'vitest';
import { Adjustment, calibrate, calibrateAll } from '../../src/view/adjust.ts';
import { covarianceOf, emptyNormal } from '../../src/view/least-squares.ts';
import { lensPrior } from '../../src/view/lens.ts';
import { heightOf, sheetOfPicture } from '../../src/view/model.ts';
import { faceJacobian, facePoints } from '../../src/view/modes.ts';
import { seen } from '../support/simulate.ts';
import { simulateSeveral, type Several } from '../support/simulate-several.ts';

const three: Several = {
  seed: 2,
  photos: 3,
  height: 20,
  printError: 0.02,
  bow: 0.1,
  tilt: 0.25,
  fKnown: 0.035,
  rider: 50,
};

describe('the adjustment of several photos', () => {
  const s = simulateSeveral(three);
  const a = Adjustment.start(
    s.photos.map((p) => p.found),
    lensPrior(s.photos[0]!.meta, 3000, 4000),
    s.settings,
  );
  a.round(false);
  a.tieRiders(a.freeHeights());

  it('knows its gradient, also where photos share parameters', () => {
    const x = a.x.map((v) => v + 1e-6 * (1 + Math.abs(v)));
    const normal = emptyNormal(a.size);
    expect(a.cost(x)).toBeCloseTo(a.linearise(x, normal), 6);
    x.forEach((v, k) => {
      const scale = Math.sqrt(normal.matrix[k * a.size + k]!);
      const h = 0.01 / scale;
      const slope = (a.cost(x.with(k, v + h)) - a.cost(x.with(k, v - h))) / (2 * h);
      expect(Math.abs(slope - normal.gradient[k]!), a.names[k]).toBeLessThan(1e-3 * scale);
    });
  });

  it('shares lens, print, growth of the sheet, thickness and the size of the rider, and nothing else', () => {
    expect(new Set(a.names).size).toBe(a.names.length);
    const shared = (p: number): number =>
      a.maps[p]!.reduce((count, at) => count + (a.maps[0]!.includes(at) ? 1 : 0), 0);
    const prints = a.names.filter((n) => n.startsWith('print error')).length;
    for (const p of [1, 2]) expect(shared(p)).toBe(7 + 3 + prints + 2 + 1 + 1);
  });

  it('knows a rider again by where it lies, in whatever order the riders are found', () => {
    const two = s.photos.map(({ found, camera, faceZ }, p) => {
      const { design, marks } = found.riders[0]!;
      const beside = marks.map((m) => {
        const [x, y] = seen(camera, 165 + m.design.x - 25, 148 + m.design.y - 25, faceZ + 0.1);
        return { ...m, picture: { x, y } };
      });
      const riders = [
        { design, marks },
        { design, marks: beside },
      ];
      return { ...found, riders: p === 1 ? riders.reverse() : riders };
    });
    const b = Adjustment.start(two, lensPrior(s.photos[0]!.meta, 3000, 4000), s.settings);
    const sizes = b.maps.map((map) => [...map].slice(-14).filter((_, k) => k % 7 === 6));
    const [first, second] = sizes[0]!;
    expect(first).not.toBe(second);
    expect(sizes).toEqual([
      [first, second],
      [second, first],
      [first, second],
    ]);
  });

  it('gives views whose modes together are the covariance of all', () => {
    for (let k = 0; k < 2; k++) a.round(true);
    const views = a.views(a.freeHeights(), s.photos);
    const normal = emptyNormal(a.size);
    a.linearise(a.x, normal);
    const p = covarianceOf(normal);
    // The difference between a place as the first and as the third photo tell it: mode by mode, against the whole.
    const first = faceJacobian(views[0]!, 0);
    const third = faceJacobian(views[2]!, 0);
    first.forEach((row, r) => {
      const joint = new Float64Array(a.size);
      row.forEach((v, k) => (joint[a.maps[0]![k]!]! += v));
      third[r]!.forEach((v, k) => (joint[a.maps[2]![k]!]! -= v));
      let whole = 0;
      joint.forEach((v, i) => {
        if (v !== 0) joint.forEach((w, j) => (whole += v * w * p[i * a.size + j]!));
      });
      const along = (view: number, of: Float64Array, m: number): number =>
        views[view]!.modes[m]!.delta.reduce((t, v, k) => t + v * of[k]!, 0);
      const parts = views[0]!.modes.reduce(
        (sum, _, m) => sum + (along(0, row, m) - along(2, third[r]!, m)) ** 2,
        0,
      );
      expect(Math.abs(parts / whole - 1)).toBeLessThan(0.02);
    });
  });
});

it('is the adjustment of one photo when there is one', () => {
  const s = simulateSeveral({ ...three, photos: 1 });
  const [photo] = s.photos as [(typeof s.photos)[0]];
  const alone = calibrate(photo.found, photo.meta, 3000, 4000, s.settings);
  const [one] = calibrateAll(s.photos, s.settings);
  expect([...one!.values]).toEqual([...alone.values]);
  expect(one!.modes.length).toBe(alone.modes.length);
});

it('is off by as much as it says: face scale over 24 simulated triples, and f', () => {
  let [zz, ff, count] = [0, 0, 0];
  for (let seed = 1; seed <= 24; seed++) {
    const s = simulateSeveral({
      ...three,
      ...(seed % 2 && { rider: undefined }),
      height: seed % 3 ? 40 : 10,
      every: 2,
      seed,
    } as Several);
    const views = calibrateAll(s.photos, s.settings);
    const v = views[1]!;
    const truth = s.photos[1]!;
    const points = facePoints(v);
    const c = points[0]!;
    const spread = points.reduce((t, q) => t + (q.x - c.x) ** 2 + (q.y - c.y) ** 2, 0);
    const scale = (d: (k: number) => number): number =>
      points.reduce((t, q, k) => t + d(2 * k) * (q.x - c.x) + d(2 * k + 1) * (q.y - c.y), 0) /
      spread;
    const moved = points.flatMap((q) => {
      const [x, y] = seen(truth.camera, q.x, q.y, truth.faceZ);
      const p = sheetOfPicture(v.eye, { x, y }, heightOf(v, 0));
      return [p.x - q.x, p.y - q.y];
    });
    const rows = faceJacobian(v, 0);
    const variance = v.modes.reduce(
      (t, m) => t + scale((k) => m.delta.reduce((u, d, i) => u + d * rows[k]![i]!, 0)) ** 2,
      0,
    );
    zz += scale((k) => moved[k]!) ** 2 / variance;
    const at = v.names.indexOf('f');
    ff += (v.eye.fPx - truth.camera.f) ** 2 / v.modes.reduce((t, m) => t + m.delta[at]! ** 2, 0);
    count++;
  }
  expect(Math.sqrt(zz / count)).toBeGreaterThan(0.7);
  expect(Math.sqrt(zz / count)).toBeLessThan(1.35);
  expect(Math.sqrt(ff / count)).toBeLessThan(1.5);
}, 240000);
