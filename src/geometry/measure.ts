import type { Frame, Point } from '../base/measure.ts';
import type { Region, Ring } from './shape.ts';

/** Area of a ring by the shoelace formula, mm²; positive when it runs counter-clockwise. */
export function signedArea<F extends Frame>(ring: Ring<F>): number {
  // Relative to the first vertex: far from the origin the plain formula loses digits.
  const { x: x0, y: y0 } = ring[0]!;
  let twice = 0;
  for (let k = 0; k < ring.length; k++) {
    const p = ring[k]!;
    const q = ring[(k + 1) % ring.length]!;
    twice += (p.x - x0) * (q.y - y0) - (q.x - x0) * (p.y - y0);
  }
  return twice / 2;
}

/** Area of a region, holes taken off, mm². */
export const regionArea = <F extends Frame>({ outer, holes }: Region<F>): number =>
  Math.abs(signedArea(outer)) - holes.reduce((sum, hole) => sum + Math.abs(signedArea(hole)), 0);

/** A ring without the vertices that lie nearer than `leastMm` to the one kept before them. */
export function apart<F extends Frame>(ring: Ring<F>, leastMm: number): Ring<F> {
  const far = (p: Point<F>, q: Point<F>): boolean => Math.hypot(p.x - q.x, p.y - q.y) >= leastMm;
  const kept: Point<F>[] = [];
  for (const p of ring) if (kept.length === 0 || far(p, kept.at(-1)!)) kept.push(p);
  while (kept.length > 3 && !far(kept.at(-1)!, kept[0]!)) kept.pop();
  return kept.length < 3 ? ring : kept;
}

/** Length of a closed ring, mm. */
export function perimeter<F extends Frame>(ring: Ring<F>): number {
  let sum = 0;
  for (let k = 0; k < ring.length; k++) {
    const p = ring[k]!;
    const q = ring[(k + 1) % ring.length]!;
    sum += Math.hypot(q.x - p.x, q.y - p.y);
  }
  return sum;
}

/** Centroid of the area inside a ring. */
export function centroid<F extends Frame>(ring: Ring<F>): Point<F> {
  const { x: x0, y: y0 } = ring[0]!;
  let twice = 0;
  let sx = 0;
  let sy = 0;
  for (let k = 0; k < ring.length; k++) {
    const p = ring[k]!;
    const q = ring[(k + 1) % ring.length]!;
    const cross = (p.x - x0) * (q.y - y0) - (q.x - x0) * (p.y - y0);
    twice += cross;
    sx += (p.x + q.x - 2 * x0) * cross;
    sy += (p.y + q.y - 2 * y0) * cross;
  }
  return { x: x0 + sx / (3 * twice), y: y0 + sy / (3 * twice) };
}

/** A ring in the blank frame: its centroid at the origin, nothing turned. */
export function aboutCentroid(ring: Ring<'sheet'>): Ring<'blank'> {
  const { x: x0, y: y0 } = centroid(ring);
  return ring.map(({ x, y }) => ({ x: x - x0, y: y - y0 }));
}

export interface Box {
  readonly left: number;
  readonly bottom: number;
  readonly right: number;
  readonly top: number;
}

/** Smallest upright box that holds all points. */
export function boxOf<F extends Frame>(points: Iterable<Point<F>>): Box {
  let [left, bottom, right, top] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const { x, y } of points) {
    left = Math.min(left, x);
    right = Math.max(right, x);
    bottom = Math.min(bottom, y);
    top = Math.max(top, y);
  }
  return { left, bottom, right, top };
}

/** How far two boxes are apart along x or y, whichever is more, mm; less than nothing where they overlap. */
export const boxesApart = (a: Box, b: Box): number =>
  Math.max(b.left - a.right, a.left - b.right, b.bottom - a.top, a.bottom - b.top);

/** Convex hull, counter-clockwise, without collinear vertices. Source: A. M. Andrew, Inf. Process. Lett. 9(5), 1979 (monotone chain). */
export function hull<F extends Frame>(ring: Ring<F>): Point<F>[] {
  const sorted = [...ring].sort((a, b) => a.x - b.x || a.y - b.y);
  const chain = (points: readonly Point<F>[]): Point<F>[] => {
    const out: Point<F>[] = [];
    for (const p of points) {
      while (out.length >= 2) {
        const a = out[out.length - 2]!;
        const b = out[out.length - 1]!;
        if ((b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x) > 0) break;
        out.pop();
      }
      out.push(p);
    }
    return out.slice(0, -1);
  };
  return [...chain(sorted), ...chain(sorted.reverse())];
}

