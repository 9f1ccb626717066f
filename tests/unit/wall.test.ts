import { expect, it } from 'vitest';
import type { RayVertex } from '../../src/geometry/radial.ts';
import { withMetFlanks } from '../../src/outline/wall.ts';

const vertex = (
  x: number,
  y: number,
  kind: RayVertex<'sheet'>['kind'] = 'near',
  hiddenAfter = false,
): RayVertex<'sheet'> => ({ x, y, kind, from: 0, hiddenAfter });

/** A plate with a notch of the given half width at its top, 8 mm deep, whose last `shortMm` were not seen. */
function notched(halfWidthMm: number, shortMm: number): RayVertex<'sheet'>[] {
  const at = (depth: number, side: 1 | -1): [number, number] => [
    side * halfWidthMm * (1 - depth / 8),
    20 - depth,
  ];
  const depths = Array.from({ length: 80 }, (_, k) => (k * (8 - shortMm)) / 79);
  const right = depths.map((d) => at(d, 1));
  const left = depths.map((d) => at(d, -1)).reverse();
  return [
    vertex(-20, 0),
    vertex(20, 0),
    vertex(20, 20),
    ...right.map(([x, y], k) => vertex(x, y, k === 79 ? 'gap' : 'near', k === 79)),
    ...left.map(([x, y], k) => vertex(x, y, k === 0 ? 'gap' : 'far')),
    vertex(-20, 20),
  ];
}

// Closed form: the flanks of the notch meet at (0, 12).
it.each([1.5, 3, 6])('draws the flanks of a notch on to its bottom, %s mm half width', (half) => {
  const met = withMetFlanks(notched(half, 0.5));
  const bottom = met.filter((v) => v.kind === 'meeting');
  expect(bottom).toHaveLength(1);
  expect(bottom[0]!.x).toBeCloseTo(0, 6);
  expect(bottom[0]!.y).toBeCloseTo(12, 6);
  // Not seen, on both sides of it.
  expect(bottom[0]!.hiddenAfter).toBe(true);
  expect(met[met.indexOf(bottom[0]!) - 1]!.hiddenAfter).toBe(true);
});

it('leaves a wide gap, and one with parallel sides, as it is', () => {
  for (const ring of [notched(8, 4), notched(0.2, 0.5)]) {
    expect(withMetFlanks(ring).some((v) => v.kind === 'meeting')).toBe(false);
  }
});
