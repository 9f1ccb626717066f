import { expect, it } from 'vitest';
import { loadVision } from '../../src/vision/load-node.ts';
import { leastSquares } from '../../src/view/least-squares.ts';
import { pictureOf, undistort } from '../../src/view/model.ts';
import { rotationOf } from '../../src/view/projection.ts';
import type { Camera } from '../../src/view/view.ts';
import { hasOpenData, openBytes } from '../open-data.ts';

const camera: Camera = {
  fPx: 300,
  cxPx: 158.3,
  cyPx: 121.6,
  k1: -0.25,
  k2: 0.11,
  p1: 0.0008,
  p2: -0.0005,
  rotation: [1, 0, 0, 0, 1, 0, 0, 0, 1],
  centre: [0, 0, 0],
};

it('distorts as OpenCV does', () => {
  // undistort() of a ramp that holds each pixel's own column (or row) tells where the distorted place lies.
  const { cv } = loadVision();
  const [width, height] = [320, 240];
  const k = cv.matFromArray(3, 3, cv.CV_64FC1, [300, 0, 158.3, 0, 300, 121.6, 0, 0, 1]);
  const d = cv.matFromArray(1, 4, cv.CV_64FC1, [-0.25, 0.11, 0.0008, -0.0005]);
  for (const axis of ['x', 'y'] as const) {
    const ramp = new cv.Mat(height, width, cv.CV_32FC1);
    for (let y = 0; y < height; y++) {
      for (let x = 0; x < width; x++) ramp.data32F[y * width + x] = axis === 'x' ? x : y;
    }
    const out = new cv.Mat();
    cv.undistort(ramp, out, k, d);
    for (let y = 5; y < height; y += 13) {
      for (let x = 5; x < width; x += 13) {
        const p = pictureOf(camera, (x - 158.3) / 300, (y - 121.6) / 300, 1);
        if (!(p.x > 1 && p.y > 1 && p.x < width - 2 && p.y < height - 2)) continue;
        // Its maps are rounded to 1/32 px.
        expect(Math.abs(out.data32F[y * width + x]! - p[axis])).toBeLessThan(0.02);
      }
    }
    ramp.delete();
    out.delete();
  }
  k.delete();
  d.delete();
});

it('undoes its own distortion to 1e-10', () => {
  const out = new Float64Array(2);
  for (let u = 0; u <= 320; u += 20) {
    for (let v = 0; v <= 240; v += 20) {
      undistort(camera, u, v, out);
      const p = pictureOf(camera, out[0]!, out[1]!, 1);
      expect(Math.hypot(p.x - u, p.y - v)).toBeLessThan(1e-9);
    }
  }
});

// Source: Z. Zhang, PAMI 22(11), 2000, and the calibration data published with it (open data beside the project).
const folder = 'calibration/zhang';

it.skipIf(!hasOpenData(folder))(
  "agrees with Zhang's calibration (left out where his data are not at hand)",
  () => {
    const numbers = (name: string): number[] =>
      new TextDecoder().decode(openBytes(folder, name)).trim().split(/\s+/).map(Number);
    const model = numbers('Model.txt');
    const views = [1, 2, 3, 4, 5].map((n) => numbers(`data${n}.txt`));
    const published = numbers('calibration-result-zhang-withdistortion.txt');
    const [alpha, gamma, beta, u0, v0, k1, k2] = published as [
      number,
      number,
      number,
      number,
      number,
      number,
      number,
    ];
    const poses = [0, 1, 2, 3, 4].map((n) => published.slice(7 + 12 * n, 19 + 12 * n));
    const lens = { fPx: 1, cxPx: 0, cyPx: 0, p1: 0, p2: 0 };
    const place = (
      r: readonly number[],
      t: readonly number[],
      d1: number,
      d2: number,
      k: number,
    ) => {
      const c: Camera = {
        ...lens,
        k1: d1,
        k2: d2,
        rotation: r,
        centre: [0, 1, 2].map((i) => -(r[i]! * t[0]! + r[3 + i]! * t[1]! + r[6 + i]! * t[2]!)) as [
          number,
          number,
          number,
        ],
      };
      return pictureOf(c, model[k]!, model[k + 1]!, 0);
    };
    let sum = 0;
    views.forEach((view, n) => {
      for (let k = 0; k < view.length; k += 2) {
        const p = place(poses[n]!.slice(0, 9), poses[n]!.slice(9), k1, k2, k);
        sum +=
          (u0 + alpha * p.x + gamma * p.y - view[k]!) ** 2 + (v0 + beta * p.y - view[k + 1]!) ** 2;
      }
    });
    // The published parameters leave 0.3364 px per point (sum of squares 144.880).
    expect(sum).toBeCloseTo(144.88, 1);

    // Our own fit without skew, started 2 % off; OpenCV 4.6 gives 832.207 ± 2.0, 832.243, 304.068 ± 1.0, 206.372, -0.22853, 0.19101.
    const vector = (r: readonly number[]): number[] => {
      const angle = Math.acos((r[0]! + r[4]! + r[8]! - 1) / 2);
      const s = angle / (2 * Math.sin(angle));
      return [s * (r[7]! - r[5]!), s * (r[2]! - r[6]!), s * (r[3]! - r[1]!)];
    };
    const start = [
      alpha * 1.02,
      beta * 1.02,
      u0 * 1.02,
      v0 * 1.02,
      k1,
      k2,
      ...poses.flatMap((p) => [...vector(p.slice(0, 9)), ...p.slice(9)]),
    ];
    const fit = leastSquares(
      (b) =>
        views.flatMap((view, n) => {
          const at = 6 + 6 * n;
          const r = [...rotationOf(b[at]!, b[at + 1]!, b[at + 2]!)];
          const t = b.slice(at + 3, at + 6);
          const out: number[] = [];
          for (let k = 0; k < view.length; k += 2) {
            const p = place(r, t, b[4]!, b[5]!, k);
            out.push(b[2]! + b[0]! * p.x - view[k]!, b[3]! + b[1]! * p.y - view[k + 1]!);
          }
          return out;
        }),
      start,
      { steps: 40 },
    );
    const [fx, fy, cx, cy, d1, d2] = fit.parameters as unknown as [
      number,
      number,
      number,
      number,
      number,
      number,
    ];
    expect(fx).toBeCloseTo(832.207, 1);
    expect(fy).toBeCloseTo(832.243, 1);
    expect(cx).toBeCloseTo(304.068, 1);
    expect(cy).toBeCloseTo(206.372, 1);
    expect(d1).toBeCloseTo(-0.22853, 3);
    expect(d2).toBeCloseTo(0.19101, 3);
    expect(Math.sqrt(fit.sumOfSquares / 1280)).toBeCloseTo(0.33689, 4);
  },
  120_000,
);