/** How far a ring reaches along a direction, and the vertex that does. */
export function support<F extends Frame>(
  ring: Ring<F>,
  directionRad: number,
): { readonly reachMm: number; readonly index: number } {
  const c = Math.cos(directionRad);
  const s = Math.sin(directionRad);
  let reachMm = -Infinity;
  let index = 0;
  for (let k = 0; k < ring.length; k++) {
    const reach = c * ring[k]!.x + s * ring[k]!.y;
    if (reach > reachMm) [reachMm, index] = [reach, k];
  }
  return { reachMm, index };
}

/** Distance between the two support lines across a direction (Feret diameter), mm. */
export const feret = <F extends Frame>(ring: Ring<F>, directionRad: number): number =>
  support(ring, directionRad).reachMm + support(ring, directionRad + Math.PI).reachMm;

/** The rectangle of least area round a ring: its sides and the direction of the longer one, radians in [0, pi). */
export interface Rectangle {
  readonly longMm: number;
  readonly shortMm: number;
  readonly longDirectionRad: number;
}

/**
 * Source: one side of the smallest rectangle lies along an edge of the hull (Freeman and Shapira, CACM 18(7), 1975).
 * Of rectangles equal in area to a millionth, the one whose sides are nearest to the axes is taken.
 */
export function smallestRectangle<F extends Frame>(ring: Ring<F>): Rectangle {
  const corners = hull(ring);
  const count = corners.length;
  // Calipers turn once round the hull: the corner farthest along each of three directions only ever moves on.
  const farthest = [0, 0, 0];
  const reach = (which: number, c: number, s: number): number => {
    const at = (k: number): number => c * corners[k % count]!.x + s * corners[k % count]!.y;
    while (at(farthest[which]! + 1) >= at(farthest[which]!)) {
      if (++farthest[which]! > 3 * count) break;
    }
    return at(farthest[which]!);
  };
  let best: { a: number; area: number; along: number; across: number; slant: number } | undefined;
  for (let k = 0; k < count; k++) {
    const p = corners[k]!;
    const q = corners[(k + 1) % count]!;
    const a = Math.atan2(q.y - p.y, q.x - p.x);
    const [c, s] = [Math.cos(a), Math.sin(a)];
    if (k === 0) {
      for (let w = 0; w < 3; w++) {
        farthest[w] = support(corners, a + (w * Math.PI) / 2).index;
      }
    }
    const along = reach(0, c, s) + reach(2, -c, -s);
    const across = reach(1, -s, c) - (c * p.y - s * p.x);
    const area = along * across;
    const slant = Math.abs(Math.sin(2 * a));
    const better =
      !best ||
      area < best.area * (1 - 1e-6) ||
      (area < best.area * (1 + 1e-6) && slant < best.slant);
    if (better) best = { a, area, along, across, slant };
  }
  const { a, along, across } = best!;
  const direction = along >= across ? a : a + Math.PI / 2;
  return {
    longMm: Math.max(along, across),
    shortMm: Math.min(along, across),
    longDirectionRad: ((direction % Math.PI) + Math.PI) % Math.PI,
  };
}

/** Whether a point lies inside a ring (even-odd rule); on the edge either answer may come. */
export function inside<F extends Frame>(ring: Ring<F>, p: Point<NoInfer<F>>): boolean {
  let odd = false;
  for (let k = 0, j = ring.length - 1; k < ring.length; j = k++) {
    const a = ring[j]!;
    const b = ring[k]!;
    if (a.y > p.y !== b.y > p.y && p.x < ((b.x - a.x) * (p.y - a.y)) / (b.y - a.y) + a.x) {
      odd = !odd;
    }
  }
  return odd;
}

/** Whether a point lies in a region and in none of its holes. */
export const insideRegion = <F extends Frame>(
  { outer, holes }: Region<F>,
  p: Point<NoInfer<F>>,
): boolean => inside(outer, p) && !holes.some((hole) => inside(hole, p));

