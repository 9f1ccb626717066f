import { expect, it } from 'vitest';
import type { RayVertex } from '../../src/geometry/radial.ts';
import { downWalls, withMetFlanks } from '../../src/outline/wall.ts';

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

/**
 * A disc of 20 mm radius about (100, 0), the foot point at the origin, with an arm whose upper side runs along the ray from `low` to
 * `high` mm; counter-clockwise, every vertex as if seen at the face.
 */
function armed(low: number, high: number, tiltRad = 0): RayVertex<'sheet'>[] {
  const side = Array.from({ length: 25 }, (_, k): [number, number] => {
    const along = ((high - low) * k) / 24;
    return [high - along * Math.cos(tiltRad), 4 - along * Math.sin(tiltRad)];
  });
  // The ray through the arm's upper corner.
  const lean = Math.atan2(4, high);
  const turned = side.map(([x, y]): [number, number] => [
    high + (x - high) * Math.cos(lean) - (y - 4) * Math.sin(lean),
    4 + (x - high) * Math.sin(lean) + (y - 4) * Math.cos(lean),
  ]);
  const [ex, ey] = turned.at(-1)!;
  return [
    ...turned,
    [ex, ey + 8],
    [ex - 20, ey + 9],
    [80, 0],
    [ex - 20, -9],
    [ex, -8],
    [high, -8],
  ].map(([x, y]) => vertex(x!, y!, 'far'));
}
const notSeen = (ring: readonly RayVertex<'sheet'>[]): number =>
  ring.reduce((sum, v, k) => {
    const w = ring[(k + 1) % ring.length]!;
    return sum + (v.hiddenAfter ? Math.hypot(w.x - v.x, w.y - v.y) : 0);
  }, 0);

it('takes no stretch for seen that a wall from top to foot draws as well', () => {
  const foot = { x: 0, y: 0 };
  // A wall reaches to high / scale: 120 / 1.1 = 109.1.
  expect(notSeen(downWalls(armed(112, 120), foot, 1.1))).toBeCloseTo(8, 1);
  // One degree off the ray it is an edge; so is what lies farther down than the wall reaches; a thin blank has no such walls.
  expect(notSeen(downWalls(armed(112, 120, Math.PI / 60), foot, 1.1))).toBe(0);
  expect(notSeen(downWalls(armed(100, 120), foot, 1.1))).toBe(0);
  expect(notSeen(downWalls(armed(112, 120), foot, 1.005))).toBe(0);
});
