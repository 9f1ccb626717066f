import type { Point } from '../base/measure.ts';
import { determinant, fitAffine, inverse, mapPoint, type Affine } from '../geometry/affine.ts';
import { boxOf, centroid, perimeter, resample, signedArea, type Box } from '../geometry/measure.ts';
import { Nearest } from '../geometry/nearest.ts';
import type { Ring } from '../geometry/shape.ts';

/** A ring with what is asked of it again and again. */
export class Shape {
  readonly areaMm2: number;
  readonly perimeterMm: number;
  readonly middle: Point<'bed'>;
  readonly box: Box;
  readonly sizeMm: number;
  private evenly: readonly Point<'bed'>[] | undefined;
  private sides: Nearest | undefined;

  constructor(readonly ring: Ring<'bed'>) {
    this.areaMm2 = Math.abs(signedArea(ring));
    this.perimeterMm = perimeter(ring);
    this.box = boxOf(ring);
    const { left, right, bottom, top } = this.box;
    this.middle =
      this.areaMm2 > 1e-9 ? centroid(ring) : { x: (left + right) / 2, y: (bottom + top) / 2 };
    this.sizeMm = Math.hypot(right - left, top - bottom);
  }

  /** Points at equal steps along the ring, counter-clockwise. */
  get even(): readonly Point<'bed'>[] {
    if (!this.evenly) {
      const way = signedArea(this.ring) < 0 ? [...this.ring].reverse() : this.ring;
      const points = resample(way, this.perimeterMm / EVEN);
      this.evenly = Array.from({ length: EVEN }, (_, k) => points[k % points.length]!);
    }
    return this.evenly;
  }

  /** Distance from a point to the ring, mm; where it is more than `withinMm`, anything more than that. */
  distance(p: Point<'bed'>, withinMm = Infinity): number {
    this.sides ??= new Nearest([this.ring], Math.max(this.sizeMm / 40, 0.05));
    // The grid is searched outward cell by cell: far away the box says enough.
    const { left, right, bottom, top } = this.box;
    const dx = Math.max(left - p.x, 0, p.x - right);
    const dy = Math.max(bottom - p.y, 0, p.y - top);
    const off = Math.hypot(dx, dy);
    return off > Math.min(this.sizeMm, withinMm) ? off : this.sides.distance(p.x, p.y, withinMm);
  }
}

const EVEN = 180;

/**
 * Greatest distance between two rings, both ways, mm, the first one mapped before; `step` takes every so many-th vertex. Where it
 * is more than `withinMm`, anything more than that.
 */
export function deviation(
  map: Affine,
  from: Shape,
  to: Shape,
  step = 1,
  withinMm = Infinity,
): number {
  let most = 0;
  for (let k = 0; k < from.ring.length && most <= withinMm; k += step)
    most = Math.max(most, to.distance(mapPoint(map, from.ring[k]!), withinMm));
  if (step > 1 || most > withinMm) return most;
  const back = inverse(map);
  const grown = Math.sqrt(Math.abs(determinant(map)));
  for (const p of to.ring) most = Math.max(most, grown * from.distance(mapPoint(back, p)));
  return most;
}

/** The eight ways in which a rectangle comes to lie on the axes again: quarter turns, each also mirrored. */
const QUARTERS: readonly (readonly [number, number, number, number])[] = [
  [1, 0, 0, 1],
  [0, 1, -1, 0],
  [-1, 0, 0, -1],
  [0, -1, 1, 0],
  [-1, 0, 0, 1],
  [0, 1, 1, 0],
  [1, 0, 0, -1],
  [0, -1, -1, 0],
];

/** How near two shapes must come to be taken for the same while it is searched, as a share of their size. */
const ALIKE = 0.006;

/**
 * Every map by which one ring may have become another: quarter turns and mirrorings with a scale of their own along
 * each axis, and any turn with one scale.
 */
export function mapsBetween(from: Shape, to: Shape): Affine[] {
  const maps: Affine[] = [];
  const ratio = to.areaMm2 / from.areaMm2;
  if (!(ratio > 1e-8 && ratio < 1e8)) return maps;
  const alike = (map: Affine): boolean =>
    deviation(map, from, to, Math.max(1, Math.floor(from.ring.length / 48)), ALIKE * to.sizeMm) <=
    ALIKE * to.sizeMm;
  const [w, h] = [from.box.right - from.box.left, from.box.top - from.box.bottom];
  const [w2, h2] = [to.box.right - to.box.left, to.box.top - to.box.bottom];
  for (const [a, b, c, d] of QUARTERS) {
    const swapped = a === 0;
    const sx = w2 / (swapped ? h : w);
    const sy = h2 / (swapped ? w : h);
    if (!(sx > 0 && sy > 0) || Math.abs((sx * sy) / ratio - 1) > 0.01) continue;
    // A stretch of more than half again is no mistake that a printer or a program makes.
    if (Math.max(sx / sy, sy / sx) > 1.5) continue;
    const linear: Affine = [sx * a, sy * b, sx * c, sy * d, 0, 0];
    const middle = mapPoint(linear, from.middle);
    const map: Affine = [
      linear[0],
      linear[1],
      linear[2],
      linear[3],
      to.middle.x - middle.x,
      to.middle.y - middle.y,
    ];
    if (alike(map)) maps.push(map);
  }
  const roundness = (s: Shape): number => s.perimeterMm ** 2 / s.areaMm2;
  if (Math.abs(roundness(to) / roundness(from) - 1) > 0.01) return maps;
  for (const mirrored of [false, true]) {
    for (const shift of shiftsBetween(from, to, mirrored)) {
      const others = from.even.map(
        (_, k) => to.even[((((mirrored ? -k : k) + shift) % EVEN) + EVEN) % EVEN]!,
      );
      const map = fitAffine(from.even, others, { mirrored });
      if (map && alike(map)) maps.push(map);
    }
  }
  return maps;
}

/** By how many of its even steps a ring must be shifted to run like another: the best, and those nearly as good. */
function shiftsBetween(from: Shape, to: Shape, mirrored: boolean): number[] {
  const radii = (s: Shape): Float64Array => {
    const all = Float64Array.from(s.even, (p) => Math.hypot(p.x - s.middle.x, p.y - s.middle.y));
    const mean = all.reduce((a, b) => a + b, 0) / EVEN;
    return all.map((r) => r / mean);
  };
  const [a, b] = [radii(from), radii(to)];
  const misfit = Array.from({ length: EVEN }, (_, shift) => {
    let sum = 0;
    for (let k = 0; k < EVEN; k++)
      sum += (a[k]! - b[((((mirrored ? -k : k) + shift) % EVEN) + EVEN) % EVEN]!) ** 2;
    return Math.sqrt(sum / EVEN);
  });
  const least = Math.min(...misfit);
  if (least > 0.03) return [];
  return misfit
    .map((value, shift) => ({ value, shift }))
    .filter(
      ({ value, shift }) =>
        value <= least + 0.01 &&
        value <= misfit[(shift + 1) % EVEN]! &&
        value <= misfit[(shift + EVEN - 1) % EVEN]!,
    )
    .sort((p, q) => p.value - q.value)
    .slice(0, 12)
    .map(({ shift }) => shift);
}
