import { readFileSync } from 'node:fs';
import { beforeAll, describe, expect, it } from 'vitest';
import { DEFAULT_TRACE, traceFile } from '../../src/cli/trace.ts';
import { outlineJson, readOutlineJson } from '../../src/files/outline-json.ts';
import { loadClipper } from '../../src/geometry/load-clipper-node.ts';
import { perimeter, regionArea, selfCrossing } from '../../src/geometry/measure.ts';
import { DEFAULT_BED, DEFAULT_POCKET, makeJig } from '../../src/job/jig.ts';
import type { Outline } from '../../src/outline/outline.ts';

// A wooden opener with a window and a small hole, its upper edge rounded to 1.2 mm (fixtures/README.md).
const bytes = readFileSync(new URL('../../fixtures/o03-opener-rider.jpg', import.meta.url));
const DEPTH_MM = 1.2;

describe('a blank with a rounded edge and holes', () => {
  let widest: Outline;
  let face: Outline;
  let file: Uint8Array;
  beforeAll(async () => {
    const { trace, view } = await traceFile(new Uint8Array(bytes), 'opener.jpg', {
      ...DEFAULT_TRACE,
      thicknessMm: 10,
      widestMm: 10 - DEPTH_MM,
      spansMm: { x: 140.09, y: 139.9, d: 141.41 },
      riderSpansMm: { 50: 49.99 },
    });
    widest = trace.outlines.find(({ at }) => at === 'widest')!;
    face = trace.outlines.find(({ at }) => at === 'face')!;
    file = outlineJson(trace, view);
  }, 60_000);

  it('gets a face inside its widest outline that nowhere crosses itself', () => {
    const rings = [face.region.outer, ...face.region.holes];
    expect(rings).toHaveLength(3);
    for (const ring of rings) expect(selfCrossing(ring)).toBeUndefined();
  });

  it('loses the area of a rim as wide as the edge is deep', () => {
    // First order of Steiner's formula; what the corners and the curvature add stays below 2 % of it.
    const rim = [widest.region.outer, ...widest.region.holes]
      .map((ring) => perimeter(ring) * DEPTH_MM)
      .reduce((a, b) => a + b);
    const lost = regionArea(widest.region) - regionArea(face.region);
    expect(lost / rim).toBeGreaterThan(0.98);
    expect(lost / rim).toBeLessThan(1.02);
  });

  it('reaches its pockets through the outline file', async () => {
    const outlines = readOutlineJson(file, 'outline.json');
    const jig = makeJig(await loadClipper(), outlines, {
      bed: { ...DEFAULT_BED, rows: 1, columns: 1 },
      pocket: DEFAULT_POCKET,
      job: { number: '1', name: 'openers' },
    });
    expect(jig.plan.pockets).toHaveLength(1);
  });
});
