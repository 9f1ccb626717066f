import type { Point } from '../base/measure.ts';
import type { RayVertex } from '../geometry/radial.ts';
import { isScanner } from '../view/model.ts';
import type { View } from '../view/view.ts';
import { FITTED_CORNER, type Edge } from './edge.ts';
import { sheetRing } from './wall.ts';

/** Corners that open wider than this are not points: both sides of the wall say where they are, radians. */
const SHARP_RAD = 1.3;
/** The sides of a corner are judged this far from it, points. */
const BESIDE = 8;
/** A point's end lies on both its flanks to within this, mm. */
const OFF_FLANK_MM = 0.16;
/** A point is at least and at most so far from the tip that the rays left, mm. */
const LEAST_MM = 0.03;
const MOST_MM = 2;

/**
 * Gives sharp points of a blank their ends back. Behind a silhouette a point ends where the ray through it is as long as the wall
 * is displaced, so that a small error of either side cuts off much of it; but the silhouette's own corner shows its end.
 *
 * @param rings of the blank behind its silhouette, mm, outer first
 * @param edges as measured, with `base` the index of each one's first point in `from`
 * @param strongest the same, point for point, before their walls' feet were sought
 */
export function withPoints(
  rings: readonly (readonly RayVertex<'sheet'>[])[],
  edges: readonly Edge[],
  strongest: readonly Edge[],
  view: View,
  planes: readonly [near: number, far: number],
): RayVertex<'sheet'>[][] {
  const out = rings.map((ring) => [...ring]);
  if (isScanner(view.eye)) return out;
  let base = 0;
  for (const [e, edge] of edges.entries()) {
    // A wall's foot ends a cleft early; its rim is what the picture showed first.
    const rim = planes.map((height) => sheetRing(strongest[e]!, view, height));
    const near = sheetRing(edge, view, planes[0]);
    const far = sheetRing(edge, view, planes[1]);
    const n = edge.count;
    for (let k = 0; k < n; k++) {
      if (edge.corner[k] !== FITTED_CORNER) continue;
      const [a, b] = [(k + n - BESIDE) % n, (k + BESIDE) % n];
      const toward = [near[a]!, near[b]!].map((p) => unit(p.x - near[k]!.x, p.y - near[k]!.y));
      const [u, v] = toward as [Direction, Direction];
      const opening = Math.acos(Math.max(-1, Math.min(1, u[0] * v[0] + u[1] * v[1])));
      // Material to the left of the way along: in the sheet's frame a left turn is convex.
      if (opening > SHARP_RAD) continue;
      const cleft = u[0] * v[1] - u[1] * v[0] > 0;
      const along = unit(-u[0] - v[0], -u[1] - v[1]);
      // The rim's end, the foot's, or both in one: which one, the flanks say.
      const [low, high] = cleft ? [rim[0]![k]!, rim[1]![k]!] : [near[k]!, far[k]!];
      const tips = [1, 0, 0.5].map((share) => ({
        x: low.x + share * (high.x - low.x),
        y: low.y + share * (high.y - low.y),
      }));
      for (const ring of out) if (lengthened(ring, tips, along, base + k)) break;
    }
    base += n;
  }
  return out;
}

type Direction = readonly [x: number, y: number];

const unit = (x: number, y: number): Direction => {
  const length = Math.hypot(x, y) || 1;
  return [x / length, y / length];
};

/** A flank's direction is taken between these places before the end of a point, mm. */
const FLANK_MM = [0.4, 1.4] as const;

/** How far a place lies from the line that a ring's flank draws on beyond an index, mm; undefined where the ring ends first. */
function besideFlank(
  ring: readonly RayVertex<'sheet'>[],
  end: number,
  way: 1 | -1,
): ((p: Point<'sheet'>) => number) | undefined {
  const n = ring.length;
  const places = FLANK_MM.map((mm) => {
    for (let s = 1; s < n; s++) {
      const p = ring[(end + way * s + n) % n]!;
      if (Math.hypot(p.x - ring[end]!.x, p.y - ring[end]!.y) >= mm) return p;
    }
    return undefined;
  });
  const [a, b] = places;
  if (!a || !b) return undefined;
  const [ux, uy] = unit(a.x - b.x, a.y - b.y);
  return (p) => Math.abs((p.x - a.x) * uy - (p.y - a.y) * ux);
}

/**
 * Moves the end of a ring's point to that of the tips, all but equally far along its axis, on which both flanks meet best; false where
 * the ring has no such point.
 */
function lengthened(
  ring: RayVertex<'sheet'>[],
  tips: readonly Point<'sheet'>[],
  [ax, ay]: Direction,
  from: number,
): boolean {
  const [first] = tips as [Point<'sheet'>];
  const ahead = (p: Point<'sheet'>): number => p.x * ax + p.y * ay;
  const near = [...ring.keys()].filter(
    (k) => Math.hypot(ring[k]!.x - first.x, ring[k]!.y - first.y) < MOST_MM,
  );
  if (!near.length) return false;
  const end = near.reduce((p, q) => (ahead(ring[q]!) > ahead(ring[p]!) ? q : p));
  const flanks = [besideFlank(ring, end, -1), besideFlank(ring, end, 1)];
  const off = (p: Point<'sheet'>): number => Math.max(...flanks.map((f) => f?.(p) ?? Infinity));
  const tip = tips.reduce((p, q) => (off(q) < off(p) ? q : p));
  const cut = ahead(tip) - ahead(ring[end]!);
  if (off(tip) > OFF_FLANK_MM || cut < LEAST_MM || cut > MOST_MM) return false;
  // What the cut left blunt goes with it, up to where the flanks begin.
  const { x, y } = ring[end]!;
  const blunt = new Set(
    near.filter((k) => Math.hypot(ring[k]!.x - x, ring[k]!.y - y) < FLANK_MM[0]),
  );
  const kept = ring.flatMap((p, k): RayVertex<'sheet'>[] =>
    k === end
      ? [{ x: tip.x, y: tip.y, kind: 'far', from, hiddenAfter: p.hiddenAfter }]
      : blunt.has(k)
        ? []
        : [p],
  );
  ring.splice(0, ring.length, ...kept);
  return true;
}
