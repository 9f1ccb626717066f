import type { Point } from '../base/measure.ts';
import { inside } from '../geometry/measure.ts';
import type { RayVertex } from '../geometry/radial.ts';
import { pictureOfMany } from '../view/model.ts';
import type { View } from '../view/view.ts';
import type { Lights } from './linear.ts';
import { roomsOf } from './corners.ts';
import { orthonormal, risen, roughly, sample, SAMPLE_STEP } from './profile.ts';

/**
 * Where a wall faces the camera a true outline lies on two edges of the picture at once: its rim at the face's height, its foot on the
 * sheet. A contour that took the one for the other somewhere lies on one at most. So every stretch is looked at once more, both edges
 * together, and moved where another course shows clearly more of both.
 */
const STEP_PX = 0.5;
/** The ring is read a pixel apart; its own wiggles are averaged out over so many points each way before its normals are taken. */
const EVEN_REACH = 12;
const NORMAL_REACH = 5;
const BEYOND_PX = 3;
const MOST_REACH_PX = 14;
const LEAST_WALL_PX = 1;
const BEND = 0.08;
const PRIOR = 0.004;
/** The brightness step is taken over so much each way, px. */
const HALF_STEP_PX = 1;
const HUE_OFF_PX = 2;
const MOVED_PX = 0.75;
const JOINED_PX = 0.35;
const LEAST_GAIN = 0.05;
const JOINED_POINTS = 5;
const MARGIN = 2;
const ROUNDS = +(process.env.ROUNDS ?? 1);
const WALLED_SHARE = 0.2;
/** Where a wall is wider than this, px, its rim shows apart from its foot: on most of them it must be this share of the strongest edge. */
const TOLD_APART_PX = 4;
const RIM_THERE = 0.4;
const RIMS_SHARE = 0.6;

export function throughBoth(
  rings: readonly (readonly RayVertex<'sheet'>[])[],
  foot: Point<'sheet'>,
  scale: number,
  lights: Lights,
  view: View,
  planes: readonly [near: number, far: number],
  mmPerPx: number,
  sheetHue: number | undefined,
): RayVertex<'sheet'>[][] {
  let now = rings.map((ring) => [...ring]);
  for (let round = 0; round < ROUNDS; round++)
    now = now.map((ring) =>
      settled(ring, now, foot, scale, lights, view, planes, mmPerPx, sheetHue),
    );
  return now;
}

interface Dense {
  readonly count: number;
  readonly x: Float64Array;
  readonly y: Float64Array;
  readonly of: Int32Array;
}

function dense(ring: readonly RayVertex<'sheet'>[], step: number): Dense {
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
  return {
    count: x.length,
    x: Float64Array.from(x),
    y: Float64Array.from(y),
    of: Int32Array.from(of),
  };
}

/** Weighted means over up to `reach` points each way, fewer where `most` says so. */
const evened = (v: Float64Array, reach: number, most?: Int32Array): Float64Array => {
  const n = v.length;
  return v.map((_, k) => {
    const r = Math.min(reach, most?.[k] ?? reach);
    let [sum, total] = [0, 0];
    for (let s = -r; s <= r; s++) {
      const w = Math.cos((s / (r + 1)) * (Math.PI / 2)) ** 2;
      sum += w * v[(k + s + n) % n]!;
      total += w;
    }
    return sum / total;
  });
};

const CORNER_FROM = 3;
const CORNER_TO = 14;
const CORNER_RAD = 0.6;
const TIP_RAD = 1.9;
const TIP_REACH = 5;

/** How far a ring turns at each of its corners, radians; 0 elsewhere. */
function cornersAlong(x: Float64Array, y: Float64Array): Float64Array {
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
    for (let s = 1; s <= CORNER_FROM + 3; s++)
      if (turn[(k + s) % n]! > t || turn[(k + n - s) % n]! >= t) return 0;
    return t;
  });
}