/** The place on the segment a-b nearest to p, and how far it is, mm. */
export function nearestOnSegment<F extends Frame>(
  a: Point<F>,
  b: Point<F>,
  p: Point<F>,
): { readonly at: Point<F>; readonly distanceMm: number } {
  const dx = b.x - a.x;
  const dy = b.y - a.y;
  const squared = dx * dx + dy * dy;
  const t =
    squared === 0 ? 0 : Math.min(1, Math.max(0, ((p.x - a.x) * dx + (p.y - a.y) * dy) / squared));
  const at = { x: a.x + t * dx, y: a.y + t * dy };
  return { at, distanceMm: Math.hypot(p.x - at.x, p.y - at.y) };
}

/** The vertex of a ring nearest to p. */
export function nearestVertex<F extends Frame>(ring: Ring<F>, p: Point<NoInfer<F>>): number {
  let best = 0;
  let least = Infinity;
  for (let k = 0; k < ring.length; k++) {
    const d = (ring[k]!.x - p.x) ** 2 + (ring[k]!.y - p.y) ** 2;
    if (d < least) [least, best] = [d, k];
  }
  return best;
}

/** The place on a ring nearest to p, the edge it lies on (from vertex `edge` to the next), and how far it is, mm. */
export function nearestOnRing<F extends Frame>(
  ring: Ring<F>,
  p: Point<NoInfer<F>>,
): { readonly at: Point<F>; readonly edge: number; readonly distanceMm: number } {
  // Nothing is allocated in the loop: this is where pockets spend their time.
  let least = Infinity;
  let edge = 0;
  let a = ring[0]!;
  for (let k = 0; k < ring.length; k++) {
    const b = ring[k + 1 === ring.length ? 0 : k + 1]!;
    const dx = b.x - a.x;
    const dy = b.y - a.y;
    const squared = dx * dx + dy * dy;
    let t = squared === 0 ? 0 : ((p.x - a.x) * dx + (p.y - a.y) * dy) / squared;
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    const x = p.x - a.x - t * dx;
    const y = p.y - a.y - t * dy;
    const distance = x * x + y * y;
    if (distance < least) {
      least = distance;
      edge = k;
    }
    a = b;
  }
  return { ...nearestOnSegment<F>(ring[edge]!, ring[(edge + 1) % ring.length]!, p), edge };
}

/** Where two rings are nearest to each other: how far apart, and the place on each. */
export interface Gap<F extends Frame> {
  readonly distanceMm: number;
  /** On the first ring, and on the second. */
  readonly from: Point<F>;
  readonly to: Point<F>;
}

/** Where two rings' interiors are nearest to each other; undefined where they touch, overlap or hold each other. */
export function ringGap<F extends Frame>(a: Ring<F>, b: Ring<F>): Gap<F> | undefined {
  const boxes = [boxOf(a), boxOf(b)] as const;
  const meet = boxesApart(...boxes) <= 0;
  if (meet && (ringsCross(a, b) || inside(a, b[0]!) || inside(b, a[0]!))) return undefined;
  let least = Infinity;
  let pair: readonly [Point<F>, Point<F>] | undefined;
  for (const first of [true, false]) {
    const [of, to] = first ? [a, b] : [b, a];
    const box = boxes[first ? 1 : 0];
    for (const p of of) {
      const dx = Math.max(box.left - p.x, 0, p.x - box.right);
      const dy = Math.max(box.bottom - p.y, 0, p.y - box.top);
      if (Math.hypot(dx, dy) >= least) continue;
      const { at, distanceMm } = nearestOnRing<F>(to, p);
      if (distanceMm >= least) continue;
      least = distanceMm;
      pair = first ? [p, at] : [at, p];
    }
  }
  return pair && least > 0 ? { distanceMm: least, from: pair[0], to: pair[1] } : undefined;
}

/** Least distance between two rings' interiors, mm; 0 where they touch, overlap or hold each other. */
export const ringDistance = <F extends Frame>(a: Ring<F>, b: Ring<F>): number =>
  ringGap(a, b)?.distanceMm ?? 0;

const turn = <F extends Frame>(a: Point<F>, b: Point<F>, c: Point<F>): number =>
  (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);

const segmentsCross = <F extends Frame>(
  a: Point<F>,
  b: Point<F>,
  c: Point<F>,
  d: Point<F>,
): boolean => turn(a, b, c) * turn(a, b, d) < 0 && turn(c, d, a) * turn(c, d, b) < 0;

interface Edge {
  readonly k: number;
  readonly left: number;
  readonly right: number;
}

