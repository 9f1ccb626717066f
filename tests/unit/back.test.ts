import { expect, it } from 'vitest';
import { flatten } from '../../src/geometry/curve.ts';
import { fitCurves } from '../../src/geometry/fit.ts';
import { signedArea } from '../../src/geometry/measure.ts';
import type { Outline } from '../../src/outline/outline.ts';
import { seenFromBehind } from '../../src/outline/trace.ts';
import { pictured } from '../../src/ui/outline/shape.ts';
import type { Camera } from '../../src/view/view.ts';

/** A lopsided outline whose u, modes and stretches name the vertex they belong to. */
function outline(): Outline {
  const points = Array.from({ length: 360 }, (_, k) => {
    const a = (2 * Math.PI * k) / 360;
    const r = 20 + 4 * Math.cos(a) + 3 * Math.sin(2 * a);
    return { x: 100 + r * Math.cos(a), y: 150 + r * Math.sin(a) };
  });
  const { curve } = fitCurves<'sheet'>(
    { points, corner: new Uint8Array(360), sigmaMm: 0.001 },
    0.02,
  );
  const outer = flatten(curve, 0.0025);
  const n = outer.length;
  return {
    id: 'blank-1-face',
    blank: 1,
    at: 'face',
    region: { outer, holes: [] },
    curves: { outer: curve, holes: [] },
    fitDeviationMm: 0,
    heightMm: 5,
    thicknessMm: 5,
    modes: [
      {
        source: 'thickness',
        dx: Float64Array.from(outer, (p) => 0.001 * (p.x - 100)),
        dy: Float64Array.from(outer, (p) => 0.001 * (p.y - 150)),
      },
    ],
    edgeU: [Float64Array.from(outer, (p) => p.x)],
    u: [Float64Array.from(outer, (p) => p.y)],
    wholeFactor: 3,
    hidden: [{ ring: 0, from: 3, to: 9 }],
    doubtful: [{ ring: 0, from: n - 4, to: 2, why: 'faint' }],
    rider: false,
    mirrored: false,
  };
}

it('mirrors the back about the vertical, with everything that hangs on its vertices', () => {
  const front = outline();
  const back = seenFromBehind(front, 100);
  const outer = front.region.outer;
  const n = outer.length;
  expect(back.mirrored).toBe(true);
  expect(signedArea(back.region.outer)).toBeCloseTo(signedArea(outer), 9);
  back.region.outer.forEach((p, k) => {
    // edgeU and u carry the vertex's own x and y as they were.
    expect(200 - p.x).toBeCloseTo(back.edgeU[0]![k]!, 9);
    expect(p.y).toBeCloseTo(back.u[0]![k]!, 9);
    // A mode that grows the outline still grows it.
    expect(back.modes[0]!.dx[k]!).toBeCloseTo(0.001 * (p.x - 100), 9);
    expect(back.modes[0]!.dy[k]!).toBeCloseTo(0.001 * (p.y - 150), 9);
  });
  const { from, to } = back.hidden[0]!;
  expect([200 - back.region.outer[from]!.x, 200 - back.region.outer[to]!.x]).toEqual([
    outer[9]!.x,
    outer[3]!.x,
  ]);
  expect(back.doubtful[0]!.to).toBe((n - (n - 4)) % n);
  // Twice mirrored is the front again.
  const again = seenFromBehind(back, 100);
  again.region.outer.forEach((p, k) => expect(p.x).toBeCloseTo(outer[k]!.x, 9));
  flatten(again.curves.outer, 0.01).forEach((p, k) =>
    expect(p.y).toBeCloseTo(flatten(front.curves.outer, 0.01)[k]!.y, 9),
  );
});

it('is drawn over the picture where the front was, whatever it was mirrored about', () => {
  const eye: Camera = {
    kind: 'camera',
    fPx: 3000,
    cxPx: 1500,
    cyPx: 2000,
    k1: 0,
    k2: 0,
    p1: 0,
    p2: 0,
    rotation: [1, 0, 0, 0, -1, 0, 0, 0, -1],
    centre: [100, 150, 400],
  };
  const front = outline();
  // Its silhouette's middle, say: not that of the outline behind it.
  const [seen] = pictured(eye, seenFromBehind(front, 97)).rings;
  const [own] = pictured(eye, front).rings;
  const farthest = seen!.map((p) => Math.min(...own!.map((q) => Math.hypot(p.x - q.x, p.y - q.y))));
  expect(Math.max(...farthest)).toBeLessThan(1e-6);
});
