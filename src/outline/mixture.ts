import {
  codedOfLinear,
  linearOfCoded,
  LUMA_WEIGHTS,
  type Lights,
  type LinearPlane,
} from './linear.ts';
import { roughly } from './profile.ts';

/**
 * Luma is made of coded values, so that half way between two colours it is not half way between their lumas: an orange blank on a
 * green stage looks half a pixel larger. Where both colours are known, what a pixel has of each follows from its luma.
 */
export interface Mixture {
  /** Linear luma of both colours. */
  readonly inside: number;
  readonly outside: number;
  /** Share of the outer colour at equal steps of linear luma from the inner to the outer; undefined where luma does not rise or fall all the way between them. */
  readonly share: Float64Array | undefined;
}

export type Colour = readonly [red: number, green: number, blue: number];

/** What lies on both sides of a point of a contour. */
export interface Sides {
  readonly inner: Colour;
  readonly outer: Colour;
  /** Undefined where luma does not tell both apart. */
  readonly mixture: Mixture | undefined;
}

const STEPS = 32;
/** Luma that rises by less than this share of its mean rise is taken to rise so much, or noise would be drawn out too far. */
const LEAST_RISE = 0.1;
/** Colours whose lumas differ by less, linear light, show no edge in luma. */
const LEAST_STEP = 0.01;

const lumaOf = (c: Colour): number =>
  linearOfCoded(c.reduce((sum, v, k) => sum + LUMA_WEIGHTS[k]! * codedOfLinear(Math.max(0, v)), 0));

/** @returns undefined where luma does not tell two colours of linear light (0 to 1) apart */
export function mixtureOf(inner: Colour, outer: Colour): Mixture | undefined {
  const lumas = Float64Array.from({ length: STEPS + 1 }, (_, k) => {
    const s = k / STEPS;
    return lumaOf(inner.map((v, c) => v + s * (outer[c]! - v)) as unknown as Colour);
  });
  const [inside, outside] = [lumas[0]!, lumas[STEPS]!];
  if (Math.abs(outside - inside) < LEAST_STEP) return undefined;
  const rises = Float64Array.from(
    { length: STEPS },
    (_, k) => (STEPS * (lumas[k + 1]! - lumas[k]!)) / (outside - inside),
  );
  if (rises.some((v) => v < -LEAST_RISE)) return { inside, outside, share: undefined };
  const relative = new Float64Array(STEPS + 1);
  rises.forEach((v, k) => (relative[k + 1] = relative[k]! + Math.max(v, LEAST_RISE)));
  relative.forEach((v, k) => (relative[k] = v / relative[STEPS]!));
  let at = 0;
  const share = Float64Array.from({ length: STEPS + 1 }, (_, k) => {
    const t = k / STEPS;
    while (at < STEPS - 1 && relative[at + 1]! < t) at++;
    return (at + (t - relative[at]!) / (relative[at + 1]! - relative[at]!)) / STEPS;
  });
  return { inside, outside, share };
}

/** Linear luma that lies between those of both colours as the pixel lies between the colours; what lies beyond either is as it was. */
export function unmixed({ inside, outside, share }: Mixture, luma: number): number {
  const t = (luma - inside) / (outside - inside);
  if (!share || !(t > 0 && t < 1)) return luma;
  const at = Math.floor(t * STEPS);
  const s = share[at]! + (t * STEPS - at) * (share[at + 1]! - share[at]!);
  return inside + s * (outside - inside);
}

/** Colours are read so far from the edge, px: cameras keep colour coarsely, and blur. */
const BESIDE_PX = 3.5;
/** One mixture serves so many points, from the colours of as many again on either side. */
const BLOCK = 8;

/**
 * The colours of both sides, and how luma mixes them, for every point of a contour.
 *
 * @param ring, normals closed contour about a px apart (picture px) and its unit normals, away from the material
 * @param rooms see `roomsOf`: points with another edge near do not tell colours while there are others
 */
export function sidesAlong(
  lights: Lights,
  ring: Float64Array,
  normals: Float64Array,
  rooms: Float64Array,
): Sides[] {
  const n = ring.length >> 1;
  const planes = [lights.red, lights.green, lights.blue];
  const out: Sides[] = [];
  for (let first = 0; first < n; first += BLOCK) {
    const around = Array.from({ length: 3 * BLOCK }, (_, s) => (first + s - BLOCK + n) % n);
    const free = around.filter((k) => rooms[k] === 0 || Math.abs(rooms[k]!) > 2 * BESIDE_PX);
    const told = free.length ? free : around;
    const colour = (way: number): Colour =>
      planes.map(
        (plane) =>
          told.reduce((sum, k) => sum + lightAt(plane, ring, normals, k, way), 0) / told.length,
      ) as unknown as Colour;
    const [inner, outer] = [colour(-BESIDE_PX), colour(BESIDE_PX)];
    const sides = { inner, outer, mixture: mixtureOf(inner, outer) };
    for (let k = first; k < Math.min(n, first + BLOCK); k++) out.push(sides);
  }
  return out;
}

function lightAt(
  plane: LinearPlane,
  ring: Float64Array,
  normals: Float64Array,
  k: number,
  way: number,
): number {
  const [x, y] = [
    ring[2 * k]! + way * normals[2 * k]!,
    ring[2 * k + 1]! + way * normals[2 * k + 1]!,
  ];
  plane.need(x - 1, y - 1, x + 2, y + 2);
  return roughly(plane, x, y);
}

/** Colours nearer to each other in direction than this, linear light, do not show how much of each there is. */
const LEAST_OWN = 0.02;

/**
 * Weights of red, green and blue (linear light) whose sum is 1 on the inner colour and 0 on the outer, however deep the shadow
 * that lies on it: how much of a pixel the material covers. Undefined where both colours are shades of one.
 */
export function coverOf({ inner, outer }: Sides): Colour | undefined {
  const dot = (a: Colour, b: Colour): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const length = dot(outer, outer);
  const along = length > 0 ? dot(inner, outer) / length : 0;
  const own = inner.map((v, k) => v - along * outer[k]!) as unknown as Colour;
  const rise = dot(own, own);
  if (Math.sqrt(rise) < LEAST_OWN) return undefined;
  return own.map((v) => v / rise) as unknown as Colour;
}