const edgesOf = <F extends Frame>(ring: Ring<F>): Edge[] =>
  ring
    .map((p, k) => {
      const q = ring[(k + 1) % ring.length]!;
      return { k, left: Math.min(p.x, q.x), right: Math.max(p.x, q.x) };
    })
    .sort((a, b) => a.left - b.left);

/** Whether the edges of two rings cross anywhere; touching is not crossing. */
function ringsCross<F extends Frame>(a: Ring<F>, b: Ring<F>): boolean {
  const edges = edgesOf(b);
  for (let k = 0; k < a.length; k++) {
    const p = a[k]!;
    const q = a[(k + 1) % a.length]!;
    const right = Math.max(p.x, q.x);
    const left = Math.min(p.x, q.x);
    for (const edge of edges) {
      if (edge.left > right) break;
      if (edge.right < left) continue;
      if (segmentsCross(p, q, b[edge.k]!, b[(edge.k + 1) % b.length]!)) return true;
    }
  }
  return false;
}

/** The first two edges of a ring that cross each other (numbered by their first vertex), or undefined. */
export function selfCrossing<F extends Frame>(
  ring: Ring<F>,
): readonly [number, number] | undefined {
  const edges = edgesOf(ring);
  for (let i = 0; i < edges.length; i++) {
    const e = edges[i]!;
    for (let j = i + 1; j < edges.length && edges[j]!.left <= e.right; j++) {
      const f = edges[j]!;
      const a = ring[e.k]!;
      const b = ring[(e.k + 1) % ring.length]!;
      const c = ring[f.k]!;
      const d = ring[(f.k + 1) % ring.length]!;
      if (segmentsCross(a, b, c, d)) return [Math.min(e.k, f.k), Math.max(e.k, f.k)];
    }
  }
  return undefined;
}

/** Points at equal steps along a ring, the first vertex first; the step is the largest one not above `stepMm` that divides the length. */
export function resample<F extends Frame>(ring: Ring<F>, stepMm: number): Point<F>[] {
  const length = perimeter(ring);
  const count = Math.max(3, Math.ceil(length / stepMm));
  const out: Point<F>[] = [];
  let k = 0;
  let before = 0;
  let edge = edgeLength(ring, 0);
  for (let i = 0; i < count; i++) {
    const at = (i * length) / count;
    while (before + edge < at && k < ring.length - 1) {
      before += edge;
      k++;
      edge = edgeLength(ring, k);
    }
    const p = ring[k]!;
    const q = ring[(k + 1) % ring.length]!;
    const t = edge === 0 ? 0 : (at - before) / edge;
    out.push({ x: p.x + t * (q.x - p.x), y: p.y + t * (q.y - p.y) });
  }
  return out;
}

const edgeLength = <F extends Frame>(ring: Ring<F>, k: number): number => {
  const p = ring[k]!;
  const q = ring[(k + 1) % ring.length]!;
  return Math.hypot(q.x - p.x, q.y - p.y);
};

/** Applies `to` to every vertex; a map that mirrors turns the rings round, so that outer ones stay counter-clockwise. */
export function mapRegion<F extends Frame, T extends Frame>(
  region: Region<F>,
  to: (p: Point<F>) => Point<T>,
  mirrors = false,
): Region<T> {
  const ring = (r: Ring<F>): Ring<T> => (mirrors ? [...r].reverse() : r).map(to);
  return { outer: ring(region.outer), holes: region.holes.map(ring) };
}

/** Unit normal at every vertex, to the right of the way along: outward from a counter-clockwise ring. */
export function outwardNormals<F extends Frame>(
  ring: Ring<F>,
): { nx: Float64Array; ny: Float64Array } {
  const n = ring.length;
  const nx = new Float64Array(n);
  const ny = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    const p = ring[(k + n - 1) % n]!;
    const q = ring[k]!;
    const r = ring[(k + 1) % n]!;
    const a = Math.hypot(q.x - p.x, q.y - p.y) || 1;
    const b = Math.hypot(r.x - q.x, r.y - q.y) || 1;
    const dx = (q.x - p.x) / a + (r.x - q.x) / b;
    const dy = (q.y - p.y) / a + (r.y - q.y) / b;
    const length = Math.hypot(dx, dy) || 1;
    nx[k] = dy / length;
    ny[k] = -dx / length;
  }
  return { nx, ny };
}