/** Points from each one to the nearest marked one, the way given. */
function distances(marks: Float64Array, way: 1 | -1): Int32Array {
  const n = marks.length;
  const out = new Int32Array(n).fill(n);
  let since = n;
  for (let c = 0; c < 2 * n; c++) {
    const k = (((way > 0 ? -c : c) % n) + n) % n;
    since = marks[k]! > 0 ? 0 : since + 1;
    out[k] = Math.min(out[k]!, since);
  }
  return out;
}

function settled(
  ring: readonly RayVertex<'sheet'>[],
  rings: readonly (readonly RayVertex<'sheet'>[])[],
  foot: Point<'sheet'>,
  scale: number,
  lights: Lights,
  view: View,
  [nearMm, farMm]: readonly [near: number, far: number],
  mmPerPx: number,
  sheetHue: number | undefined,
): RayVertex<'sheet'>[] {
  const d = dense(ring, mmPerPx);
  const n = d.count;
  if (n < 8 * EVEN_REACH) return [...ring];
  const corners = cornersAlong(d.x, d.y);
  const [back, forth] = [distances(corners, -1), distances(corners, 1)];
  const free = back.map((s, k) => Math.min(s, forth[k]!));
  const bx = evened(d.x, EVEN_REACH, free);
  const by = evened(d.y, EVEN_REACH, free);
  const nx = new Float64Array(n);
  const ny = new Float64Array(n);
  const chord = (k: number): readonly [number, number] => {
    const b = free[k] === 0 ? NORMAL_REACH : Math.min(NORMAL_REACH, back[k]!);
    const f = free[k] === 0 ? NORMAL_REACH : Math.min(NORMAL_REACH, forth[k]!);
    return [(k + n - b) % n, (k + f) % n];
  };
  for (let k = 0; k < n; k++) {
    const [a, b] = chord(k);
    const [dx, dy] = [bx[b]! - bx[a]!, by[b]! - by[a]!];
    const length = Math.hypot(dx, dy) || 1;
    nx[k] = dy / length;
    ny[k] = -dx / length;
  }
  /** Width of the wall that shows, px; 0 where it faces away or lies behind the blank. */
  const coarse = rings.map((r) => r.filter((_, k) => k % 6 === 0));
  let widest = 0;
  const covered = new Uint8Array(n);
  const wall = Float64Array.from(bx, (x, k) => {
    const y = by[k]!;
    const w = (-(scale - 1) * ((x - foot.x) * nx[k]! + (y - foot.y) * ny[k]!)) / mmPerPx;
    if (w <= 0) return w;
    const q = {
      x: foot.x + (x + 1.5 * mmPerPx * nx[k]! - foot.x) / scale,
      y: foot.y + (y + 1.5 * mmPerPx * ny[k]! - foot.y) / scale,
    };
    if (coarse.reduce((c, r) => (inside(r, q) ? !c : c), false)) {
      covered[k] = 1;
      return 0;
    }
    widest = Math.max(widest, w);
    return w;
  });
  if (widest < LEAST_WALL_PX) return [...ring];

  const reach = Math.min(MOST_REACH_PX, widest) + BEYOND_PX;
  const J = Math.ceil(reach / STEP_PX);
  const width = 2 * J + 1;
  const extra = Math.round(HUE_OFF_PX / STEP_PX);
  const long = width + 2 * extra;
  const half = Math.round(HALF_STEP_PX / STEP_PX);
  const offset = Float64Array.from(bx, (x, k) => (d.x[k]! - x) * nx[k]! + (d.y[k]! - by[k]!) * ny[k]!).map((v) => v / mmPerPx);
  const value = new Float32Array(n * width);
  const strongest = new Float64Array(n);
  const rimOf = new Float32Array(n * width);
  const footOf = new Float32Array(n * width);
  const places = new Float64Array(2 * long);
  const at = new Float64Array(2 * long);
  const line = new Float64Array(long);
  const hue = new Float64Array(long);
  const strength = (height: number, k: number, out: Float32Array, hues: boolean): void => {
    for (let j = 0; j < long; j++) {
      const o = (j - extra - J) * STEP_PX * mmPerPx;
      places[2 * j] = bx[k]! + o * nx[k]!;
      places[2 * j + 1] = by[k]! + o * ny[k]!;
    }
    pictureOfMany(view.eye, places, height, at);
    const [x0, x1] = [Math.min(at[0]!, at[2 * long - 2]!), Math.max(at[0]!, at[2 * long - 2]!)];
    const [y0, y1] = [Math.min(at[1]!, at[2 * long - 1]!), Math.max(at[1]!, at[2 * long - 1]!)];
    hue.fill(0);
    for (const plane of [lights.luma, lights.red, lights.blue]) {
      plane.need(x0 - 2, y0 - 2, x1 + 2, y1 + 2);
      const sign = plane === lights.red ? 1 : plane === lights.blue ? -1 : 0;
      for (let j = 0; j < long; j++) {
        const v = Math.max(0, roughly(plane, at[2 * j]!, at[2 * j + 1]!));
        line[j] = Math.sqrt(v);
        if (sign !== 0) hue[j]! += sign * Math.log(v + 0.005);
      }
      for (let j = 0; j < width; j++)
        out[k * width + j]! += (line[j + extra + half]! - line[j + extra - half]!) ** 2;
    }
    if (!hues || sheetHue === undefined) return;
    for (let j = 0; j < width; j++) {
      out[k * width + j]! *= likeSheet(hue[j + 2 * extra]! - sheetHue) ** 2;
    }
  };
  for (let k = 0; k < n; k++) {
    strength(farMm, k, rimOf, wall[k]! <= 0 && !covered[k]);
    if (wall[k]! > 0) strength(nearMm, k, footOf, true);
    let most = 1e-4;
    for (let j = 0; j < width; j++)
      most = Math.max(most, rimOf[k * width + j]!, footOf[k * width + j]!);
    strongest[k] = most;
    for (let j = 0; j < width; j++) {
      const q = k * width + j;
      rimOf[q] = Math.sqrt(rimOf[q]! / most);
      footOf[q] = Math.sqrt(footOf[q]! / most);
      value[q] = wall[k]! > 0 ? 0.5 * (rimOf[q]! + footOf[q]!) : rimOf[q]!;
    }
  }
  const g = globalThis as any;
  const flat = new Float64Array(2 * n);
  const normals = new Float64Array(2 * n);
  for (let k = 0; k < n; k++) {
    flat.set([bx[k]! / mmPerPx, by[k]! / mmPerPx], 2 * k);
    normals.set([nx[k]!, ny[k]!], 2 * k);
  }
  roomsOf(flat, normals, 3).forEach((room, k) => {
    if (room === 0) return;
    for (let j = 0; j < width; j++) {
      const o = (j - J) * STEP_PX;
      if (o * Math.sign(room) > Math.max(0.5, Math.abs(room) / 2 - 0.5)) value[k * width + j] = -1;
    }
  });
  // A leaning or rounded wall's rim lies elsewhere: of its foot alone nothing more is learnt.
  let [rims, walls] = [0, 0];
  for (let k = 0; k < n; k++) {
    if (wall[k]! < TOLD_APART_PX) continue;
    walls++;
    const j = Math.round(offset[k]! / STEP_PX) + J;
    for (let s = -2; s <= 2; s++)
      if ((rimOf[k * width + j + s] ?? 0) > RIM_THERE) {
        rims++;
        break;
      }
  }
  if (g.dumpBoth || process.env.RUNS) console.log('rims', (rims / walls).toFixed(2), walls, n);
  if (rims < RIMS_SHARE * walls) return [...ring];
  const path = courseThrough(value, offset, n, width, J);
  const fine = (k: number): number => {
    const j = path[k]!;
    if (j < 1 || j > width - 2) return (j - J) * STEP_PX;
    const [p, q, r] = [j - 1, j, j + 1].map((i) => value[k * width + i]!) as [number, number, number];
    const bend = p - 2 * q + r;
    return (j - J + (bend < 0 ? Math.max(-0.5, Math.min(0.5, (0.5 * (p - r)) / bend)) : 0)) * STEP_PX;
  };
  const cx = evened(bx.map((x, k) => x + fine(k) * mmPerPx * nx[k]!), 4, free);
  const cy = evened(by.map((y, k) => y + fine(k) * mmPerPx * ny[k]!), 4, free);
  const ex = evened(cx, 6, free);
  const ey = evened(cy, 6, free);
  const ux = new Float64Array(n);
  const uy = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    const [p, q] = chord(k);
    const [dx, dy] = [ex[q]! - ex[p]!, ey[q]! - ey[p]!];
    const length = Math.hypot(dx, dy) || 1;
    ux[k] = dy / length;
    uy[k] = -dx / length;
  }
  const wallPx = Float64Array.from(wall, (w, k) =>
    w <= 0
      ? 0
      : Math.max(
          0,
          (-(scale - 1) * ((cx[k]! - foot.x) * ux[k]! + (cy[k]! - foot.y) * uy[k]!)) / mmPerPx,
        ),
  );
  const pairs = new PairModels(view.blurPx);
  const shift = new Float64Array(n);
  const line2 = new Float64Array(2 * PAIR_SAMPLES);
  const on = new Float64Array(2 * PAIR_SAMPLES);
  const profile = new Float64Array(PAIR_SAMPLES);
  const rests = new Float64Array(PAIR_PLACES);
  for (let k = 0; k < n; k++) {
    rests.fill(0);
    const along = (height: number, model: readonly Float64Array[][]): void => {
      for (let s = 0; s < PAIR_SAMPLES; s++) {
        const o = (s - PAIR_HALF) * SAMPLE_STEP * mmPerPx;
        line2[2 * s] = cx[k]! + o * ux[k]!;
        line2[2 * s + 1] = cy[k]! + o * uy[k]!;
      }
      pictureOfMany(view.eye, line2, height, on);
      const [a, b] = [2 * PAIR_SAMPLES - 2, 2 * PAIR_SAMPLES - 1];
      lights.luma.need(
        Math.min(on[0]!, on[a]!) - 3,
        Math.min(on[1]!, on[b]!) - 3,
        Math.max(on[0]!, on[a]!) + 3,
        Math.max(on[1]!, on[b]!) + 3,
      );
      let power = 0;
      for (let s = 0; s < PAIR_SAMPLES; s++) {
        const v = sample(lights.luma, on[2 * s]!, on[2 * s + 1]!);
        profile[s] = v;
        power += v * v;
      }
      model.forEach((base, p) => {
        let rest = power;
        for (const column of base) {
          let dot = 0;
          for (let s = 0; s < PAIR_SAMPLES; s++) dot += column[s]! * profile[s]!;
          rest -= dot * dot;
        }
        rests[p]! += rest;
      });
    };
    const w = wallPx[k]!;
    if (w < NARROW_PX) along(wall[k]! > 0 ? nearMm : farMm, pairs.single());
    else {
      along(nearMm, pairs.atFoot(w));
      along(farMm, pairs.atRim(w));
    }
    let best = 0;
    for (let p = 1; p < PAIR_PLACES; p++) if (rests[p]! < rests[best]!) best = p;
    let place = (best - PAIR_MOST) * PAIR_STEP_PX;
    if (best > 0 && best < PAIR_PLACES - 1) {
      const [p, q, r] = [rests[best - 1]!, rests[best]!, rests[best + 1]!];
      const bend = p - 2 * q + r;
      if (bend > 0) place += ((0.5 * (p - r)) / bend) * PAIR_STEP_PX;
    }
    shift[k] = place;
  }
  const even = evened(shift, 3, free);
  const qx = cx.map((x, k) => x + even[k]! * mmPerPx * ux[k]!);
  const qy = cy.map((y, k) => y + even[k]! * mmPerPx * uy[k]!);
  const away = Float64Array.from(qx, (x, k) => ((x - d.x[k]!) * ux[k]! + (qy[k]! - d.y[k]!) * uy[k]!) / mmPerPx);
  if (g.dumpBoth) g.dumpBoth({ d, bx, by, nx, ny, wall, offset, path, value, rimOf, footOf, width, J, n, mmPerPx, qx, qy, away, cx, cy, shift, wallPx });
  const px = new Float64Array(n);
  const py = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    const [p, q] = chord(k);
    const [dx, dy] = [d.x[q]! - d.x[p]!, d.y[q]! - d.y[p]!];
    const length = Math.hypot(dx, dy) || 1;
    px[k] = dy / length;
    py[k] = -dx / length;
  }
  const across = new Float64Array(6);
  /** How much of both edges shows at a place, as a share of the strongest about point k. */
  const shown = (k: number, x: number, y: number, ax: number, ay: number): number => {
    const step = (height: number, outer: boolean): number => {
      const [h, o] = [HALF_STEP_PX * mmPerPx, (HUE_OFF_PX + HALF_STEP_PX) * mmPerPx];
      across.set([x - h * ax, y - h * ay, x + h * ax, y + h * ay, x + o * ax, y + o * ay]);
      pictureOfMany(view.eye, across, height, across);
      let [sum, hue] = [0, 0];
      for (const plane of [lights.luma, lights.red, lights.blue]) {
        const [a, b, beyond] = [0, 2, 4].map((q) =>
          Math.max(0, roughly(plane, across[q]!, across[q + 1]!)),
        ) as [number, number, number];
        sum += (Math.sqrt(b) - Math.sqrt(a)) ** 2;
        const sign = plane === lights.red ? 1 : plane === lights.blue ? -1 : 0;
        hue += sign * Math.log(beyond + 0.005);
      }
      const share = Math.min(1, Math.sqrt(sum / strongest[k]!));
      return outer && sheetHue !== undefined ? share * likeSheet(hue - sheetHue) : share;
    };
    const r = step(farMm, wall[k]! <= 0 && !covered[k]);
    return wall[k]! > 0 ? 0.5 * (r + step(nearMm, true)) : r;
  };
  const start = away.findIndex((a) => Math.abs(a) < JOINED_PX);
  if (start < 0) return [...ring];
  const moved = new Uint8Array(n);
  for (let c = 0; c < n; ) {
    const k = (start + c) % n;
    if (Math.abs(away[k]!) < JOINED_PX) {
      c++;
      continue;
    }
    let length = 0;
    let most = 0;
    let walled = 0;
    const stays = (from: number): boolean => {
      for (let s = 0; s < JOINED_POINTS; s++)
        if (Math.abs(away[(from + s) % n]!) >= JOINED_PX) return false;
      return true;
    };
    while (c + length < n && !stays(k + length)) {
      const m = (k + length) % n;
      most = Math.max(most, Math.abs(away[m]!));
      if (wallPx[m]! > LEAST_WALL_PX || covered[m]) walled++;
      length++;
    }
    if (process.env.RUNS && most > MOVED_PX) console.log('walled', walled, length);
    if (most > MOVED_PX && walled > WALLED_SHARE * length) {
      let gain = 0;
      for (let s = -MARGIN; s < length + MARGIN; s++) {
        const m = (k + s + n) % n;
        gain +=
          shown(m, qx[m]!, qy[m]!, ux[m]!, uy[m]!) - shown(m, d.x[m]!, d.y[m]!, px[m]!, py[m]!);
      }
      gain /= length + 2 * MARGIN;
      if (process.env.RUNS) console.log('run', d.x[k]!.toFixed(1), d.y[k]!.toFixed(1), 'len', length, 'most', most.toFixed(2), 'gain', gain.toFixed(3), 'corner', Math.max(...Array.from({ length }, (_, s) => corners[(k + s) % n]!)).toFixed(1));
      if (gain > LEAST_GAIN)
        for (let s = 0; s < length; s++) moved[(k + s) % n] = 1;
    }
    c += length;
  }
  corners.forEach((turn, k) => {
    if (turn > TIP_RAD) for (let s = -TIP_REACH; s <= TIP_REACH; s++) moved[(k + s + n) % n] = 0;
  });
  if (!moved.includes(1)) return [...ring];
  const out: RayVertex<'sheet'>[] = [];
  const gone = new Uint8Array(ring.length);
  for (let k = 0; k < n; k++) if (moved[k]) gone[d.of[k]!] = 1;
  let last = -1;
  for (let k = 0; k < n; k++) {
    const v = d.of[k]!;
    if (v !== last) {
      if (!moved[k]) out.push(ring[v]!);
      last = v;
    }
    if (!moved[k]) continue;
    out.push({
      x: qx[k]!,
      y: qy[k]!,
      kind: wall[k]! > 0 ? 'near' : 'far',
      from: ring[v]!.from,
      hiddenAfter: false,
    });
  }
  return out;
}

