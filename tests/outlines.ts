import type { Region, Ring } from '../src/geometry/shape.ts';
import type { At, Outline, OutlineMode } from '../src/outline/outline.ts';
import { arc, roundedRectangle, sampled } from './shapes.ts';

/** Displacement of every vertex (outer ring, then holes) as one mode. */
export function modeOf(
  region: Region<'sheet'>,
  source: OutlineMode['source'],
  shift: (x: number, y: number) => readonly [number, number],
): OutlineMode {
  const all = [region.outer, ...region.holes].flat().map((p) => shift(p.x, p.y));
  return {
    source,
    dx: Float64Array.from(all, ([x]) => x),
    dy: Float64Array.from(all, ([, y]) => y),
  };
}

/** An outline made by hand: its edge is known to `edgeU`, its scale to 0.02 % in x. */
export function outlineOf(
  region: Region<'sheet'>,
  {
    id = '1-face',
    blank = 1,
    at = 'face' as At,
    edgeU = 0.02,
    modes = [modeOf(region, 'spans', (x) => [(x - 100) * 2e-4, 0])],
  } = {},
): Outline {
  const rings = [region.outer, ...region.holes];
  const fill = (value: number): Float64Array[] =>
    rings.map((ring) => new Float64Array(ring.length).fill(value));
  return {
    id,
    blank,
    at,
    region,
    curves: { outer: curve(region.outer), holes: region.holes.map(curve) },
    fitDeviationMm: 0.01,
    heightMm: 3,
    thicknessMm: 3,
    modes,
    edgeU: fill(edgeU),
    u: fill(Math.hypot(edgeU, 0.02)),
    wholeFactor: 3,
    hidden: [],
    doubtful: [],
    rider: false,
    mirrored: false,
  };
}

const curve = (ring: Ring<'sheet'>): Outline['curves']['outer'] => ({
  start: ring[0]!,
  segments: [...ring.slice(1), ring[0]!].map((to) => ({ kind: 'line', to })),
});

/** ISO/IEC 7810 ID-1 card, 85.60 x 53.98 mm, corners 3.18 mm. */
export const card: Region<'sheet'> = {
  outer: roundedRectangle(85.6, 53.98, 3.18, 0.001, 60, 100),
  holes: [],
};

/** An invented plaque: a head with two ears, and a round hole to hang it by. */
export const plaque: Region<'sheet'> = {
  outer: sampled(720, (t) => {
    const ears =
      9 * Math.exp(-(((t - 0.9) / 0.16) ** 2)) + 9 * Math.exp(-(((t - 2.24) / 0.16) ** 2));
    const r = 30 + 2.5 * Math.cos(2 * t) - 1.2 * Math.sin(3 * t) + ears;
    return [110 + r * Math.cos(t), 150 + 0.92 * r * Math.sin(t)];
  }),
  holes: [arc<'sheet'>({ x: 110, y: 168 }, 3, 0, -2 * Math.PI, 0.001).slice(0, -1)],
};
