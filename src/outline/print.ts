import { lineThrough, strayOf, type Line } from './line.ts';
import type { LinearPlane } from './linear.ts';
import { fitWedge, type Wedge } from './wedge.ts';

/** Share of ink the bare sheet shows at a place, picture px. */
export type InkAt = (x: number, y: number) => number;

/** Print may lie this far from where the view sees it, px. */
export const PRINT_OFF_PX = 1.75;
/** Print of the sheet nearer than this is another edge in the profile, px. */
const PRINT_ROOM_PX = 6;

/** Shortens profiles outside the blank to where the sheet's own print begins or ends. */
export function toPrint(
  rooms: Float64Array,
  ring: Float64Array,
  normals: Float64Array,
  inkAt: InkAt,
): void {
  for (let k = 0; k < rooms.length; k++) {
    const at = (d: number): number =>
      inkAt(ring[2 * k]! + d * normals[2 * k]!, ring[2 * k + 1]! + d * normals[2 * k + 1]!);
    const beside = at(1);
    for (let d = 1.5; d <= PRINT_ROOM_PX; d += 0.5) {
      if (at(d) === beside) continue;
      if (rooms[k] === 0 || d < Math.abs(rooms[k]!)) rooms[k] = d;
      break;
    }
  }
}

/** A stretch of a contour, as its first and last point, and where the sides beside it meet. */
export interface Stretch {
  readonly from: number;
  readonly to: number;
  readonly met: readonly [number, number] | undefined;
}

/** So long must a stretch follow the sheet's print to be doubted, and may at most to be drawn across, points. */
const LENGTHS = [10, 120] as const;
/** Stretches nearer to each other are one; so many points beside one go with it. */
const ONE_STRETCH = 20;
const BESIDE = 5;
/** The sides beside a stretch are lines through so many points, to within this, px. */
const SIDE_POINTS = 20;
const OFF_SIDE_PX = 0.4;
/** Sides that turn by more meet in a corner, no farther from the stretch than this, px. */
const CORNER_RAD = 0.35;
const CORNER_PX = 14;
/** Their corner is fitted to the picture within this, px; what it may leave of the step between blank and sheet (RMS). */
const WEDGE_PX = 16;
const CLEAN = 0.06;

/**
 * Stretches of a contour along the edge of the sheet's own print: what ends there is the print as likely as the blank. Each is
 * drawn across, where the sides beside it run straight.
 */
export function acrossPrint(
  luma: LinearPlane,
  ring: Float64Array,
  normals: Float64Array,
  inkAt: InkAt,
  blurPx: number,
): Stretch[] {
  const n = ring.length >> 1;
  const on = Array.from({ length: n }, (_, k) => {
    const at = (d: number): number =>
      inkAt(ring[2 * k]! + d * normals[2 * k]!, ring[2 * k + 1]! + d * normals[2 * k + 1]!);
    return at(-PRINT_OFF_PX) !== at(PRINT_OFF_PX);
  });
  const clear = (k: number): boolean =>
    Array.from({ length: ONE_STRETCH }, (_, s) => on[(k + s) % n]).every((v) => !v);
  const start = on.findIndex((_, k) => clear(k));
  const out: Stretch[] = [];
  for (let c = 0; start >= 0 && c < n; c++) {
    if (!on[(start + c) % n]) continue;
    let last = start + c;
    while (!clear(last + 1)) last++;
    const [from, to] = [start + c - BESIDE, last + BESIDE];
    c = last - start;
    if (last - from - BESIDE < LENGTHS[0] || to - from > LENGTHS[1]) continue;
    const back = lineAlong(ring, from - SIDE_POINTS, from - 1);
    const forth = lineAlong(ring, to + 1, to + SIDE_POINTS);
    if (!back || !forth) continue;
    const det = back.tx * forth.ty - back.ty * forth.tx;
    const turn = Math.abs(Math.atan2(det, back.tx * forth.tx + back.ty * forth.ty));
    if (turn < CORNER_RAD) {
      out.push({ from, to, met: undefined });
      continue;
    }
    const t = ((forth.x - back.x) * forth.ty - (forth.y - back.y) * forth.tx) / det;
    const meeting: Wedge = {
      x: back.x + t * back.tx,
      y: back.y + t * back.ty,
      back: Math.atan2(-back.ty, -back.tx),
      forth: Math.atan2(forth.ty, forth.tx),
      backBend: 0,
      forthBend: 0,
    };
    const seen = (x: number, y: number): number => {
      let [sum, total] = [0, 0];
      for (let i = -2; i <= 2; i++)
        for (let j = -2; j <= 2; j++) {
          const w = Math.exp(-0.5 * (i * i + j * j));
          sum += w * inkAt(x + i * blurPx, y + j * blurPx);
          total += w;
        }
      return sum / total;
    };
    const fitted = fitWedge(luma, meeting, det < 0, blurPx, WEDGE_PX, undefined, seen);
    if (!fitted || fitted.rest > CLEAN) continue;
    const met = [fitted.x, fitted.y] as const;
    const off = Array.from({ length: to - from + 1 }, (_, s) => {
      const k = 2 * ((from + s + n) % n);
      return Math.hypot(ring[k]! - met[0], ring[k + 1]! - met[1]);
    });
    if (Math.min(...off) < CORNER_PX) out.push({ from, to, met });
  }
  return out;
}

/** The line through points of a contour, along it; undefined where they do not lie on one. */
function lineAlong(ring: Float64Array, from: number, to: number): Line | undefined {
  const n = ring.length >> 1;
  const points = Array.from({ length: to - from + 1 }, (_, s) => {
    const k = 2 * ((from + s + 2 * n) % n);
    return { x: ring[k]!, y: ring[k + 1]! };
  });
  const line = lineThrough(points);
  return strayOf(line, points) < OFF_SIDE_PX ? line : undefined;
}
