import type { Frame, Point } from '../base/measure.ts';
import type { Clipper } from '../geometry/clipper.ts';
import { centroid, insideRegion, nearestOnRing, perimeter } from '../geometry/measure.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import type { Notch, NotchPair } from './pocket.ts';

/** Half a fingertip and some room, mm; common practice, no source. */
export const FINGER_MM = 9;

/** A place on a ring, and the direction away from what the ring holds. */
export interface Spot<F extends Frame> {
  readonly p: Point<F>;
  readonly out: Point<F>;
}

/** The place at a fraction of a ring's length, counter-clockwise from its rightmost vertex. `out` is the mean over `spanMm`. */
export function spotAt<F extends Frame>(ring: Ring<F>, at: number, spanMm = 0): Spot<F> {
  const length = perimeter(ring);
  const start = ring.reduce((best, p, k) => (p.x > ring[best]!.x ? k : best), 0);
  const walk = (mm: number): Point<F> => {
    let rest = ((mm % length) + length) % length;
    for (let i = 0; i < ring.length; i++) {
      const a = ring[(start + i) % ring.length]!;
      const b = ring[(start + i + 1) % ring.length]!;
      const edge = Math.hypot(b.x - a.x, b.y - a.y);
      if (rest <= edge && edge > 0)
        return { x: a.x + ((b.x - a.x) * rest) / edge, y: a.y + ((b.y - a.y) * rest) / edge };
      rest -= edge;
    }
    return ring[start]!;
  };
  const mm = at * length;
  const half = Math.max(spanMm / 2, 1e-3);
  const a = walk(mm - half);
  const b = walk(mm + half);
  const d = Math.hypot(b.x - a.x, b.y - a.y) || 1;
  return { p: walk(mm), out: { x: (b.y - a.y) / d, y: -(b.x - a.x) / d } };
}

/** The fraction of a ring's length, counter-clockwise from its rightmost vertex, at which it comes nearest to a point. */
export function fractionNear<F extends Frame>(ring: Ring<F>, p: Point<NoInfer<F>>): number {
  const start = ring.reduce((best, q, k) => (q.x > ring[best]!.x ? k : best), 0);
  const { at, edge } = nearestOnRing(ring, p);
  let mm = 0;
  for (let k = start; k !== edge; k = (k + 1) % ring.length) {
    const [a, b] = [ring[k]!, ring[(k + 1) % ring.length]!];
    mm += Math.hypot(b.x - a.x, b.y - a.y);
  }
  mm += Math.hypot(at.x - ring[edge]!.x, at.y - ring[edge]!.y);
  return (mm / perimeter(ring)) % 1;
}

/** A ring's edge from one place of it to another, counter-clockwise; places as `spotAt` has them. */
export function edgeBetween<F extends Frame>(ring: Ring<F>, from: number, to: number): Point<F>[] {
  const length = perimeter(ring);
  const start = ring.reduce((best, p, k) => (p.x > ring[best]!.x ? k : best), 0);
  const long = (((to - from) % 1) + 1) % 1;
  const between: { along: number; p: Point<F> }[] = [];
  let mm = 0;
  for (let i = 0; i < ring.length; i++) {
    const [a, b] = [ring[(start + i) % ring.length]!, ring[(start + i + 1) % ring.length]!];
    const along = (((mm / length - from) % 1) + 1) % 1;
    if (along > 1e-9 && along < long - 1e-9) between.push({ along, p: a });
    mm += Math.hypot(b.x - a.x, b.y - a.y);
  }
  return [
    spotAt(ring, from).p,
    ...between.sort((a, b) => a.along - b.along).map(({ p }) => p),
    spotAt(ring, to).p,
  ];
}

