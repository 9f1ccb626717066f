import { inverse, Matrix } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import type { Feature } from '../../src/check/check.ts';
import { holdAgainst } from '../../src/check/checked.ts';
import { measure } from '../../src/check/feature.ts';
import { improve } from '../../src/check/improve.ts';
import { average, INSTRUMENTS, type Reading } from '../../src/check/reading.ts';
import { flatten } from '../../src/geometry/curve.ts';
import { nearestOnRing, outwardNormals } from '../../src/geometry/measure.ts';
import type { Outline, Trace } from '../../src/outline/outline.ts';
import { card, modeOf, outlineOf, plaque } from '../outlines.ts';

const [mx, my] = [100, 120];
/** A card (ISO/IEC 7810: 85.60 x 53.98 mm) whose scale is doubtful by 1 % along x and along y, and a little in common. */
const doubtful = (region = card): Outline =>
  outlineOf(region, {
    modes: [
      modeOf(region, 'spans', (x) => [(x - mx) * 0.01, 0]),
      modeOf(region, 'spans', (_, y) => [0, (y - my) * 0.01]),
      modeOf(region, 'thickness', (x, y) => [(x - mx) * 0.004, (y - my) * 0.004]),
    ],
  });
const traceOf = (...outlines: Outline[]): Trace => ({ outlines, verdict: 'ok', reasons: [] });
const read = (feature: Feature, mm: number, use?: 'fit'): Reading => ({
  blank: 1,
  feature,
  valuesMm: [mm],
  with: 'caliper',
  ...(use && { use }),
});
const WIDTH: Feature = { kind: 'main', side: 'width' };
const HEIGHT: Feature = { kind: 'main', side: 'height' };
const SLANT: Feature = { kind: 'across', directionRad: 0.6 };
const done = (o: Outline, ...readings: Reading[]): Outline =>
  improve(traceOf(o), [o], readings, INSTRUMENTS).trace.outlines[0]!;
const code = (work: () => unknown): string => {
  try {
    work();
  } catch (error) {
    if (error instanceof Refusal) return error.reason.code;
    throw error;
  }
  return 'accepted';
};