const PAIR_HALF = 9;
const PAIR_SAMPLES = 2 * PAIR_HALF + 1;
const PAIR_STEP_PX = 0.25;
const PAIR_MOST = 6;
const PAIR_PLACES = 2 * PAIR_MOST + 1;
const NARROW_PX = 1.25;
const WALL_STEP_PX = 0.25;

/** Rim and foot of a wall at each place of a scan, as orthonormal columns over a profile across one of them. */
class PairModels {
  private readonly known = new Map<number, readonly Float64Array[][]>();

  constructor(private readonly blurPx: number) {}

  /** One edge alone. */
  single(): readonly Float64Array[][] {
    return this.of(0);
  }

  /** Across the foot of a wall, its rim farther in. */
  atFoot(wallPx: number): readonly Float64Array[][] {
    return this.of(-Math.round(wallPx / WALL_STEP_PX));
  }

  /** Across the rim of a wall, its foot farther out. */
  atRim(wallPx: number): readonly Float64Array[][] {
    return this.of(Math.round(wallPx / WALL_STEP_PX));
  }

  private of(otherSteps: number): readonly Float64Array[][] {
    const other = otherSteps * WALL_STEP_PX;
    const shows = other !== 0 && Math.abs(other) < (PAIR_HALF * SAMPLE_STEP) + 2;
    const key = shows ? otherSteps : 0;
    let made = this.known.get(key);
    if (!made) {
      made = Array.from({ length: PAIR_PLACES }, (_, p) => {
        const at = (p - PAIR_MOST) * PAIR_STEP_PX;
        const columns = [new Float64Array(PAIR_SAMPLES).fill(1)];
        const column = (of: (d: number) => number): void => {
          columns.push(
            Float64Array.from({ length: PAIR_SAMPLES }, (_, s) =>
              of((s - PAIR_HALF) * SAMPLE_STEP - at),
            ),
          );
        };
        column((d) => risen(d, this.blurPx).step);
        if (shows) column((d) => risen(d - other, this.blurPx).step);
        else {
          column((d) => risen(d, this.blurPx).ramp);
          column((d) => d - risen(d, this.blurPx).ramp);
        }
        return orthonormal(columns);
      });
      this.known.set(key, made);
    }
    return made;
  }
}

