import type { LinearPlane, Lights } from './linear.ts';
import { unmixed, type Mixture, type Sides } from './mixture.ts';
import { COLOUR_BLUR_PX, sample } from './profile.ts';
import { fitWedge, openingOf, type FittedWedge, type Wedge } from './wedge.ts';

/** Least angle that counts as a corner of the edge. */
const CORNER_RAD = (24 * Math.PI) / 180;

/** Least angle between sides too short to show whether they bend: straight pieces of a small circle turn too. */
const SHORT_CORNER_RAD = 1.1;

/** Linear light beside each point of a contour, and its contrast. */
interface Levels {
  readonly contrast: Float64Array;
  readonly inside: Float64Array;
  readonly outside: Float64Array;
  /** 0 luma, 1 red, 2 blue. */
  readonly plane: Uint8Array;
  /** See roomsOf. */
  readonly rooms: Float64Array;
  readonly sides: readonly Sides[];
}

export interface Corner {
  readonly at: number;
  readonly point: readonly [number, number];
  /** Points each way whose profiles cross the other side. */
  readonly blind: number;
  /** The corner as a whole, where it was fitted to the picture. */
  readonly wedge: Wedge | undefined;
}

/** Sides nearer to each other than this many blurs are one line in the picture. */
const TOLD_APART = 4;
/** Points each way that a corner leaves out at most. */
const MOST_BLIND = 22;
/** From this turn on a corner is a point or a cleft. */
const SHARP_RAD = 1.9;
/** Half light is reached where a wedge is 1.35 blurs wide; half as much again for noise, half of it by each side. */
const RETREAT = 1;
/** A wedge is fitted within this of a corner, as far as the next turn leaves room, px. */
const WEDGE_PX = 9;
const LEAST_WEDGE_PX = 4;
const WEDGE_SHARE = 0.5;
/**
 * How like a wedge must be to what is seen, and to where its sides meet: what it may leave of the step between its sides
 * (RMS), in all and about its apex, and how far its opening (radians) and its apex may be from theirs.
 */
interface Likeness {
  readonly rest: number;
  readonly restAtApex: number;
  readonly opens: number;
  readonly awayPx: number;
}
const CLEAN: Likeness = { rest: 0.05, restAtApex: 0.08, opens: 0.6, awayPx: 5.5 };
/** Sides of a point of the blank say little where colour is coarse. */
const POINT: Likeness = { rest: 0.07, restAtApex: 0.07, opens: 0.9, awayPx: 2 };
const AGREED = { rest: 0.07, restAtApex: 0.07, opens: 0.2, awayBlurs: 0.8 };
/** Less of a turn is seen at small fillets too, radians. */
const LEAST_AGREED_RAD = 0.7;
/** A wedge that turns by less than this is none, radians. */
const STRAIGHT_RAD = 0.2;
/** From this about the apex on, what was taken for a corner has no such end. */
const BLUNT = 0.2;
/** A corner is not sought farther from the contour found. */
const MOST_ROUNDED_PX = 6;

/** Points each side of a corner that blur and smoothing round off. */
export const gapOf = (blurPx: number): number => Math.max(3, Math.round(3 * blurPx));

/** Points from the gap on over which a side's direction is taken. */
const ARM = 5;

/**
 * Points of a closed contour, one px apart, at which it turns by more than `least` (radians) from before a gap to behind
 * it, and most of all round about.
 */
export function turnsOf(ring: Float64Array, gap: number, least: number): number[] {
  const n = ring.length >> 1;
  if (n < 4 * (gap + ARM)) return [];
  const dir = (k: number, s: number): [number, number] => {
    const a = 2 * ((k + s * (gap - 1) + n) % n);
    const b = 2 * ((k + s * (gap - 1 + ARM) + 2 * n) % n);
    return [s * (ring[b]! - ring[a]!), s * (ring[b + 1]! - ring[a + 1]!)];
  };
  const angle = Float64Array.from({ length: n }, (_, k) => {
    const [ux, uy] = dir(k, -1);
    const [vx, vy] = dir(k, 1);
    return Math.abs(Math.atan2(ux * vy - uy * vx, ux * vx + uy * vy));
  });
  const peaks: number[] = [];
  for (let k = 0; k < n; k++) {
    if (angle[k]! < least) continue;
    let peak = true;
    for (let s = -gap - 1; s <= gap + 1 && peak; s++) {
      const other = angle[(k + s + n) % n]!;
      if (other > angle[k]! || (other === angle[k] && s < 0)) peak = false;
    }
    if (peak) peaks.push(k);
  }
  return peaks;
}