describe('readings as observations of the adjustment', () => {
  it('give what one adjustment with all observations gives (normal equations)', () => {
    const o = doubtful();
    const readings = [
      read(WIDTH, 85.9, 'fit'),
      read(HEIGHT, 54.3, 'fit'),
      read(SLANT, 88.0, 'fit'),
    ];
    const dims = readings.map((r) => measure(o, r.feature));
    const marks = readings.map((r) => average(r.valuesMm, INSTRUMENTS.caliper));
    readings[2] = read(SLANT, dims[2]!.valueMm + 0.35, 'fit');
    const e = [85.9 - dims[0]!.valueMm, 54.3 - dims[1]!.valueMm, 0.35];
    const g = new Matrix(dims.map((d) => [...d.shifts]));
    const r = new Matrix(
      dims.map((a, i) =>
        dims.map((_, j) =>
          i === j ? marks[i]!.u ** 2 + a.ownVariance : INSTRUMENTS.caliper.sharedU ** 2,
        ),
      ),
    );
    const gr = g.transpose().mmul(inverse(r));
    const p = inverse(Matrix.eye(3).add(gr.mmul(g)));
    const z = p.mmul(gr).mmul(Matrix.columnVector(e)).getColumn(0);
    const after = done(o, ...readings);
    const { nx, ny } = outwardNormals(o.region.outer);
    for (const k of [0, 17, 40, 60]) {
      const q = o.region.outer[k]!;
      expect(after.region.outer[k]!.x - q.x).toBeCloseTo(
        z.reduce((s, w, m) => s + w * o.modes[m]!.dx[k]!, 0),
        6,
      );
      const row = o.modes.map(({ dx, dy }) => nx[k]! * dx[k]! + ny[k]! * dy[k]!);
      const before = row.reduce((s, v) => s + v * v, 0);
      const own = Math.max(0, o.u[0]![k]! ** 2 - before);
      const left = new Matrix([row]).mmul(p).mmul(Matrix.columnVector(row)).get(0, 0);
      // The modes that are left carry exactly the covariance that is left.
      expect(after.u[0]![k]!).toBeCloseTo(Math.sqrt(own + left), 6);
    }
  });

  it('correct x by a reading along x, and leave y to what they have in common', () => {
    const o = doubtful();
    const after = done(o, read(WIDTH, 86.3, 'fit'));
    const width = measure(after, WIDTH);
    expect(Math.abs(width.valueMm - 86.3)).toBeLessThan(0.03);
    expect(2 * width.u).toBeLessThan(0.08);
    const grown = measure(after, HEIGHT).valueMm / 53.98 - 1;
    expect(grown).toBeGreaterThan(0);
    expect(grown).toBeLessThan(0.3 * (width.valueMm / 85.6 - 1));
    expect(measure(after, HEIGHT).u).toBeLessThan(measure(o, HEIGHT).u);
  });

  it('move the curves with the polygon, holes and arcs included', () => {
    const o = doubtful(plaque);
    const { valueMm } = measure(o, WIDTH);
    const after = done(o, read(WIDTH, valueMm * 1.006, 'fit'));
    [after.region.outer, ...after.region.holes].forEach((ring, k) => {
      const curve = [after.curves.outer, ...after.curves.holes][k]!;
      for (const p of flatten(curve, 0.001))
        expect(nearestOnRing(ring, p).distanceMm).toBeLessThan(0.005);
    });
  });

  it('keep an arc an arc under a common scale and make curves of it that hold otherwise', () => {
    const o = doubtful(plaque);
    const hole = { x: 110, y: 168 };
    const arcs: Outline = {
      ...o,
      curves: {
        ...o.curves,
        holes: [
          {
            start: { x: 113, y: 168 },
            segments: [
              { kind: 'arc', to: { x: 107, y: 168 }, centre: hole, sweepRad: -Math.PI },
              { kind: 'arc', to: { x: 113, y: 168 }, centre: hole, sweepRad: -Math.PI },
            ],
          },
        ],
      },
    };
    const after = done(arcs, read(WIDTH, measure(o, WIDTH).valueMm * 1.01, 'fit'));
    for (const p of flatten(after.curves.holes[0]!, 0.001))
      expect(nearestOnRing(after.region.holes[0]!, p).distanceMm).toBeLessThan(0.005);
  });

  it('no longer count as checks', () => {
    const o = doubtful();
    const readings = [read(WIDTH, 86.0, 'fit'), read(HEIGHT, 54.2)];
    const improved = improve(traceOf(o), [o], readings, INSTRUMENTS);
    const { checked } = holdAgainst(improved.trace.outlines, readings, INSTRUMENTS, 1, [1]);
    expect(checked[0]!.judgement.verdict).toBe('says little');
    expect(checked[0]!.used).toBe(true);
    expect(checked[1]!.judgement.verdict).toBe('agrees');
    const [used, other] = improved.improvements[0]!.changes;
    expect(used!.afterU).toBeLessThan(used!.beforeU);
    expect(other!.used).toBe(false);
  });
});

describe('readings that contradict', () => {
  const about = (f: Feature, off: number): Reading =>
    read(f, measure(doubtful(), f).valueMm + off, 'fit');
  it('each other are refused, the one that is off named', () => {
    const o = doubtful();
    const along = read({ kind: 'across', directionRad: 0 }, 85.6 + 0.02, 'fit');
    const again = read({ kind: 'across', directionRad: 0.003 }, 86.6, 'fit');
    expect(code(() => done(o, along, again, about(HEIGHT, 0.1)))).toBe('readings-one-off');
    expect(code(() => done(o, about(WIDTH, 0.3), about(HEIGHT, -0.2), about(SLANT, 4)))).toBe(
      'readings-one-off',
    );
  });
  it('the outline by more than it can be off are refused: something entered is wrong', () => {
    expect(code(() => done(doubtful(), about(WIDTH, 4)))).toBe('readings-against-outline');
  });
  it('are not those that differ from the outline within what is doubtful of it', () => {
    expect(code(() => done(doubtful(), about(WIDTH, 0.9), about(HEIGHT, -0.5)))).toBe('accepted');
  });
});
