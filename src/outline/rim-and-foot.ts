import type { Point } from '../base/measure.ts';
import { inside } from '../geometry/measure.ts';
import type { RayVertex } from '../geometry/radial.ts';
import { pictureOfMany } from '../view/model.ts';
import type { View } from '../view/view.ts';
import type { Lights } from './linear.ts';
import type { Edge } from './edge.ts';
import { roomsOf } from './corners.ts';
import { onFeet } from './feet.ts';
import { modelsOf, place, roughly, sample, SAMPLE_STEP } from './profile.ts';

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
const LEAST_GAIN = 0.1;

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
  return rings.map((ring) =>
    settled(ring, rings, foot, scale, lights, view, planes, mmPerPx, sheetHue),
  );
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
  const wall = Float64Array.from(bx, (x, k) => {
    const y = by[k]!;
    const w = (-(scale - 1) * ((x - foot.x) * nx[k]! + (y - foot.y) * ny[k]!)) / mmPerPx;
    if (w <= 0) return w;
    const q = {
      x: foot.x + (x + 1.5 * mmPerPx * nx[k]! - foot.x) / scale,
      y: foot.y + (y + 1.5 * mmPerPx * ny[k]! - foot.y) / scale,
    };
    const covered = coarse.reduce((c, r) => (inside(r, q) ? !c : c), false);
    if (covered) return -1;
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
      const beyond = Math.abs(hue[j + 2 * extra]! - sheetHue);
      out[k * width + j]! *= Math.max(0.05, 1 - Math.max(0, 2 * (beyond - 0.2))) ** 2;
    }
  };
  for (let k = 0; k < n; k++) {
    strength(farMm, k, rimOf, wall[k]! <= 0);
    if (wall[k]! > 0) strength(nearMm, k, footOf, true);
    let most = 1e-4;
    for (let j = 0; j < width; j++)
      most = Math.max(most, rimOf[k * width + j]!, footOf[k * width + j]!);
    for (let j = 0; j < width; j++) {
      const q = k * width + j;
      rimOf[q] = Math.sqrt(rimOf[q]! / most);
      footOf[q] = Math.sqrt(footOf[q]! / most);
      value[q] = wall[k]! > 0 ? 0.5 * (rimOf[q]! + footOf[q]!) : rimOf[q]!;
    }
  }
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
  const path = courseThrough(value, offset, n, width, J);
  const g = globalThis as any;
  const here = (k: number, px: number): number => {
    const j = Math.min(width - 1, Math.max(0, px / STEP_PX + J));
    const a = Math.min(width - 2, Math.floor(j));
    return value[k * width + a]! + (j - a) * (value[k * width + a + 1]! - value[k * width + a]!);
  };
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
  // In the picture: where the silhouette runs by this course.
  const edge = blankEdge(n);
  const two = new Float64Array(4);
  const wallPx = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    const height = wall[k]! > 0 ? nearMm : farMm;
    two.set([cx[k]!, cy[k]!, cx[k]! + mmPerPx * ux[k]!, cy[k]! + mmPerPx * uy[k]!]);
    pictureOfMany(view.eye, two, height, two);
    edge.x[k] = two[0]!;
    edge.y[k] = two[1]!;
    const [dx, dy] = [two[2]! - two[0]!, two[3]! - two[1]!];
    const length = Math.hypot(dx, dy);
    edge.nx[k] = dx / length;
    edge.ny[k] = dy / length;
    wallPx[k] = wall[k]! <= 0 ? 0 : Math.max(0, (-(scale - 1) * ((cx[k]! - foot.x) * ux[k]! + (cy[k]! - foot.y) * uy[k]!)) / mmPerPx);
  }
  const paired = onFeet(lights, edge, wallPx, view.blurPx, undefined, 1);
  const models = modelsOf(view.blurPx, 1);
  const rests = new Float64Array(models.places.length);
  const profile = new Float64Array(models.samples);
  const shift = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    if (paired.x[k] !== edge.x[k] || paired.y[k] !== edge.y[k]) {
      shift[k] = (paired.x[k]! - edge.x[k]!) * edge.nx[k]! + (paired.y[k]! - edge.y[k]!) * edge.ny[k]!;
      continue;
    }
    lights.luma.need(edge.x[k]! - 8, edge.y[k]! - 8, edge.x[k]! + 8, edge.y[k]! + 8);
    let power = 0;
    for (let s = 0; s < models.samples; s++) {
      const o = s * SAMPLE_STEP - models.innerPx;
      const v = sample(lights.luma, edge.x[k]! + o * edge.nx[k]!, edge.y[k]! + o * edge.ny[k]!);
      profile[s] = v;
      power += v * v;
    }
    shift[k] = place(profile, power, models.ramp, models.places, rests).at;
  }
  const even = evened(shift, 3, free);
  const qx = cx.map((x, k) => x + even[k]! * mmPerPx * ux[k]!);
  const qy = cy.map((y, k) => y + even[k]! * mmPerPx * uy[k]!);
  const away = Float64Array.from(qx, (x, k) => ((x - d.x[k]!) * ux[k]! + (qy[k]! - d.y[k]!) * uy[k]!) / mmPerPx);
  if (g.dumpBoth) g.dumpBoth({ d, bx, by, nx, ny, wall, offset, path, value, rimOf, footOf, width, J, n, mmPerPx, qx, qy, away });
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
    let gain = 0;
    while (c + length < n && Math.abs(away[(k + length) % n]!) >= JOINED_PX) {
      const m = (k + length) % n;
      most = Math.max(most, Math.abs(away[m]!));
      gain += here(m, (path[m]! - J) * STEP_PX) - here(m, offset[m]!);
      length++;
    }
    if (g.dumpBoth && process.env.RUNS) console.log('run', d.x[k]!.toFixed(1), d.y[k]!.toFixed(1), 'len', length, 'most', most.toFixed(2), 'gain', (gain / length).toFixed(3));
    if (most > MOVED_PX && gain > LEAST_GAIN * length)
      for (let s = 0; s < length; s++) moved[(k + s) % n] = 1;
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

const blankEdge = (n: number): Edge => ({
  count: n,
  x: new Float64Array(n),
  y: new Float64Array(n),
  nx: new Float64Array(n),
  ny: new Float64Array(n),
  sigma: new Float64Array(n),
  contrast: new Float64Array(n),
  ramp: new Uint8Array(n),
  inside: new Float64Array(n),
  outside: new Float64Array(n),
  poor: new Uint8Array(n),
  printed: new Uint8Array(n),
  clipped: new Uint8Array(n),
  corner: new Uint8Array(n),
  room: new Float64Array(n),
  footU: new Float64Array(n),
});

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