/** Sides of a corner are compared this far from it, points. */
const ROOM_REACH = 36;
/** Another edge farther away than this is out of every profile, px. */
const ROOM_PX = 8;

/**
 * How near the other side of a point or cleft lies along the normal, px, for each point of a contour: positive to the
 * outside, negative to the inside, 0 where nothing is near.
 */
export function roomsOf(ring: Float64Array, normals: Float64Array, gap: number): Float64Array {
  const n = ring.length >> 1;
  const out = new Float64Array(n);
  const reach = Math.min(ROOM_REACH, n >> 2);
  for (const k of turnsOf(ring, gap, Math.PI / 2)) {
    for (let s = 1; s <= reach; s++) {
      for (const sign of [1, -1]) {
        const a = (k + sign * s + n) % n;
        for (let t = 0; t <= reach; t++) {
          const b = (k - sign * t + n) % n;
          const dx = ring[2 * b]! - ring[2 * a]!;
          const dy = ring[2 * b + 1]! - ring[2 * a + 1]!;
          const along = dx * normals[2 * a]! + dy * normals[2 * a + 1]!;
          const across = dx * normals[2 * a + 1]! - dy * normals[2 * a]!;
          if (Math.abs(across) > 0.8 || Math.abs(along) > ROOM_PX) continue;
          if (out[a] === 0 || Math.abs(along) < Math.abs(out[a]!)) out[a] = along;
        }
      }
    }
  }
  return out;
}

/**
 * Corners of a closed contour of points one px apart: where curves through both sides meet at an angle.
 * The sides reach to the next bend at most, so that a saw's teeth keep their points.
 */
export function cornersOf(
  lights: Lights,
  ring: Float64Array,
  normals: Float64Array,
  fit: Levels,
  blurPx: number,
): Corner[] {
  const n = ring.length >> 1;
  const gap = gapOf(blurPx);
  const longest = 14;
  const peaks = turnsOf(ring, gap, CORNER_RAD);
  const out: Corner[] = [];
  peaks.forEach((k, p) => {
    const before = (k - peaks[(p + peaks.length - 1) % peaks.length]! + n) % n || n;
    const after = (peaks[(p + 1) % peaks.length]! - k + n) % n || n;
    // In a point or cleft the sides begin where the lens tells them apart.
    const blind = (sign: number): number => {
      let s = gap;
      const near = (m: number): boolean => {
        const room = Math.abs(fit.rooms[(k + sign * m + n) % n]!);
        return room > 0 && room < TOLD_APART * blurPx;
      };
      while (s < MOST_BLIND && (near(s) || near(s + 1))) s++;
      return s;
    };
    const [blindBack, blindForth] = [blind(-1), blind(1)];
    const sides = (bent: boolean): readonly [Side | undefined, Side | undefined] => [
      side(ring, k, -1, blindBack, Math.min(2 * blindBack - gap + longest, before - gap), bent),
      side(ring, k, 1, blindForth, Math.min(2 * blindForth - gap + longest, after - gap), bent),
    ];
    const [back, forth] = sides(true);
    if (!back || !forth) return;
    // Near a blunt end bent sides may miss each other.
    const meet = crossing(back, forth) ?? meetingOf(sides(false));
    if (!meet) return;
    const least = back.bent && forth.bent ? CORNER_RAD : SHORT_CORNER_RAD;
    if (meet.angle < least) return;
    const m = (k + gap) % n;
    const l = (k - gap + n) % n;
    const seen = Math.min(fit.contrast[l]!, fit.contrast[m]!) > 0.15;
    const space = WEDGE_SHARE * Math.min(before, after);
    const which = Math.max(fit.plane[l]!, fit.plane[m]!);
    const plane = which === 0 ? lights.luma : which === 1 ? lights.red : lights.blue;
    const mixture = which === 0 ? (fit.sides[l]!.mixture ?? fit.sides[m]!.mixture) : undefined;
    const blur = which === 0 ? blurPx : Math.hypot(blurPx, COLOUR_BLUR_PX);
    const found =
      seen && space >= LEAST_WEDGE_PX
        ? fitWedge(plane, meet, meet.convex, blur, Math.min(space, WEDGE_PX), mixture)
        : undefined;
    if (found && found.restAtApex > BLUNT) return;
    // Where what is seen runs on straight it is the contour that leaps.
    if (found && found.rest < CLEAN.rest && Math.PI - openingOf(found) < STRAIGHT_RAD) return;
    const opens = found ? Math.abs(openingOf(found) - openingOf(meet)) : Infinity;
    const awayPx = found ? Math.hypot(found.x - meet.x, found.y - meet.y) : Infinity;
    const within = (w: FittedWedge, by: Likeness): boolean =>
      w.rest < by.rest && w.restAtApex < by.restAtApex && opens < by.opens && awayPx < by.awayPx;
    // Blur takes from a corner, and never adds to it.
    const beyond =
      found &&
      meet.convex ===
        (found.x - ring[2 * k]!) * normals[2 * k]! +
          (found.y - ring[2 * k + 1]!) * normals[2 * k + 1]! >
          0;
    // Sides farther out and light at the apex say the same, each by itself: a corner whatever lies beside it.
    const agrees =
      !!beyond &&
      meet.angle > LEAST_AGREED_RAD &&
      within(found, { ...AGREED, awayPx: AGREED.awayBlurs * blur });
    const wedge =
      found && (agrees || within(found, CLEAN) || (meet.convex && beyond && within(found, POINT)))
        ? found
        : undefined;
    const accepted = meetsHere(plane, mixture, ring, normals, fit, k, gap, meet, blurPx);
    if (
      !(accepted && Math.max(back.rest, forth.rest) <= 0.3) &&
      !agrees &&
      !(wedge && meet.angle > SHARP_RAD)
    )
      return;
    out.push({
      at: k,
      point: wedge ? [wedge.x, wedge.y] : [meet.x, meet.y],
      blind: Math.max(blindBack, blindForth),
      wedge,
    });
  });
  return out;
}