/** How much a hue (its difference from the sheet's) may be the sheet's, 0 to 1. */
const likeSheet = (off: number): number =>
  Math.max(0.05, 1 - Math.max(0, 2 * (Math.abs(off) - 0.2)));

function courseThrough(
  value: Float32Array,
  offset: Float64Array,
  count: number,
  width: number,
  J: number,
): Int32Array {
  const turns = 2 * count;
  const from = new Int8Array(turns * width);
  let cost = new Float32Array(width);
  let next = new Float32Array(width);
  for (let t = 0; t < turns; t++) {
    const row = (t % count) * width;
    const own = offset[t % count]!;
    for (let k = 0; k < width; k++) {
      let best = Infinity;
      let move = 0;
      for (let m = -2; m <= 2; m++) {
        const j = k + m;
        if (j < 0 || j >= width) continue;
        const c = cost[j]! + BEND * m * m;
        if (c < best) {
          best = c;
          move = m;
        }
      }
      const prior = Math.min(0.1, PRIOR * ((k - J) * STEP_PX - own) ** 2);
      next[k] = best + 1 - value[row + k]! + prior;
      from[t * width + k] = move;
    }
    [cost, next] = [next, cost];
  }
  let k = 0;
  for (let j = 1; j < width; j++) if (cost[j]! < cost[k]!) k = j;
  const path = new Int32Array(count);
  for (let t = turns - 1; t >= 0; t--) {
    if (t >= count >> 1 && t < (count >> 1) + count) path[t % count] = k;
    k += from[t * width + k]!;
  }
  return path;
}
