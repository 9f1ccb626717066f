import type { Point } from '../base/measure.ts';
import { nearestOnRing } from '../geometry/measure.ts';
import type { Region } from '../geometry/shape.ts';
import type { Relief } from './pocket.ts';

type P = Point<'blank'>;
export type ReliefLine = readonly [P, P];

/** A corner that would take the cutter farther than this many radii out of its path is a slot, not a corner. */
const MOST_RADII = 4;

/** Path and wall each err by up to the arc tolerance; what is left may look that much wider than the cutter, mm. */
const WIDER_MM = 0.005;

/** The nearest place on any ring of the regions. */
function nearestIn(regions: readonly Region<'blank'>[], p: P): { at: P; distanceMm: number } {
  let best = { at: p, distanceMm: Infinity };
  for (const { outer, holes } of regions)
    for (const ring of [outer, ...holes]) {
      const found = nearestOnRing(ring, p);
      if (found.distanceMm < best.distanceMm) best = found;
    }
  return best;
}

/**
 * The way of the cutter's centre that clears what it left in one corner: straight on from where the cutter stood
 * nearest, until its edge has passed every vertex of what is left.
 *
 * From the centre c, along the unit vector u, a vertex at (p, q) along and across u is passed after
 * p - sqrt(r² - q²). In a sharp corner of angle a that is r (1 / sin(a/2) - 1) along the bisector and r cot(a/2) along
 * a wall.
 *
 * @returns undefined where the cutter cannot pass, or would run out of the corner's own size
 */
export function reliefLine(
  left: Region<'blank'>,
  cut: readonly Region<'blank'>[],
  wall: readonly Region<'blank'>[],
  radiusMm: number,
  kind: Exclude<Relief, 'none'>,
): ReliefLine | undefined {
  const far = left.outer.map((p) => ({ p, ...nearestIn(cut, p) }));
  const tip = far.reduce((a, b) => (b.distanceMm > a.distanceMm ? b : a));
  const c = tip.at;
  const reach = Math.hypot(tip.p.x - c.x, tip.p.y - c.y);
  if (reach < 1e-9) return undefined;
  const bisector = { x: (tip.p.x - c.x) / reach, y: (tip.p.y - c.y) / reach };
  const asked = kind === 'bisector' ? bisector : alongWall(left, c, wall, radiusMm, bisector, kind);
  const u = asked && passable(left, c, radiusMm, asked);
  if (!u) return undefined;
  let travel = 0;
  for (const v of left.outer) {
    const p = (v.x - c.x) * u.x + (v.y - c.y) * u.y;
    const q = (v.y - c.y) * u.x - (v.x - c.x) * u.y;
    travel = Math.max(travel, p - Math.sqrt(Math.max(0, radiusMm ** 2 - q * q)));
  }
  if (travel <= 0 || travel > MOST_RADII * radiusMm) return undefined;
  return [c, { x: c.x + u.x * travel, y: c.y + u.y * travel }];
}

/**
 * The direction nearest to the one asked for in which a cutter of this radius that starts at c passes over every vertex
 * of what is left: none lies farther than the radius to either side of its way.
 */
function passable(left: Region<'blank'>, c: P, radiusMm: number, asked: P): P | undefined {
  let [least, most] = [-Math.PI, Math.PI];
  for (const v of left.outer) {
    const [dx, dy] = [v.x - c.x, v.y - c.y];
    const apart = Math.hypot(dx, dy);
    if (apart <= radiusMm + WIDER_MM) continue;
    const angle = Math.atan2(asked.x * dy - asked.y * dx, asked.x * dx + asked.y * dy);
    const half = Math.asin((radiusMm + WIDER_MM) / apart);
    least = Math.max(least, angle - half);
    most = Math.min(most, angle + half);
  }
  if (least > most) return undefined;
  const turn = Math.min(Math.max(0, least), most);
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  return { x: asked.x * cos - asked.y * sin, y: asked.x * sin + asked.y * cos };
}

/** The direction into the corner along that of its walls which lies nearer to the axis */
function alongWall(
  left: Region<'blank'>,
  c: P,
  wall: readonly Region<'blank'>[],
  radiusMm: number,
  bisector: P,
  kind: 'along-x' | 'along-y',
): P | undefined {
  // Where the cutter touches the walls, what is left runs out to nothing: its vertices seen farthest to either side.
  let [most, least] = [0, 0];
  let [one, other]: (P | undefined)[] = [];
  for (const v of left.outer) {
    const dx = v.x - c.x;
    const dy = v.y - c.y;
    if (Math.hypot(dx, dy) > radiusMm * 1.05 + 0.01) continue;
    const angle = Math.atan2(bisector.x * dy - bisector.y * dx, bisector.x * dx + bisector.y * dy);
    if (angle > most) [most, one] = [angle, v];
    if (angle < least) [least, other] = [angle, v];
  }
  if (!one || !other) return undefined;
  // Along the wall's own edge there, towards the corner.
  const ways = [one, other].map((v): P => {
    const ring = wall
      .flatMap((r) => [r.outer, ...r.holes])
      .reduce((a, b) => (nearestOnRing(b, v).distanceMm < nearestOnRing(a, v).distanceMm ? b : a));
    const { edge } = nearestOnRing(ring, v);
    const [p, q] = [ring[edge]!, ring[(edge + 1) % ring.length]!];
    const length = Math.hypot(q.x - p.x, q.y - p.y) || 1;
    const sign = (q.x - p.x) * bisector.x + (q.y - p.y) * bisector.y < 0 ? -1 : 1;
    return { x: (sign * (q.x - p.x)) / length, y: (sign * (q.y - p.y)) / length };
  });
  const nearer = (p: P): number => Math.abs(kind === 'along-x' ? p.x : p.y);
  return ways.reduce((a, b) => (nearer(b) > nearer(a) ? b : a));
}