/** The whole of a notch: a disc on the wall, or a slot from the wall outward. Never smaller than set. */
export function notchRegion<F extends Frame>(
  clipper: Clipper,
  seat: Ring<F>,
  notch: Notch,
  clearanceMm: number,
): Region<F>[] {
  const { p, out } = spotAt(seat, notch.at, notch.radiusMm);
  const along = (mm: number): Point<F> => ({ x: p.x + out.x * mm, y: p.y + out.y * mm });
  const run = Math.max(notch.reachMm - notch.radiusMm, 0);
  return clipper.stroke([[along(0), along(clearanceMm + Math.max(run, 1e-3))]], notch.radiusMm);
}

/** How far the ring's edge leaves a straight line within `spanMm` of a place, mm. */
function bend<F extends Frame>(ring: Ring<F>, at: number, spanMm: number, length: number): number {
  const { p, out } = spotAt(ring, at, spanMm);
  return Math.max(
    ...[-0.5, -0.25, 0.25, 0.5].map((s) => {
      const q = spotAt(ring, at + (s * spanMm) / length).p;
      return Math.abs((q.x - p.x) * out.x + (q.y - p.y) * out.y);
    }),
  );
}

/**
 * Two notches across from each other where the edge is straight, nearest to the blank's middle: thumb and finger lift
 * it level. They open the board only: nothing of the print is lost. Places that no picture could see are passed over.
 *
 * @param unsure whether a vertex of the ring lies in a hidden stretch
 */
export function suggestNotches<F extends Frame>(
  seat: Ring<F>,
  { radiusMm, reachMm }: NotchPair,
  unsure: (vertex: number) => boolean = () => false,
): Notch[] {
  const length = perimeter(seat);
  const middle = centroid(seat);
  const COUNT = 96;
  const places = Array.from({ length: COUNT }, (_, k) => {
    const at = k / COUNT;
    const spot = spotAt(seat, at, 2 * radiusMm);
    return {
      at,
      ...spot,
      bend: bend(seat, at, 2 * radiusMm, length),
      unsure: unsure(nearestOnRing(seat, spot.p).edge),
    };
  });
  let best: { pair: [number, number]; cost: number } | undefined;
  for (const a of places)
    for (const b of places) {
      if (b.at <= a.at || a.unsure || b.unsure) continue;
      const across = Math.hypot(a.p.x - b.p.x, a.p.y - b.p.y);
      if (across < 2 * radiusMm || a.out.x * b.out.x + a.out.y * b.out.y > -0.8) continue;
      const [mx, my] = [(a.p.x + b.p.x) / 2, (a.p.y + b.p.y) / 2];
      const off = Math.hypot(mx - middle.x, my - middle.y);
      // Askew: how far the line between them leaves their normals.
      const skew = Math.abs(((b.p.x - a.p.x) * a.out.y - (b.p.y - a.p.y) * a.out.x) / across);
      const cost = off + 0.3 * across + 4 * (a.bend + b.bend) + across * skew;
      if (!best || cost < best.cost) best = { pair: [a.at, b.at], cost };
    }
  return (best?.pair ?? [0, 0.5]).map((at) => ({ at, radiusMm, reachMm }));
}

/** The place inside a region farthest from its edges, on a grid of 40 steps, and how far that is, mm; the centroid where it serves. */
export function roomiest<F extends Frame>(
  region: Region<F>,
  wantMm: number,
): { at: Point<F>; roomMm: number } {
  const rings = [region.outer, ...region.holes];
  const room = (p: Point<F>): number =>
    insideRegion(region, p)
      ? Math.min(...rings.map((ring) => nearestOnRing(ring, p).distanceMm))
      : 0;
  const middle = centroid(region.outer);
  const there = room(middle);
  if (there >= wantMm) return { at: middle, roomMm: there };
  const xs = region.outer.map((p) => p.x);
  const ys = region.outer.map((p) => p.y);
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  let best = { at: middle, roomMm: there };
  for (let i = 1; i < 40; i++)
    for (let j = 1; j < 40; j++) {
      const at = { x: x0 + ((x1 - x0) * i) / 40, y: y0 + ((y1 - y0) * j) / 40 };
      const roomMm = room(at);
      if (roomMm > best.roomMm) best = { at, roomMm };
    }
  return best;
}
