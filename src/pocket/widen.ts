import type { Frame, Point } from '../base/measure.ts';
import { ARC_TOLERANCE_MM, type Clipper } from '../geometry/clipper.ts';
import { perimeter } from '../geometry/measure.ts';
import type { Region, Ring } from '../geometry/shape.ts';
import { asArcs } from './in-arcs.ts';
import { flatten } from '../geometry/curve.ts';
import type { Corners } from './pocket.ts';

/**
 * An addition runs out along the edge by no more than this, mm for mm. Were it to end at once, the wall would have a
 * round bay there, which no cutter enters and which keeps it from clearing a corner beside it.
 */
export const RUN_OUT = 1 / 4;

/** Edges that leave a straight taper by less than this are one, mm. */
const STRAIGHT_MM = 0.0005;

/** Consecutive indices of a ring for which `of` holds: first and last, both included; first > last runs over the end. */
export function runsOf(count: number, of: (k: number) => boolean): [number, number][] {
  const flags = Array.from({ length: count }, (_, k) => of(k));
  if (flags.every(Boolean)) return count > 0 ? [[0, count - 1]] : [];
  const runs: [number, number][] = [];
  for (let k = 0; k < count; k++) {
    if (!flags[k] || flags[(k + count - 1) % count]) continue;
    let end = k;
    while (flags[(end + 1) % count]) end = (end + 1) % count;
    runs.push([k, end]);
  }
  return runs;
}

/** Vertices of a ring from one index to another, both included, over the ring's end where from > to. */
export function stretchOf<T>(ring: readonly T[], from: number, to: number): T[] {
  const n = ring.length;
  const count = ((to - from + n) % n) + 1;
  return Array.from({ length: count }, (_, i) => ring[(from + i) % n]!);
}

/** Places nearer to a vertex than this are that vertex, mm. */
const SAME_MM = 1e-6;

/**
 * A ring with a vertex more at each of some places, mm along it, counter-clockwise from its rightmost vertex; and of every
 * vertex the given one that it lies on or after, with its share of the way to the next, and its own place.
 */
export function withPlaces<F extends Frame>(
  given: Ring<F>,
  placesMm: readonly number[],
): {
  readonly ring: Ring<F>;
  readonly sources: readonly { readonly vertex: number; readonly share: number }[];
  readonly placesMm: readonly number[];
} {
  const n = given.length;
  const length = perimeter(given);
  const start = given.reduce((best, p, k) => (p.x > given[best]!.x ? k : best), 0);
  const wanted = placesMm.map((mm) => ((mm % length) + length) % length).sort((a, b) => a - b);
  const all: { vertex: number; share: number; mm: number; p: Point<F> }[] = [];
  let mm = 0;
  for (let i = 0; i < n; i++) {
    const vertex = (start + i) % n;
    const [a, b] = [given[vertex]!, given[(vertex + 1) % n]!];
    const edge = Math.hypot(b.x - a.x, b.y - a.y);
    all.push({ vertex, share: 0, mm, p: a });
    for (const at of wanted) {
      if (at - all.at(-1)!.mm <= SAME_MM || at >= mm + edge - SAME_MM) continue;
      const share = (at - mm) / edge;
      all.push({
        vertex,
        share,
        mm: at,
        p: { x: a.x + (b.x - a.x) * share, y: a.y + (b.y - a.y) * share },
      });
    }
    mm += edge;
  }
  // In the order of the ring as it was given.
  all.sort((a, b) => a.vertex - b.vertex || a.share - b.share);
  return {
    ring: all.map(({ p }) => p),
    sources: all.map(({ vertex, share }) => ({ vertex, share })),
    placesMm: all.map((a) => a.mm),
  };
}

/** Additions that change by no more than `RUN_OUT` along the ring; nowhere less than given. */
function runOut<F extends Frame>(ring: Ring<F>, addedMm: ArrayLike<number>): Float64Array {
  const n = ring.length;
  const out = Float64Array.from(ring, (_, k) => Math.max(0, addedMm[k] ?? 0));
  const carry = (from: number, to: number): void => {
    const [p, q] = [ring[from]!, ring[to]!];
    out[to] = Math.max(out[to]!, out[from]! - RUN_OUT * Math.hypot(q.x - p.x, q.y - p.y));
  };
  // Twice round each way: what is carried over the ring's end goes on from there.
  for (let k = 0; k < 2 * n; k++) carry(k % n, (k + 1) % n);
  for (let k = 2 * n; k > 0; k--) carry(k % n, (k - 1) % n);
  return out;
}

interface Disc<F extends Frame> {
  readonly p: Point<F>;
  readonly radiusMm: number;
}

