import { expect, it } from 'vitest';
import { reason, Refusal } from '../../src/base/reason.ts';
import { processingModes } from '../../src/outline/uncertainty.ts';
import { Adjustment, calibrate } from '../../src/view/adjust.ts';
import { covarianceOf, emptyNormal } from '../../src/view/least-squares.ts';
import { lensPrior } from '../../src/view/lens.ts';
import {
  eyeOf,
  designOfSheet,
  heightOf,
  pictureOf,
  sheetOfDesign,
  sheetOfPicture,
} from '../../src/view/model.ts';
import { faceJacobian } from '../../src/view/modes.ts';
import type { PhotoView } from '../../src/view/view.ts';
import { CAMERA_SIZE, Projector, rotationOf } from '../../src/view/projection.ts';
import { simulate, type Case } from '../support/simulate.ts';

const paper: Case = { seed: 3, height: 10, printError: 0.03, bow: 0.2, rider: 50, fKnown: 0.035 };
const s = simulate(paper);
const adjusted = (): Adjustment => {
  const a = Adjustment.start([s.found], lensPrior(s.meta, s.widthPx, s.heightPx), s.settings);
  a.round(false);
  a.tieRiders(a.freeHeights());
  return a;
};

it('projects with the derivatives that differences give', () => {
  const values = Float64Array.of(
    0.1,
    -0.2,
    0.3,
    90,
    160,
    310,
    2900,
    1490,
    2010,
    -0.2,
    0.1,
    4e-4,
    -3e-4,
  );
  const reference = rotationOf(3.0, 0.2, -0.1);
  const p = new Projector(values, reference);
  const point = [35, 220, 4] as const;
  expect(p.project(...point, true)).toBe(true);
  const [du, dv, ux, vx] = [p.du.slice(), p.dv.slice(), p.ux.slice(), p.vx.slice()];
  const at = (x: Float64Array, q: readonly number[]): [number, number] => {
    const other = new Projector(x, reference);
    other.project(q[0]!, q[1]!, q[2]!, false);
    return [other.u, other.v];
  };
  for (let k = 0; k < CAMERA_SIZE; k++) {
    const h = 1e-5 * Math.max(1, Math.abs(values[k]!));
    const up = at(values.with(k, values[k]! + h), point);
    const down = at(values.with(k, values[k]! - h), point);
    const size = 1e-6 * (1 + Math.hypot(du[k]!, dv[k]!));
    expect(Math.abs((up[0] - down[0]) / (2 * h) - du[k]!)).toBeLessThan(size);
    expect(Math.abs((up[1] - down[1]) / (2 * h) - dv[k]!)).toBeLessThan(size);
  }
  for (let k = 0; k < 3; k++) {
    const up = at(
      values,
      point.map((v, i) => (i === k ? v + 1e-4 : v)),
    );
    const down = at(
      values,
      point.map((v, i) => (i === k ? v - 1e-4 : v)),
    );
    expect((up[0] - down[0]) / 2e-4).toBeCloseTo(ux[k]!, 5);
    expect((up[1] - down[1]) / 2e-4).toBeCloseTo(vx[k]!, 5);
  }
});

it('knows the gradient of the whole adjustment', () => {
  const a = adjusted();
  // Away from the solution, so that no derivative vanishes by itself.
  const x = a.x.map((v, k) => v + (k < 3 ? 1e-5 : k < 6 ? 0.01 : 1e-6 * (1 + Math.abs(v))));
  const normal = emptyNormal(a.size);
  const cost = a.linearise(x, normal);
  expect(a.cost(x)).toBeCloseTo(cost, 8);
  x.forEach((v, k) => {
    // A step that moves the cost's quadratic part by a ten-thousandth.
    const h = 0.01 / Math.sqrt(normal.matrix[k * a.size + k]!);
    const slope = (a.cost(x.with(k, v + h)) - a.cost(x.with(k, v - h))) / (2 * h);
    const scale = Math.sqrt(normal.matrix[k * a.size + k]!);
    expect(Math.abs(slope - normal.gradient[k]!), a.names[k]).toBeLessThan(1e-3 * scale);
  });
});

it('knows the curvature: the normal matrix predicts how the gradient changes', () => {
  const a = adjusted();
  const n = a.size;
  const normal = emptyNormal(n);
  a.linearise(a.x, normal);
  for (const k of [0, 4, 6, 9, 13, 15, 16, 20, 50, 60, n - 1, n - 4]) {
    const h = 0.02 / Math.sqrt(normal.matrix[k * n + k]!);
    const [up, down] = [h, -h].map((d) => {
      const other = emptyNormal(n);
      a.linearise(a.x.with(k, a.x[k]! + d), other);
      return other.gradient;
    });
    for (let i = 0; i < n; i++) {
      const entry = i <= k ? normal.matrix[i * n + k]! : normal.matrix[k * n + i]!;
      const scale = Math.sqrt(normal.matrix[i * n + i]! * normal.matrix[k * n + k]!);
      // Gauss-Newton leaves out the residuals' own curvature and the loss's bend, some per cent here.
      expect(Math.abs((up![i]! - down![i]!) / (2 * h) - entry)).toBeLessThan(0.05 * scale);
    }
  }
});

const view = calibrate(s.found, s.meta, s.widthPx, s.heightPx, s.settings);

