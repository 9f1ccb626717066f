import type { Point } from '../base/measure.ts';
import { inside } from '../geometry/measure.ts';
import type { RayVertex } from '../geometry/radial.ts';
import type { LinearPlane } from './linear.ts';

/** Wiggles of a ring are averaged out over so many points each way before its normals are taken. */
export const EVENED = 12;

/** How a wall shows: the point about which it is displaced, and how much larger its far end appears than its near one. */
export interface Displaced {
  readonly foot: Point<'sheet'>;
  readonly scale: number;
  readonly mmPerPx: number;
}

/** A closed course in the sheet's frame, mm, about a pixel apart, with what its wall shows of itself. */
export interface Course {
  readonly n: number;
  readonly x: Float64Array;
  readonly y: Float64Array;
  /** Away from the material. */
  readonly nx: Float64Array;
  readonly ny: Float64Array;
  /** How far the foot of the wall lies outside its rim in the picture, px along the normal; negative where it faces away. */
  readonly wallPx: Float64Array;
  /** AWAY, FACES, COVERED or UNTOLD. */
  readonly shows: Uint8Array;
}

/** The wall faces away; it faces the camera; so it does, but the blank stands before its foot; its normals do not say. */
export const AWAY = 0;
export const FACES = 1;
export const COVERED = 2;
export const UNTOLD = 3;

/** Points at equal distances along a ring. */
export interface Dense {
  readonly x: Float64Array;
  readonly y: Float64Array;
  /** The ring's vertex at or before each. */
  readonly of: Int32Array;
}

export function densified(ring: readonly RayVertex<'sheet'>[], step: number): Dense {
  const x: number[] = [];
  const y: number[] = [];
  const of: number[] = [];
  let left = 0;
  ring.forEach((p, k) => {
    const q = ring[(k + 1) % ring.length]!;
    const length = Math.hypot(q.x - p.x, q.y - p.y);
    let at = left;
    for (; at < length; at += step) {
      x.push(p.x + ((q.x - p.x) * at) / length);
      y.push(p.y + ((q.y - p.y) * at) / length);
      of.push(k);
    }
    left = at - length;
  });
  return { x: Float64Array.from(x), y: Float64Array.from(y), of: Int32Array.from(of) };
}

/** Normals are taken over so many points each way. */
const NORMAL_REACH = 5;
/** Corners are where a ring turns by this from before to behind a point, over these points each way. */
export const CORNER_RAD = 0.6;
export const CORNER_FROM = 3;
const CORNER_TO = 14;

/** How far a ring turns at each of its corners, radians; 0 elsewhere. */
function turnsAlong(x: Float64Array, y: Float64Array): Float64Array {
  const n = x.length;
  const turn = x.map((_, k) => {
    const at = (s: number): number => (k + s + n) % n;
    const [a, b, c, d] = [at(-CORNER_TO), at(-CORNER_FROM), at(CORNER_FROM), at(CORNER_TO)];
    const [px, py] = [x[b]! - x[a]!, y[b]! - y[a]!];
    const [qx, qy] = [x[d]! - x[c]!, y[d]! - y[c]!];
    return Math.abs(Math.atan2(px * qy - py * qx, px * qx + py * qy));
  });
  return turn.map((t, k) => {
    if (t < CORNER_RAD) return 0;
    for (let s = 1; s <= 2 * CORNER_FROM; s++)
      if (turn[(k + s) % n]! > t || turn[(k + n - s) % n]! >= t) return 0;
    return t;
  });
}

/** Points from each one to the nearest corner behind or ahead. */
function toCorner(turns: Float64Array, way: 1 | -1): Int32Array {
  const n = turns.length;
  const out = new Int32Array(n).fill(n);
  let since = n;
  for (let c = 0; c < 2 * n; c++) {
    const k = (((way > 0 ? -c : c) % n) + n) % n;
    since = turns[k]! > 0 ? 0 : since + 1;
    out[k] = Math.min(out[k]!, since);
  }
  return out;
}

/** Weighted means over `reach` points each way, fewer beside a corner. */
export function evened(v: Float64Array, reach: number, free: Int32Array): Float64Array {
  const n = v.length;
  return v.map((_, k) => {
    const r = Math.min(reach, free[k]!);
    let [sum, total] = [0, 0];
    for (let s = -r; s <= r; s++) {
      const w = Math.cos((s / (r + 1)) * (Math.PI / 2)) ** 2;
      sum += w * v[(k + s + n) % n]!;
      total += w;
    }
    return sum / total;
  });
}

