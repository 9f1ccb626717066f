import { expect, it } from 'vitest';
import { signedArea } from '../../src/geometry/measure.ts';
import { behindSilhouette, steadyAngles } from '../../src/geometry/radial.ts';

type P = { x: number; y: number };

/** Convex hull (Andrew's monotone chain): the silhouette of a convex prism is the hull of its foot and its top. */
function hull(points: readonly P[]): P[] {
  const half = (sorted: readonly P[]): P[] => {
    const h: P[] = [];
    for (const p of sorted) {
      while (h.length > 1) {
        const a = h[h.length - 2]!;
        const b = h[h.length - 1]!;
        if ((b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x) > 0) break;
        h.pop();
      }
      h.push(p);
    }
    return h.slice(0, -1);
  };
  const sorted = [...points].sort((a, b) => a.x - b.x || a.y - b.y);
  return [...half(sorted), ...half(sorted.reverse())];
}

const disc = (x: number, y: number, r: number, n: number, way = 1): P[] =>
  Array.from({ length: n }, (_, k) => {
    const a = (way * 2 * Math.PI * k) / n;
    return { x: x + r * Math.cos(a), y: y + r * Math.sin(a) };
  });

// Closed form: the silhouette of a disc of height h seen from H is the hull of the disc and the disc scaled by H/(H-h).
it.each([
  ['beside the foot point', { x: 0, y: 0 }],
  ['above it', { x: 28, y: 3 }],
])('recovers a disc that stands %s exactly', (_, foot) => {
  const s = 300 / 280;
  const top = disc(30, 0, 10, 720).map((p) => ({
    x: foot.x + s * (p.x - foot.x),
    y: foot.y + s * (p.y - foot.y),
  }));
  const silhouette = hull([...disc(30, 0, 10, 720), ...top]);
  const rings = behindSilhouette([silhouette], foot, s);
  expect(rings).toHaveLength(1);
  for (const p of rings[0]!) expect(Math.abs(Math.hypot(p.x - 30, p.y) - 10)).toBeLessThan(1e-9);
  expect(rings[0]!.some((v) => v.hiddenAfter)).toBe(false);
});

it('keeps a hole and its way round', () => {
  const rings = behindSilhouette(
    [disc(3, 0, 20, 100), disc(3, 0, 5, 100, -1)],
    { x: 3, y: 0 },
    1.05,
  );
  const areas = rings.map(signedArea).sort((a, b) => a - b);
  // A circle about the foot point: the outer edge shrinks by s, the hole's edge, which faces the foot point, stays.
  const polygon = (r: number): number => 50 * r * r * Math.sin((2 * Math.PI) / 100);
  expect(areas[0]!).toBeCloseTo(-polygon(5), 6);
  expect(areas[1]!).toBeCloseTo(polygon(20 / 1.05), 6);
});

it('marks what a narrow bay hides, and only that', () => {
  // A block with a bay that opens to the right, seen from below: the lower arm leans over the bay's floor.
  const s = 1.05;
  const block = [
    { x: -10, y: 30 },
    { x: 10, y: 30 },
    { x: 10, y: 36 },
    { x: -2, y: 36 },
    { x: -2, y: 40 },
    { x: 10, y: 40 },
    { x: 10, y: 50 },
    { x: -10, y: 50 },
  ];
  const [ring] = behindSilhouette([block], { x: 0, y: 0 }, s);
  const hidden = ring!.filter((v) => v.hiddenAfter);
  expect(hidden).toHaveLength(1);
  const from = hidden[0]!;
  const to = ring![(ring!.indexOf(from) + 1) % ring!.length]!;
  // From the bay's corner (-2, 36) to its image scaled by 1/s, along the ray.
  const ends = [from, to].sort((a, b) => a.y - b.y);
  expect(ends[0]!.x).toBeCloseTo(-2 / s, 9);
  expect(ends[0]!.y).toBeCloseTo(36 / s, 9);
  expect(ends[1]!.x).toBeCloseTo(-2, 9);
  expect(ends[1]!.y).toBeCloseTo(36, 9);
});

it('does not take the noise of a tangent stretch for bays', () => {
  const s = 1.1;
  const foot = { x: 0, y: 0 };
  const top = disc(60, 0, 10, 720).map((p) => ({ x: s * p.x, y: s * p.y }));
  const clean = hull([...disc(60, 0, 10, 720), ...top]);
  const dense = clean.flatMap((p, k) => {
    const q = clean[(k + 1) % clean.length]!;
    const n = Math.max(1, Math.round(Math.hypot(q.x - p.x, q.y - p.y) / 0.1));
    return Array.from({ length: n }, (_, i) => ({
      x: p.x + ((q.x - p.x) * i) / n,
      y: p.y + ((q.y - p.y) * i) / n,
    }));
  });
  const noisy = dense.map((p, k) => ({
    x: p.x + 0.004 * Math.sin(k * 1.7),
    y: p.y + 0.004 * Math.cos(k * 2.3),
  }));
  const rings = behindSilhouette([steadyAngles(noisy, foot, 0.06)], foot, s).filter(
    (r) => Math.abs(signedArea(r)) > 0.01,
  );
  expect(rings).toHaveLength(1);
  for (const p of rings[0]!) expect(Math.abs(Math.hypot(p.x - 60, p.y) - 10)).toBeLessThan(0.08);
});