it('goes from the picture to a raised plane and back', () => {
  for (const [x, y] of [
    [20, 30],
    [105, 148],
    [190, 280],
  ] as const) {
    for (const h of [0, 10, 40]) {
      const q = sheetOfPicture(view.eye, pictureOf(view.eye, x, y, h), h);
      expect(Math.hypot(q.x - x, q.y - y)).toBeLessThan(1e-9);
    }
    const d = designOfSheet(view, sheetOfDesign(view, { x, y }));
    expect(Math.hypot(d.x - x, d.y - y)).toBeLessThan(1e-9);
  }
  expect(eyeOf(view)).toEqual(view.eye);
  expect(Math.abs(heightOf(view, 0) - s.settings.thicknessMm[0]!)).toBeLessThan(0.6);
});

it('books what cameras do to their pictures on every edge, and more where the marks are soft', () => {
  const seen = [0, 1, 2, 3].map((k) => {
    const [nx, ny] = [
      [1, 0],
      [0, 1],
      [-1, 0],
      [0, -1],
    ][k] as [number, number];
    const far = true;
    return { x: 105 + 20 * nx, y: 148 + 20 * ny, nx, ny, far, share: 1, biasMm: 0, farSideMm: 0 };
  });
  const outward = (of: PhotoView): number[] => {
    const mode = processingModes(of, seen)[0]!;
    return seen.map(({ nx, ny }, k) => (nx * mode.dx[k]! + ny * mode.dy[k]!) / of.mmPerPx);
  };
  for (const px of outward(view)) expect(px).toBeCloseTo(0.07, 6);
  const soft = { ...view, blurPx: 3, reasons: [reason('blur-strong', { blurPx: 3, percent: 20 })] };
  for (const px of outward(soft)) expect(px).toBeCloseTo(Math.hypot(0.07, 0.6), 6);
});

it.each(['portrait', 'panorama'] as const)('refuses a %s by its name', (composed) => {
  const meta = { ...s.meta, composed };
  expect(() => calibrate(s.found, meta, s.widthPx, s.heightPx, s.settings)).toThrow(
    expect.objectContaining({ reason: expect.objectContaining({ code: 'picture-composed' }) }),
  );
});

it('splits the covariance by source and loses nothing that moves the face', () => {
  const a = adjusted();
  for (let k = 0; k < 2; k++) a.round(true);
  const free = a.freeHeights();
  const other = a.views(free, [s])[0]!;
  const normal = emptyNormal(a.size);
  a.linearise(a.x, normal);
  const p = covarianceOf(normal);
  const n = a.size;
  const rows = faceJacobian(other, 0);
  rows.forEach((row) => {
    let whole = 0;
    for (let i = 0; i < n; i++) {
      if (row[i] === 0) continue;
      for (let j = 0; j < n; j++) whole += row[i]! * p[i * n + j]! * row[j]!;
    }
    const parts = other.modes.reduce(
      (sum, m) => sum + m.delta.reduce((t, v, i) => t + v * row[i]!, 0) ** 2,
      0,
    );
    expect(Math.abs(parts / whole - 1)).toBeLessThan(0.01);
  });
  expect(new Set(other.modes.map((m) => m.source)).size).toBeGreaterThan(7);
});

const refusal = (o: Partial<Case>, more: object = {}): string => {
  const c = simulate({ ...paper, ...o });
  try {
    const v = calibrate(c.found, c.meta, c.widthPx, c.heightPx, {
      ...c.settings,
      wantMm: 0.3,
      ...more,
    });
    return v.reasons.map((r) => r.code).join(' ');
  } catch (error) {
    if (error instanceof Refusal) return error.reason.code;
    throw error;
  }
};

it('refuses a thickness that the rider contradicts', () => {
  expect(refusal({ thicknessError: 5 })).toBe('rider-height');
  expect(refusal({ thicknessError: 0 })).not.toContain('rider-height');
});

it('refuses a thick blank when neither focal length nor rider is known', () => {
  const bare = { rider: undefined, fKnown: undefined, height: 20, tilt: 0.02 };
  expect(refusal(bare as Partial<Case>)).toBe('view-too-uncertain');
});

it('doubts a span that the picture and the other spans contradict: misread, or a camera that moved while it read out', () => {
  const { spansMm } = simulate({ ...paper, height: 0.8, rider: undefined } as Case).settings;
  const thin = { height: 0.8, rider: undefined } as Partial<Case>;
  expect(refusal(thin)).not.toContain('spans-contradict');
  expect(refusal(thin, { spansMm: { ...spansMm, d: spansMm.d! + 1 } })).toContain(
    'spans-contradict',
  );
  const c = simulate({ ...paper, ...thin });
  const marks = c.found.marks.map((m) => ({
    ...m,
    picture: { x: m.picture.x + 0.004 * (m.picture.y - 2000), y: m.picture.y },
  }));
  const sheared = calibrate({ ...c.found, marks }, c.meta, c.widthPx, c.heightPx, c.settings);
  expect(sheared.reasons.map((r) => r.code)).toContain('spans-contradict');
});

it('doubts a sheet whose spans nobody measured, and one seen on two sides only', () => {
  expect(refusal({}, { spansMm: {}, wantMm: 3 })).toContain('spans-missing');
  expect(refusal({ half: true })).toContain('marks-');
});