/** Corners stay: nothing is averaged across them, and normals beside them are their own side's. */
export class Corners {
  readonly turns: Float64Array;
  /** Points to the nearest one. */
  readonly free: Int32Array;
  private readonly back: Int32Array;
  private readonly forth: Int32Array;

  constructor(x: Float64Array, y: Float64Array, least = CORNER_RAD) {
    this.turns = turnsAlong(x, y).map((turn) => (turn < least ? 0 : turn));
    this.back = toCorner(this.turns, -1);
    this.forth = toCorner(this.turns, 1);
    this.free = this.back.map((s, k) => Math.min(s, this.forth[k]!));
  }

  normals(x: Float64Array, y: Float64Array): { nx: Float64Array; ny: Float64Array } {
    const n = x.length;
    const [nx, ny] = [new Float64Array(n), new Float64Array(n)];
    for (let k = 0; k < n; k++) {
      const at = this.free[k] === 0;
      const a = (k + n - (at ? NORMAL_REACH : Math.min(NORMAL_REACH, this.back[k]!))) % n;
      const b = (k + (at ? NORMAL_REACH : Math.min(NORMAL_REACH, this.forth[k]!))) % n;
      const [dx, dy] = [x[b]! - x[a]!, y[b]! - y[a]!];
      const length = Math.hypot(dx, dy) || 1;
      nx[k] = dy / length;
      ny[k] = -dx / length;
    }
    return { nx, ny };
  }
}

export function courseOf(
  rawX: Float64Array,
  rawY: Float64Array,
  reach: number,
  coarse: readonly (readonly Point<'sheet'>[])[],
  shown: Displaced,
): Course {
  const { foot, scale, mmPerPx } = shown;
  const corners = new Corners(rawX, rawY);
  const x = evened(rawX, reach, corners.free);
  const y = evened(rawY, reach, corners.free);
  const { nx, ny } = corners.normals(x, y);
  const n = x.length;
  const sharp = new Corners(rawX, rawY, SHARP_RAD);
  const wallPx = wallsAlong({ x, y, nx, ny }, sharp, foot, scale, mmPerPx);
  const shows = Uint8Array.from(wallPx, (w, k) => {
    if (Math.abs(w) < UNTOLD_PX || sharp.free[k]! < WALL_REACH) return UNTOLD;
    if (w < 0) return AWAY;
    return coveredAt(x[k]!, y[k]!, nx[k]!, ny[k]!, coarse, shown) ? COVERED : FACES;
  });
  return { n, x, y, nx, ny, wallPx, shows };
}

/** Whether the blank itself stands before the foot of its wall: what lies just outside the foot is seen through the face. */
function coveredAt(
  x: number,
  y: number,
  nx: number,
  ny: number,
  coarse: readonly (readonly Point<'sheet'>[])[],
  { foot, scale, mmPerPx }: Displaced,
): boolean {
  const off = 1.5 * mmPerPx;
  const q = {
    x: foot.x + (x + off * nx - foot.x) / scale,
    y: foot.y + (y + off * ny - foot.y) / scale,
  };
  return coarse.reduce((within, ring) => within !== inside(ring, q), false);
}

/** Walls are averaged over so many points each way: a wiggle of the ring turns its normals there and back. */
const WALL_REACH = 12;
/** A ring that turns by more has a corner there and no wiggle, radians. */
export const SHARP_RAD = 1;
/** A narrower wall may as well face away, px. */
const UNTOLD_PX = 2;

/** How far the foot of a wall shows outside its rim along a course, px along the normal; negative where it faces away. */
export function wallsAlong(
  { x, y, nx, ny }: Pick<Course, 'x' | 'y' | 'nx' | 'ny'>,
  { free }: Corners,
  foot: Point<'sheet'>,
  scale: number,
  mmPerPx: number,
): Float64Array {
  const px = x.map(
    (_, k) => (-(scale - 1) / mmPerPx) * ((x[k]! - foot.x) * nx[k]! + (y[k]! - foot.y) * ny[k]!),
  );
  return evened(px, WALL_REACH, free);
}

/** The widest wall along a course, px; negative where all face away. */
export const widestOf = ({ wallPx }: Course): number =>
  wallPx.reduce((a, b) => Math.max(a, b), -Infinity);

/** Asks a plane for what a straight row of places needs, x and y interleaved. */
export function needAlong(plane: LinearPlane, at: Float64Array): void {
  const [x0, y0, x1, y1] = [at[0]!, at[1]!, at[at.length - 2]!, at[at.length - 1]!];
  plane.need(
    Math.min(x0, x1) - 3,
    Math.min(y0, y1) - 3,
    Math.max(x0, x1) + 3,
    Math.max(y0, y1) + 3,
  );
}