const meetingOf = ([back, forth]: readonly [Side | undefined, Side | undefined]):
  Meeting | undefined => back && forth && crossing(back, forth);

/** Whether two sides that meet make a corner there, or a fillet. */
function meetsHere(
  plane: LinearPlane,
  mixture: Mixture | undefined,
  ring: Float64Array,
  normals: Float64Array,
  fit: Levels,
  k: number,
  gap: number,
  meet: Meeting,
  blurPx: number,
): boolean {
  const n = ring.length >> 1;
  const turn = meet.angle;
  // A fillet's sides meet away from the data; a corner's within what blur and smoothing round off.
  const dx = meet.x - ring[2 * k]!;
  const dy = meet.y - ring[2 * k + 1]!;
  const away = Math.hypot(dx, dy);
  const rounded = 0.5 + (0.7 + 1.1 * blurPx) * Math.tan(Math.min(1.25, turn / 2));
  const m = (k + gap) % n;
  const l = (k - gap + n) % n;
  const inside = (fit.inside[l]! + fit.inside[m]!) / 2;
  const outside = (fit.outside[l]! + fit.outside[m]!) / 2;
  // A blurred wedge loses so much of its end.
  if (turn > SHARP_RAD && away < 1 + RETREAT * blurPx * Math.tan(turn / 2)) return true;
  if (away <= 0.8 || Math.min(fit.contrast[l]!, fit.contrast[m]!) <= 0.15) return away <= rounded;
  // The picture decides: half way to the meeting point it must be what the corner says it is.
  if (away > MOST_ROUNDED_PX) return false;
  plane.need(ring[2 * k]! - 10, ring[2 * k + 1]! - 10, ring[2 * k]! + 10, ring[2 * k + 1]! + 10);
  const light = sample(plane, ring[2 * k]! + dx / 2, ring[2 * k + 1]! + dy / 2);
  const v = mixture ? unmixed(mixture, light) : light;
  const material = (v - outside) / (inside - outside);
  const convex = dx * normals[2 * k]! + dy * normals[2 * k + 1]! > 0;
  return convex ? material >= 0.35 : material <= 0.65;
}

interface Side {
  /** Place and direction at the corner's parameter: x = x0 + x1 s + x2 s². */
  readonly x: readonly [number, number, number];
  readonly y: readonly [number, number, number];
  readonly rest: number;
  /** The side has points enough to show whether it bends. */
  readonly bent: boolean;
}

/** Least points for a straight side, and for a bent one. */
const STRAIGHT_SIDE = 4;
const BENT_SIDE = 10;

/**
 * Quadratic through the points from `near` to `far` steps away on one side of point k, in steps from k; a straight line
 * where they are few or `bent` says no; undefined where they are too few.
 */
