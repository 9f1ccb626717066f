import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { silent } from '../../src/base/progress.ts';
import { traceFile, traceSettingsOf } from '../../src/cli/trace.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import type { Outline } from '../../src/outline/outline.ts';
import { curvesOfMask } from '../../src/outline/potrace.ts';
import { trace } from '../../src/outline/trace.ts';
import { CASES } from '../accuracy/cases.ts';
import { measuredOf, optionsOf } from '../accuracy/measure.ts';
import { ROOT } from '../accuracy/render.ts';

/**
 * A thickness that is wrong by dh scales the outline by dh / (H - h) about the foot point (similar triangles); after the
 * best rigid motion that is the same scale about the outline's middle. Its part along the normal is the thickness's share.
 */
function thicknessShare(outline: Outline, cameraHeightMm: number, u: number): Float64Array[] {
  const { rings } = measuredOf(outline);
  const all = rings.flat();
  const k = u / (cameraHeightMm - outline.heightMm);
  const cx = all.reduce((sum, [x]) => sum + x, 0) / all.length;
  const cy = all.reduce((sum, [, y]) => sum + y, 0) / all.length;
  return rings.map((ring) =>
    Float64Array.from(ring, ([x, y], i) => {
      const [ax, ay] = ring[(i + ring.length - 1) % ring.length]!;
      const [bx, by] = ring[(i + 1) % ring.length]!;
      return (k * ((by - ay) * (x - cx) - (bx - ax) * (y - cy))) / Math.hypot(bx - ax, by - ay);
    }),
  );
}

it('doubling the uncertainty of the thickness widens U by what similar triangles predict', async () => {
  const one = CASES.find((c) => c.name === 'o01-card')!;
  const bytes = readFileSync(join(ROOT, one.picture));
  const u = 0.4;
  const options = { ...optionsOf(one), wantMm: 3 };
  const traced = await Promise.all(
    [u, 2 * u].map((thicknessU) => traceFile(bytes, one.picture, { ...options, thicknessU })),
  );
  // One tolerance for both, which else follows U: so both have the same vertices.
  const settings = { ...traceSettingsOf(options), fitToleranceMm: 0.03 };
  const clipper = await loadClipper();
  const [single, double] = await Promise.all(
    traced.map(async ({ view, picture }) => {
      const { outlines } = await trace(clipper, curvesOfMask, picture!, view!, settings, silent);
      return outlines[0]!;
    }),
  );
  const share = thicknessShare(single!, traced[0]!.view!.cameraHeightMm!, u);
  expect(double!.u.map((ring) => ring.length)).toEqual(single!.u.map((ring) => ring.length));
  let most = 0;
  let squares = 0;
  single!.u.forEach((ring, r) =>
    ring.forEach((before, i) => {
      const predicted = Math.sqrt(before ** 2 + 3 * share[r]![i]! ** 2);
      const widened = double!.u[r]![i]!;
      most = Math.max(most, Math.abs(widened / predicted - 1));
      squares += (widened / before) ** 2;
    }),
  );
  // Widened for certain, and by what was predicted, at every vertex.
  expect(Math.sqrt(squares / single!.u.flatMap((r) => [...r]).length)).toBeGreaterThan(1.1);
  expect(most).toBeLessThan(0.1);
}, 120_000);