/** Discs along a line of which each pair of neighbours, joined by a straight taper, covers those between to `STRAIGHT_MM`. */
function straightened<F extends Frame>(discs: readonly Disc<F>[]): readonly Disc<F>[] {
  if (discs.length < 3) return discs;
  const [a, b] = [discs[0]!, discs[discs.length - 1]!];
  const d = [b.p.x - a.p.x, b.p.y - a.p.y, b.radiusMm - a.radiusMm] as const;
  const length2 = d[0] ** 2 + d[1] ** 2 + d[2] ** 2;
  let [worst, at] = [0, 0];
  for (let k = 1; k + 1 < discs.length; k++) {
    const { p, radiusMm } = discs[k]!;
    const v = [p.x - a.p.x, p.y - a.p.y, radiusMm - a.radiusMm] as const;
    const along = length2 > 0 ? (v[0] * d[0] + v[1] * d[1] + v[2] * d[2]) / length2 : 0;
    const t = Math.max(0, Math.min(1, along));
    const off = Math.hypot(v[0] - t * d[0], v[1] - t * d[1], v[2] - t * d[2]);
    if (off > worst) [worst, at] = [off, k];
  }
  if (worst <= STRAIGHT_MM) return [a, b];
  return [...straightened(discs.slice(0, at + 1)).slice(0, -1), ...straightened(discs.slice(at))];
}

/** The convex hull of two discs, counter-clockwise; holds it and leaves it by no more than the arc tolerance. */
function taper<F extends Frame>(a: Disc<F>, b: Disc<F>): Region<F> {
  const apart = Math.hypot(b.p.x - a.p.x, b.p.y - a.p.y);
  const heading = Math.atan2(b.p.y - a.p.y, b.p.x - a.p.x);
  const arc = ({ p, radiusMm }: Disc<F>, from: number, to: number): Point<F>[] => {
    const r = radiusMm + ARC_TOLERANCE_MM;
    const most = 2 * Math.acos(Math.max(0, 1 - ARC_TOLERANCE_MM / r));
    const steps = Math.max(1, Math.ceil((to - from) / most));
    return Array.from({ length: steps + 1 }, (_, k) => {
      const t = from + ((to - from) * k) / steps;
      return { x: p.x + r * Math.cos(t), y: p.y + r * Math.sin(t) };
    });
  };
  const lean = (a.radiusMm - b.radiusMm) / apart;
  if (!(Math.abs(lean) < 1))
    return { outer: arc(a.radiusMm > b.radiusMm ? a : b, 0, 2 * Math.PI).slice(1), holes: [] };
  // Where the common tangents touch: the same angle on both.
  const touch = Math.acos(lean);
  return {
    outer: [
      ...arc(b, heading - touch, heading + touch),
      ...arc(a, heading + touch, heading + 2 * Math.PI - touch),
    ],
    holes: [],
  };
}

/**
 * Everything that regions pass over as they are pushed by so much to either side along x, then along y: what they are with a
 * box of that size rolled round them (Minkowski sum).
 */
export function pushed<F extends Frame>(
  clipper: Clipper,
  regions: readonly Region<F>[],
  [acrossMm, inDepthMm]: readonly [number, number],
): Region<F>[] {
  const along = (of: readonly Region<F>[], x: number, y: number): Region<F>[] => {
    if (x === 0 && y === 0) return [...of];
    const at = (p: Point<F>, way: 1 | -1): Point<F> => ({ x: p.x + way * x, y: p.y + way * y });
    const swept = of.flatMap(({ outer, holes }) =>
      [outer, ...holes].flatMap((ring) =>
        ring.flatMap((p, k): Region<F>[] => {
          const q = ring[(k + 1) % ring.length]!;
          const turn = (q.x - p.x) * y - (q.y - p.y) * x;
          if (turn === 0) return [];
          const side = [at(p, -1), at(q, -1), at(q, 1), at(p, 1)];
          return [{ outer: turn > 0 ? side : side.reverse(), holes: [] }];
        }),
      ),
    );
    return clipper.union(of, swept);
  };
  return along(along(regions, acrossMm, 0), 0, inDepthMm);
}

/**
 * A ring grown by `leastMm` everywhere and by `addedMm` more at each vertex, in straight tapers between them: every
 * point of the ring has at least what its edge's two ends ask for, in proportion. Past the end of an addition it runs
 * out by `RUN_OUT`. Mitred corners, and arcs instead of the ring's own chords, are those of what is grown evenly. Errs outward by
 * at most 0.003 mm; for 'arcs' inward by the arc tolerance, its vertices lying on the true arcs.
 */
export function grown<F extends Frame>(
  clipper: Clipper,
  ring: Ring<F>,
  leastMm: number,
  addedMm: ArrayLike<number>,
  corners: Corners = 'round',
): Region<F>[] {
  const n = ring.length;
  const added = runOut(ring, addedMm);
  const low = Math.min(...added);
  const arcs = corners === 'arcs';
  const own = arcs ? flatten(asArcs(ring), ARC_TOLERANCE_MM) : ring;
  const evenly = clipper.offset(
    [{ outer: own, holes: [] }],
    leastMm + low,
    arcs ? 'inward' : 'outward',
    corners === 'mitred' ? 'mitred' : 'round',
  );
  const more = (k: number): boolean => added[k]! > low + 1e-9;
  const edges = runsOf(n, (k) => more(k) || more((k + 1) % n));
  const tapers = edges.flatMap(([from, to]) => {
    const count = ((to - from + n) % n) + 2;
    const discs = straightened(
      Array.from({ length: count }, (_, i) => {
        const k = (from + i) % n;
        return { p: ring[k]!, radiusMm: leastMm + added[k]! + 2 * STRAIGHT_MM };
      }),
    );
    return discs.slice(1).map((b, k) => taper(discs[k]!, b));
  });
  return tapers.length > 0 ? clipper.union(evenly, tapers) : evenly;
}