function side(
  ring: Float64Array,
  k: number,
  sign: number,
  near: number,
  far: number,
  bent: boolean,
): Side | undefined {
  const n = ring.length >> 1;
  const m = far - near + 1;
  if (m < STRAIGHT_SIDE) return undefined;
  // Sums of powers of s for the normal equations.
  const p = [0, 0, 0, 0, 0];
  const bx = [0, 0, 0];
  const by = [0, 0, 0];
  for (let s = near; s <= far; s++) {
    const at = 2 * ((k + sign * s + 2 * n) % n);
    let w = 1;
    for (let e = 0; e < 5; e++, w *= s) {
      p[e]! += w;
      if (e < 3) {
        bx[e]! += w * ring[at]!;
        by[e]! += w * ring[at + 1]!;
      }
    }
  }
  const solve = m < BENT_SIDE || !bent ? solve2 : solve3;
  const x = solve(p as [number, number, number, number, number], bx as [number, number, number]);
  const y = solve(p as [number, number, number, number, number], by as [number, number, number]);
  let rest = 0;
  for (let s = near; s <= far; s++) {
    const at = 2 * ((k + sign * s + 2 * n) % n);
    const dx = ring[at]! - (x[0] + s * (x[1] + s * x[2]));
    const dy = ring[at + 1]! - (y[0] + s * (y[1] + s * y[2]));
    rest += dx * dx + dy * dy;
  }
  return { x, y, rest: Math.sqrt(rest / m), bent: m >= BENT_SIDE };
}

/** The straight line for the same sums. */
function solve2(
  [a, c, d]: readonly [number, number, number, number, number],
  b: readonly [number, number, number],
): [number, number, number] {
  const det = a * d - c * c;
  return [(b[0] * d - c * b[1]) / det, (a * b[1] - c * b[0]) / det, 0];
}

/** Solves the 3 x 3 Hankel system with power sums p and right side b (Cramer's rule). */
function solve3(
  p: readonly [number, number, number, number, number],
  b: readonly [number, number, number],
): [number, number, number] {
  const [a, c, d, e, f] = p;
  const det = a * (d * f - e * e) - c * (c * f - e * d) + d * (c * e - d * d);
  return [
    (b[0] * (d * f - e * e) - c * (b[1] * f - e * b[2]) + d * (b[1] * e - d * b[2])) / det,
    (a * (b[1] * f - e * b[2]) - b[0] * (c * f - e * d) + d * (c * b[2] - b[1] * d)) / det,
    (a * (d * b[2] - b[1] * e) - c * (c * b[2] - b[1] * d) + b[0] * (c * e - d * d)) / det,
  ];
}

type Parabola = readonly [number, number, number];

interface Meeting extends Wedge {
  /** How far the contour turns there, radians. */
  readonly angle: number;
  readonly convex: boolean;
}

/** Where two sides meet (Newton's method from their starts). */
function crossing(a: Side, b: Side): Meeting | undefined {
  let s = 0;
  let t = 0;
  const at = (q: Parabola, v: number): number => q[0] + v * (q[1] + v * q[2]);
  const slope = (q: Parabola, v: number): number => q[1] + 2 * v * q[2];
  for (let round = 0; round < 6; round++) {
    const ex = at(a.x, s) - at(b.x, t);
    const ey = at(a.y, s) - at(b.y, t);
    const ax = slope(a.x, s);
    const ay = slope(a.y, s);
    const bx = slope(b.x, t);
    const by = slope(b.y, t);
    const det = -ax * by + bx * ay;
    if (Math.abs(det) < 1e-6) return undefined;
    s += (ex * by - ey * bx) / det;
    t += (ex * ay - ey * ax) / det;
    if (Math.abs(s) > 12 || Math.abs(t) > 12) return undefined;
  }
  // Along the two sides away from where they meet.
  const [ux, uy] = [slope(a.x, s), slope(a.y, s)];
  const [vx, vy] = [slope(b.x, t), slope(b.y, t)];
  const turn = ux * vy - uy * vx;
  const sign = turn > 0 ? 1 : -1;
  return {
    x: at(a.x, s),
    y: at(a.y, s),
    angle: Math.abs(Math.atan2(-turn, -(ux * vx + uy * vy))),
    // The material lies to the left of the way along (y down).
    convex: turn > 0,
    back: Math.atan2(uy, ux),
    forth: Math.atan2(vy, vx),
    backBend: (2 * sign * (ux * a.y[2] - uy * a.x[2])) / Math.hypot(ux, uy) ** 3,
    forthBend: (-2 * sign * (vx * b.y[2] - vy * b.x[2])) / Math.hypot(vx, vy) ** 3,
  };
}
