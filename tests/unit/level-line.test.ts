import { expect, it } from 'vitest';
import { intoTips } from '../../src/outline/level-line.ts';
import { LinearLuma } from '../../src/outline/linear.ts';

/** A bright disc with teeth of a pitch and depth (px), drawn with soft edges, and a ring one px apart along its teeth. */
function toothed(
  teeth: number,
  depth: number,
): { luma: LinearLuma; ring: Float64Array; normals: Float64Array } {
  const side = 260;
  const radiusAt = (a: number): number => {
    const t = ((((a * teeth) / (2 * Math.PI)) % 1) + 1) % 1;
    return 100 + depth * (1 - Math.abs(2 * t - 1));
  };
  const data = new Uint8Array(3 * side * side);
  for (let y = 0; y < side; y++)
    for (let x = 0; x < side; x++) {
      const [dx, dy] = [x - 130, y - 130];
      const inside = radiusAt(Math.atan2(dy, dx)) - Math.hypot(dx, dy);
      data.fill(40 + 180 / (1 + Math.exp(-2 * inside)), 3 * (y * side + x), 3 * (y * side + x) + 3);
    }
  const count = Math.round(
    2 * Math.PI * 100 * Math.hypot(1, (2 * depth * teeth) / (2 * Math.PI * 100)),
  );
  const ring = new Float64Array(2 * count);
  const normals = new Float64Array(2 * count);
  for (let k = 0; k < count; k++) {
    const a = (-2 * Math.PI * k) / count;
    ring.set([130 + radiusAt(a) * Math.cos(a), 130 + radiusAt(a) * Math.sin(a)], 2 * k);
    normals.set([Math.cos(a), Math.sin(a)], 2 * k);
  }
  return {
    luma: new LinearLuma({ widthPx: side, heightPx: side, channels: 3, data }),
    ring,
    normals,
  };
}

// A ring whose teeth stand closer than a blunt tip is long must not be taken for one tip all round.
it.each([12, 30, 45, 60])('comes back round a disc of %d teeth', (teeth) => {
  const { luma, ring, normals } = toothed(teeth, 12);
  const out = intoTips(luma, ring, normals, 3);
  expect(out.length).toBeGreaterThan(0.5 * ring.length);
  expect(out.length).toBeLessThan(2 * ring.length);
});
