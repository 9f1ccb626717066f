import type { Point } from '../base/measure.ts';
import type { RayVertex } from '../geometry/radial.ts';
import { pictureOfMany } from '../view/model.ts';
import type { View } from '../view/view.ts';
import { roomsOf } from './corners.ts';
import { smoothestPath } from './edge.ts';
import type { SheetHue } from './hue.ts';
import { lineThrough, strayOf, type Line } from './line.ts';
import type { Lights } from './linear.ts';
import { orthonormal, risen, roughly, sample, SAMPLE_STEP } from './profile.ts';
import {
  AWAY,
  CORNER_FROM,
  Corners,
  courseOf,
  COVERED,
  densified,
  EVENED,
  evened,
  FACES,
  needAlong,
  SHARP_RAD,
  UNTOLD,
  wallsAlong,
  widestOf,
  type Course,
  type Dense,
  type Displaced,
} from './wall-course.ts';

/** What the rings of a blank are looked at with. */
interface Scene extends Displaced {
  readonly lights: Lights;
  readonly view: View;
  /** The sheet's end of the wall, and the face's, mm. */
  readonly nearMm: number;
  readonly farMm: number;
  readonly sheetHue: SheetHue | undefined;
  /** Whether a measured point is a corner that was fitted to the picture. */
  readonly fitted: (from: number) => boolean;
}

/** Wiggles of a ring are averaged out before its normals are taken; the second time over fewer points each way. */
const EVEN_REACH = [EVENED, 5] as const;
/** A course is sought so far beyond the widest wall, px, and so far at most in all. */
const BEYOND_PX = 3;
const MOST_REACH_PX = 17;
/** Where another course leaves a ring by less it is the same; by more somewhere, it is looked at, px. */
const JOINED_PX = 0.35;
const MOVED_PX = 0.75;
/** So many points of one course part two stretches; so many more are judged on either side. */
const JOINED_POINTS = 5;
const MARGIN = 2;
/** A stretch moves only where so many points of it, or so near to it, face the camera, and where it then shows more of both edges, of 1. */
const LEAST_WALLED = 3;
const ANY_WALL_PX = 1;
const BESIDE = 8;
const LEAST_GAIN = 0.05;
/** Of a stretch that moves no more than this share was seen by no ray, but where so much more of the edges shows along it. */
const MOST_UNSEEN = 0.7;
const CLEARLY_SEEN = 0.45;
/** Of a ring whose walls are all narrower nothing is mistaken, px. */
const LEAST_WALL_PX = 2.5;
/** Where a wall is wider than this, px, its rim shows apart from its foot: along most it must be this share of the strongest edge there. */
const TOLD_APART_PX = 3.5;
const RIM_THERE = 0.6;
/** Of rendered blanks the upright ones show at least 0.46, bevelled and rounded ones at most 0.29. */
const RIMS_SHARE = 0.4;
/** The end of a sharp point or cleft is measured by other means (see points.ts): so many points of it each way are left, radians. */
const TIP_RAD = 1.9;
const TIP_REACH = 5;
/** So is a corner that was fitted, unless so much more of the edges shows beside it. */
const CORNER_GAIN = 0.2;

/**
 * Looks at a blank's rings once more, at both edges of its wall together. Where a wall faces the camera a true outline lies on
 * two edges of the picture at once: its rim at the face's height and its foot on the sheet. A silhouette that took the one for
 * the other somewhere lies on one at most, and its normals, which say what a wall hides, are wrong there too. Every stretch along
 * which another course shows clearly more of both is moved there.
 *
 * @param rings of the blank behind its silhouette, mm, outer first
 * @param foot, scale the point about which the wall is displaced, and by how much
 * @param planes heights of its ends (see `seenPlanes`)
 * @param sheetHue of the lit stage
 * @param fitted whether a measured point (`from`) is a corner that was fitted to the picture: those stay
 * @returns the rings; the same ones where the wall's rim does not stand over its foot (rounded, bevelled, leaning)
 */
export function throughBoth(
  rings: readonly RayVertex<'sheet'>[][],
  foot: Point<'sheet'>,
  scale: number,
  lights: Lights,
  view: View,
  [nearMm, farMm]: readonly [near: number, far: number],
  mmPerPx: number,
  sheetHue: SheetHue | undefined,
  fitted: (from: number) => boolean,
): RayVertex<'sheet'>[][] {
  const scene = { lights, view, nearMm, farMm, foot, scale, mmPerPx, sheetHue, fitted };
  const coarse = rings.map((ring) => ring.filter((_, k) => k % 6 === 0));
  const found = rings.map((ring) => {
    const dense = densified(ring, mmPerPx);
    if (dense.of.length < 8 * EVEN_REACH[0]) return undefined;
    const course = courseOf(dense.x, dense.y, EVEN_REACH[0], coarse, scene);
    if (widestOf(course) < LEAST_WALL_PX) return undefined;
    return { dense, course, signs: signsOf(course, scene) };
  });
  // A leaning or rounded wall's rim lies elsewhere: no more is learnt from it.
  let [rims, walls] = [0, 0];
  for (const one of found) {
    if (!one) continue;
    one.course.wallPx.forEach((w, k) => {
      if (w < TOLD_APART_PX || one.course.shows[k] !== FACES) return;
      walls++;
      const own = Math.round(offsetOf(one.course, k, one.dense, mmPerPx) / STEP_PX);
      if (one.signs.rimAbout(k, own) > RIM_THERE) rims++;
    });
  }
  if (walls === 0 || rims < RIMS_SHARE * walls) return [...rings];
  return rings.map((ring, r) => {
    const one = found[r];
    if (!one) return ring;
    const first = measured(one.course, one.signs, one.dense, scene);
    const again = courseOf(first.x, first.y, EVEN_REACH[1], coarse, scene);
    const second = measured(again, signsOf(again, scene), one.dense, scene);
    return withoutKinks(withMoved(ring, one.dense, second, scene), scene);
  });
}

/** How far a dense ring lies outside a course about point k, px. */
const offsetOf = (c: Course, k: number, { x, y }: Dense, mmPerPx: number): number =>
  ((x[k]! - c.x[k]!) * c.nx[k]! + (y[k]! - c.y[k]!) * c.ny[k]!) / mmPerPx;

/** Courses are sought in these steps, px. */
const STEP_PX = 0.5;
/** The step of brightness is taken over so much each way, px, and the colour outside it so far from it. */
const HALF_STEP_PX = 1;
const HUE_OFF_PX = 2;
/** Squared step of the square root of light (0 to 1) below which there is nothing. */
const NOTHING = 1e-4;

/** How much of rim and foot shows at each offset from a course, as shares of the strongest step there. */
class Signs {
  readonly rim: Float32Array;
  readonly foot: Float32Array;
  readonly both: Float32Array;
  readonly strongest: Float64Array;

  constructor(
    readonly n: number,
    /** Offsets each way. */
    readonly most: number,
  ) {
    this.rim = new Float32Array(n * this.width);
    this.foot = new Float32Array(n * this.width);
    this.both = new Float32Array(n * this.width);
    this.strongest = new Float64Array(n);
  }

  get width(): number {
    return 2 * this.most + 1;
  }

  /** The share of a rim that peaks within a pixel of an offset, 0 where none does: the slope of another edge is no rim. */
  rimAbout(k: number, steps: number): number {
    let out = 0;
    for (let s = -2; s <= 2; s++) {
      const j = steps + this.most + s;
      if (j < 1 || j > this.width - 2) continue;
      const [a, b, c] = [j - 1, j, j + 1].map((i) => this.rim[k * this.width + i]!) as [
        number,
        number,
        number,
      ];
      if (b >= a && b >= c) out = Math.max(out, b);
    }
    return out;
  }
}

/** How much a hue may be the sheet's, 0 to 1, by how far it is from it. */
const likeSheet = (off: number): number => Math.max(0.05, 1 - Math.max(0, 2 * (off - 0.2)));

function signsOf(c: Course, { lights, view, nearMm, farMm, mmPerPx, sheetHue }: Scene): Signs {
  const reach = Math.min(MOST_REACH_PX, widestOf(c) + BEYOND_PX);
  const signs = new Signs(c.n, Math.ceil(reach / STEP_PX));
  const { width, most, rim, foot, both } = signs;
  const extra = Math.round(HUE_OFF_PX / STEP_PX);
  const half = Math.round(HALF_STEP_PX / STEP_PX);
  const count = width + 2 * extra;
  const at = new Float64Array(2 * count);
  const root = new Float64Array(count);
  const beyond = new Float64Array(width);
  const look = (k: number, heightMm: number, out: Float32Array, bySheet: boolean): void => {
    for (let j = 0; j < count; j++) {
      const o = (j - extra - most) * STEP_PX * mmPerPx;
      at[2 * j] = c.x[k]! + o * c.nx[k]!;
      at[2 * j + 1] = c.y[k]! + o * c.ny[k]!;
    }
    pictureOfMany(view.eye, at, heightMm, at);
    sheetHue?.planes.forEach((plane) => needAlong(plane, at));
    for (const plane of [lights.luma, lights.up, lights.down]) {
      needAlong(plane, at);
      for (let j = 0; j < count; j++) {
        const v = Math.max(0, roughly(plane, at[2 * j]!, at[2 * j + 1]!));
        root[j] = Math.sqrt(v);
      }
      for (let j = 0; j < width; j++)
        out[k * width + j]! += (root[j + extra + half]! - root[j + extra - half]!) ** 2;
    }
    for (let j = 0; j < width; j++) {
      const to = j + 2 * extra;
      const off = sheetHue?.at(at[2 * to]!, at[2 * to + 1]!) ?? 0;
      if (out === rim) beyond[j] = off;
      if (bySheet) out[k * width + j]! *= likeSheet(off) ** 2;
    }
  };
  for (let k = 0; k < c.n; k++) {
    const shows = c.shows[k]!;
    look(k, farMm, rim, shows === AWAY);
    if (shows === FACES || shows === UNTOLD) look(k, nearMm, foot, true);
    let strongest = NOTHING;
    for (let q = k * width; q < (k + 1) * width; q++)
      strongest = Math.max(strongest, rim[q]!, foot[q]!);
    signs.strongest[k] = strongest;
    for (let q = k * width; q < (k + 1) * width; q++) {
      rim[q] = Math.sqrt(rim[q]! / strongest);
      foot[q] = Math.sqrt(foot[q]! / strongest);
      const two = 0.5 * (rim[q]! + foot[q]!);
      const one = shows === UNTOLD ? rim[q]! * likeSheet(beyond[q - k * width]!) : rim[q]!;
      both[q] = shows === FACES ? two : shows === UNTOLD ? Math.max(one, two) : one;
    }
  }
  return signs;
}

/** What leaving the ring costs a course, per px squared, and at most. */
const LEAVING = 0.004;
const MOST_LEAVING = 0.1;

/** A course measured: where the wall's edges lie together. */
interface Measured extends Course {
  readonly signs: Signs;
}

function measured(c: Course, signs: Signs, ring: Dense, scene: Scene): Measured {
  const { mmPerPx, foot, scale } = scene;
  const { n } = c;
  const { both, width, most } = signs;
  // The other side of a point or cleft is another edge.
  const flat = new Float64Array(2 * n);
  const normals = new Float64Array(2 * n);
  for (let k = 0; k < n; k++) {
    flat.set([c.x[k]! / mmPerPx, c.y[k]! / mmPerPx], 2 * k);
    normals.set([c.nx[k]!, c.ny[k]!], 2 * k);
  }
  const rooms = roomsOf(flat, normals, CORNER_FROM);
  const wanted = both.map((value, q) => {
    const k = Math.floor(q / width);
    const o = ((q % width) - most) * STEP_PX;
    const room = rooms[k]!;
    if (room !== 0 && o * Math.sign(room) > Math.max(0.5, Math.abs(room) / 2 - 0.5)) return -1;
    const leaves = LEAVING * (o - offsetOf(c, k, ring, mmPerPx)) ** 2;
    return value - Math.min(MOST_LEAVING, leaves);
  });
  const path = smoothestPath(wanted, n, width);
  const corners = new Corners(c.x, c.y);
  const moved = (v: Float64Array, by: Float64Array): Float64Array =>
    v.map((a, k) => a + (path[k]! - most) * STEP_PX * mmPerPx * by[k]!);
  const roughX = evened(moved(c.x, c.nx), 4, corners.free);
  const roughY = evened(moved(c.y, c.ny), 4, corners.free);
  const { nx, ny } = corners.normals(
    evened(roughX, 6, corners.free),
    evened(roughY, 6, corners.free),
  );
  const sharp = new Corners(roughX, roughY, SHARP_RAD);
  const wallPx = wallsAlong({ x: roughX, y: roughY, nx, ny }, sharp, foot, scale, mmPerPx);
  const shows = c.shows.map((s, k) => {
    const q = k * width + path[k]!;
    // By what was chosen: both edges, or the rim against the sheet.
    return s !== UNTOLD ? s : both[q]! > 0.5 * (signs.rim[q]! + signs.foot[q]!) ? AWAY : FACES;
  });
  const shift = evened(
    shiftsOf({ n, x: roughX, y: roughY, nx, ny, wallPx, shows }, scene),
    3,
    corners.free,
  );
  return {
    n,
    x: roughX.map((v, k) => v + shift[k]! * mmPerPx * nx[k]!),
    y: roughY.map((v, k) => v + shift[k]! * mmPerPx * ny[k]!),
    nx,
    ny,
    wallPx,
    shows,
    signs,
  };
}

/** Profiles reach so many samples each way, and pairs of edges are placed in these steps, px, so many each way. */
const HALF_SAMPLES = 9;
const SAMPLES = 2 * HALF_SAMPLES + 1;
const PLACE_PX = 0.25;
const MOST_PLACES = 6;
const PLACES = 2 * MOST_PLACES + 1;
/** A narrower wall is one edge in the picture, px, halfway between its two. */
const NARROW_PX = 1.25;
const WALL_STEP_PX = 0.25;

/** Where rim and foot of a wall lie best together, px outside a course: each by its own profile, in linear light. */
function shiftsOf(c: Course, scene: Scene): Float64Array {
  const { lights, view, nearMm, farMm, mmPerPx } = scene;
  const pairs = new PairModels(view.blurPx);
  const at = new Float64Array(2 * SAMPLES);
  const profile = new Float64Array(SAMPLES);
  const rests = new Float64Array(PLACES);
  const add = (k: number, heightMm: number, models: readonly Float64Array[][]): void => {
    for (let s = 0; s < SAMPLES; s++) {
      const o = (s - HALF_SAMPLES) * SAMPLE_STEP * mmPerPx;
      at[2 * s] = c.x[k]! + o * c.nx[k]!;
      at[2 * s + 1] = c.y[k]! + o * c.ny[k]!;
    }
    pictureOfMany(view.eye, at, heightMm, at);
    needAlong(lights.luma, at);
    let power = 0;
    for (let s = 0; s < SAMPLES; s++) {
      profile[s] = sample(lights.luma, at[2 * s]!, at[2 * s + 1]!);
      power += profile[s]! ** 2;
    }
    models.forEach((columns, p) => {
      let rest = power;
      for (const column of columns) {
        let dot = 0;
        for (let s = 0; s < SAMPLES; s++) dot += column[s]! * profile[s]!;
        rest -= dot * dot;
      }
      rests[p]! += rest;
    });
  };
  return Float64Array.from(c.x, (_, k) => {
    rests.fill(0);
    const faces = c.shows[k] === FACES;
    const wall = faces ? Math.max(0, c.wallPx[k]!) : 0;
    const narrow = wall < NARROW_PX;
    if (narrow) add(k, faces ? nearMm : farMm, pairs.single());
    else {
      add(k, nearMm, pairs.atFoot(wall));
      add(k, farMm, pairs.atRim(wall));
    }
    let best = 0;
    for (let p = 1; p < PLACES; p++) if (rests[p]! < rests[best]!) best = p;
    let place = (best - MOST_PLACES) * PLACE_PX + (narrow ? wall / 2 : 0);
    const [a, b, d] = [rests[best - 1], rests[best]!, rests[best + 1]];
    if (a !== undefined && d !== undefined && a - 2 * b + d > 0)
      place += ((0.5 * (a - d)) / (a - 2 * b + d)) * PLACE_PX;
    return place;
  });
}

/** Rim and foot of a wall at each place of a scan, as orthonormal columns over a profile across one of them. */
class PairModels {
  private readonly known = new Map<number, readonly Float64Array[][]>();

  constructor(private readonly blurPx: number) {}

  /** One edge alone. */
  single(): readonly Float64Array[][] {
    return this.beside(0);
  }

  /** Across the foot of a wall, its rim farther in. */
  atFoot(wallPx: number): readonly Float64Array[][] {
    return this.beside(-Math.round(wallPx / WALL_STEP_PX));
  }

  /** Across the rim of a wall, its foot farther out. */
  atRim(wallPx: number): readonly Float64Array[][] {
    return this.beside(Math.round(wallPx / WALL_STEP_PX));
  }

  private beside(steps: number): readonly Float64Array[][] {
    const other = steps * WALL_STEP_PX;
    const shows = other !== 0 && Math.abs(other) < HALF_SAMPLES * SAMPLE_STEP + 2;
    const key = shows ? steps : 0;
    let made = this.known.get(key);
    if (!made) {
      made = Array.from({ length: PLACES }, (_, p) => {
        const column = (of: (d: number) => number): Float64Array =>
          Float64Array.from({ length: SAMPLES }, (_, s) =>
            of((s - HALF_SAMPLES) * SAMPLE_STEP - (p - MOST_PLACES) * PLACE_PX),
          );
        const rise = (d: number): { step: number; ramp: number } => risen(d, this.blurPx);
        return orthonormal([
          column(() => 1),
          column((d) => rise(d).step),
          ...(shows
            ? [column((d) => rise(d - other).step)]
            : [column((d) => rise(d).ramp), column((d) => d - rise(d).ramp)]),
        ]);
      });
      this.known.set(key, made);
    }
    return made;
  }
}

/** The ring, those stretches moved along which the measured course shows clearly more of both edges. */
function withMoved(
  ring: readonly RayVertex<'sheet'>[],
  dense: Dense,
  m: Measured,
  scene: Scene,
): RayVertex<'sheet'>[] {
  const { n, signs } = m;
  const corners = new Corners(dense.x, dense.y);
  const own = corners.normals(dense.x, dense.y);
  const away = m.x.map(
    (x, k) => ((x - dense.x[k]!) * m.nx[k]! + (m.y[k]! - dense.y[k]!) * m.ny[k]!) / scene.mmPerPx,
  );
  const shown = (k: number, x: number, y: number, nx: number, ny: number): number =>
    shownAt(x, y, nx, ny, m.shows[k]!, signs.strongest[k]!, scene);
  /** How much more of the edges shows along the measured course than along the ring, over points from one on, of 1. */
  const gainOver = (from: number, count: number): number => {
    let gain = 0;
    for (let s = 0; s < count; s++) {
      const k = (from + s + n) % n;
      gain += shown(k, m.x[k]!, m.y[k]!, m.nx[k]!, m.ny[k]!);
      gain -= shown(k, dense.x[k]!, dense.y[k]!, own.nx[k]!, own.ny[k]!);
    }
    return gain / count;
  };
  const joined = (k: number): boolean => Math.abs(away[k % n]!) < JOINED_PX;
  const stays = (k: number): boolean =>
    Array.from({ length: JOINED_POINTS }, (_, s) => joined(k + s)).every(Boolean);
  const start = away.findIndex((_, k) => stays(k));
  const moved = new Uint8Array(n);
  for (let c = 0; start >= 0 && c < n; c++) {
    const from = start + c;
    if (joined(from)) continue;
    let length = 0;
    let most = 0;
    let walled = 0;
    let unseen = 0;
    for (; c + length < n && !stays(from + length); length++) {
      const k = (from + length) % n;
      most = Math.max(most, Math.abs(away[k]!));
      if (ring[dense.of[k]!]!.hiddenAfter) unseen++;
    }
    for (let s = -BESIDE; s < length + BESIDE; s++) {
      const k = (from + s + n) % n;
      const shows = m.shows[k]!;
      if (shows === COVERED || (shows === FACES && m.wallPx[k]! > ANY_WALL_PX)) walled++;
    }
    c += length;
    if (most < MOVED_PX || walled < LEAST_WALLED) continue;
    const gain = gainOver(from - MARGIN, length + 2 * MARGIN);
    // What no ray reached is no mistake of one edge for the other, unless it is there to be seen.
    if (gain < (unseen > MOST_UNSEEN * length ? CLEARLY_SEEN : LEAST_GAIN)) continue;
    for (let s = 0; s < length; s++) moved[(from + s) % n] = 1;
  }
  dense.of.forEach((v, k) => {
    if (corners.turns[k]! < TIP_RAD) {
      if (!scene.fitted(ring[v]!.from)) return;
      // Nor a corner of the foot alone, where the wall changes its colour.
      if (gainOver(k - TIP_REACH, 2 * TIP_REACH + 1) > CORNER_GAIN) return;
    }
    for (let s = -TIP_REACH; s <= TIP_REACH; s++) moved[(k + s + n) % n] = 0;
  });
  const first = Int32Array.from(ring, (_, v) => dense.of.findIndex((of) => of >= v));
  const out: RayVertex<'sheet'>[] = [];
  ring.forEach((vertex, v) => {
    const from = first[v]! < 0 ? n : first[v]!;
    const next = v + 1 < ring.length && first[v + 1]! >= 0 ? first[v + 1]! : n;
    if (!moved[(from + n - 1) % n] || !moved[from % n]) out.push(vertex);
    for (let k = from; k < next; k++) {
      if (!moved[k]) continue;
      out.push({
        x: m.x[k]!,
        y: m.y[k]!,
        kind: m.shows[k] === FACES ? 'near' : 'far',
        from: vertex.from,
        // Its rim shows, its foot does not.
        hiddenAfter: vertex.hiddenAfter || m.shows[k] === COVERED,
      });
    }
  });
  return out;
}

/** Corners turn by this over some points, kinks within a few, radians; and kinks nearer to each other than so many points are one. */
const BLUNTED_RAD = 0.9;
const KINK_RAD = 0.6;
const KINK_REACH = 3;
const ONE_KINK = 8;
const LONGEST_KINK = 40;
/** A closed gap longer than this is hidden, and no kink, mm. */
const KINK_GAP_MM = 2;
/** Its sides are read from so many points beside it on, over so many, and lie on lines to within this, px. */
const BESIDE_KINK = [5, 9, 14] as const;
const SIDE = 9;
const OFF_SIDE_PX = 0.2;
/** How far beyond what was measured a corner may lie, px. */
const NEAREST_PX = 0.7;
const FARTHEST_PX = 7;
/** Sides that turn by less than this may be one smooth stretch, radians. */
const SMOOTH_RAD = 0.8;
/** Courses are compared in these steps, px. */
const COMPARED_PX = 0.5;

/** Runs of points at which a ring turns sharply or closes a short gap, as first and last point. */
function kinksOf(
  ring: readonly RayVertex<'sheet'>[],
  { x, y, of }: Dense,
  corners: Corners,
): [number, number][] {
  const n = of.length;
  const bent = of.map((v, k) => {
    const [a, b] = [(k + n - KINK_REACH) % n, (k + KINK_REACH) % n];
    const [px, py, qx, qy] = [x[k]! - x[a]!, y[k]! - y[a]!, x[b]! - x[k]!, y[b]! - y[k]!];
    const turn = Math.abs(Math.atan2(px * qy - py * qx, px * qx + py * qy));
    const [from, to] = [ring[v]!, ring[(v + 1) % ring.length]!];
    const gap = from.hiddenAfter && Math.hypot(to.x - from.x, to.y - from.y) < KINK_GAP_MM;
    return gap || turn > KINK_RAD || corners.turns[k]! > 0 ? 1 : 0;
  });
  const clear = (k: number): boolean =>
    Array.from({ length: ONE_KINK }, (_, s) => bent[(k + s) % n]).every((v) => v === 0);
  const start = bent.findIndex((_, k) => clear(k));
  const out: [number, number][] = [];
  for (let c = 0; start >= 0 && c < n; c++) {
    const from = start + c;
    if (!bent[from % n]) continue;
    let to = from;
    while (!clear(to + 1) && to < from + n) to++;
    if (to - from < LONGEST_KINK) out.push([from, to]);
    c = to - start;
  }
  return out;
}

/**
 * Draws kinks anew that a course makes where it rounds a corner off or leaps between the wall's edges: as the corner in which both
 * sides meet, or as a smooth stretch between them, where more of the rim shows along it than along what was measured.
 */
function withoutKinks(ring: readonly RayVertex<'sheet'>[], scene: Scene): RayVertex<'sheet'>[] {
  const { mmPerPx } = scene;
  const dense = densified(ring, mmPerPx);
  const n = dense.of.length;
  const corners = new Corners(dense.x, dense.y, BLUNTED_RAD);
  const own = corners.normals(dense.x, dense.y);
  const at = (k: number): Place => {
    const m = ((k % n) + n) % n;
    return { x: dense.x[m]!, y: dense.y[m]!, nx: own.nx[m]!, ny: own.ny[m]! };
  };
  const range = (from: number, to: number): number[] =>
    Array.from({ length: to - from + 1 }, (_, s) => from + s);
  const drawnAt = new Map<number, readonly Point<'sheet'>[]>();
  const gone = new Set<number>();
  for (const [first, last] of kinksOf(ring, dense, corners)) {
    let best:
      { gain: number; points: readonly Point<'sheet'>[]; from: number; to: number } | undefined;
    for (const beside of BESIDE_KINK) {
      const [from, to] = [first - beside, last + beside];
      const between = range(from, to);
      const vertices = between.map((k) => dense.of[((k % n) + n) % n]!);
      if (vertices.some((v) => scene.fitted(ring[v]!.from) || gone.has(v))) continue;
      const back = lineOf(range(from - SIDE, from).map(at), mmPerPx);
      const forth = lineOf(range(to, to + SIDE).map(at), mmPerPx);
      if (!back || !forth) continue;
      const measured = between.map(at);
      const was = meanShown(measured, scene);
      for (const points of [
        cornerBetween(back, forth, measured, mmPerPx),
        stretchBetween(back, forth, measured),
      ]) {
        if (!points) continue;
        const places = placesAlong([measured[0]!, ...points, measured.at(-1)!], mmPerPx);
        const gain = meanShown(places, scene) - was;
        if (gain < LEAST_GAIN || gain * between.length <= (best?.gain ?? 0)) continue;
        best = { gain: gain * between.length, points, from, to };
      }
    }
    if (!best) continue;
    // What lies between the ends of the sides goes, with or without a dense point of its own.
    const end = dense.of[((best.to % n) + n) % n]!;
    for (let v = dense.of[((best.from % n) + n) % n]!; v !== end;)
      gone.add((v = (v + 1) % ring.length));
    drawnAt.set(end, best.points);
  }
  return ring.flatMap((vertex, v): RayVertex<'sheet'>[] => {
    const drawn = drawnAt.get(v);
    if (drawn) return drawn.map((p) => ({ ...p, kind: 'meeting', from: -1, hiddenAfter: false }));
    return gone.has(v) ? [] : [vertex];
  });
}

/** The corner in which two sides meet, where it lies no farther than it may from what was measured. */
function cornerBetween(
  back: Line,
  forth: Line,
  measured: readonly Place[],
  mmPerPx: number,
): readonly Point<'sheet'>[] | undefined {
  const det = back.tx * forth.ty - back.ty * forth.tx;
  if (Math.abs(det) < 0.3) return undefined;
  const t = ((forth.x - back.x) * forth.ty - (forth.y - back.y) * forth.tx) / det;
  const met = { x: back.x + t * back.tx, y: back.y + t * back.ty };
  const beyond = Math.min(...measured.map((p) => Math.hypot(met.x - p.x, met.y - p.y) / mmPerPx));
  return beyond < NEAREST_PX || beyond > FARTHEST_PX ? undefined : [met];
}

/** A smooth stretch (a cubic in Hermite's form) from the end of one side to the start of the other. */
function stretchBetween(
  back: Line,
  forth: Line,
  measured: readonly Place[],
): readonly Point<'sheet'>[] | undefined {
  const onto = ({ x, y, tx, ty }: Line, p: Place): Point<'sheet'> => {
    const t = (p.x - x) * tx + (p.y - y) * ty;
    return { x: x + t * tx, y: y + t * ty };
  };
  const [a, b] = [onto(back, measured[0]!), onto(forth, measured.at(-1)!)];
  const length = Math.hypot(b.x - a.x, b.y - a.y);
  const along = ({ tx, ty }: Line): [number, number] => [length * tx, length * ty];
  const [[px, py], [qx, qy]] = [along(back), along(forth)];
  if (Math.abs(Math.atan2(px * qy - py * qx, px * qx + py * qy)) > SMOOTH_RAD) return undefined;
  const steps = measured.length;
  return Array.from({ length: steps - 1 }, (_, s) => {
    const t = (s + 1) / steps;
    const [c, d] = [t * (1 - t) ** 2, -t * t * (1 - t)];
    const e = t * t * (3 - 2 * t);
    return {
      x: (1 - e) * a.x + e * b.x + c * px + d * qx,
      y: (1 - e) * a.y + e * b.y + c * py + d * qy,
    };
  });
}

/** Places along a course and their normals. */
function placesAlong(points: readonly Point<'sheet'>[], mmPerPx: number): Place[] {
  const out: Place[] = [];
  points.slice(1).forEach((q, k) => {
    const p = points[k]!;
    const length = Math.hypot(q.x - p.x, q.y - p.y);
    if (length === 0) return;
    const [ux, uy] = [(q.x - p.x) / length, (q.y - p.y) / length];
    const count = Math.max(1, Math.round(length / (COMPARED_PX * mmPerPx)));
    for (let s = 0; s < count; s++) {
      const t = ((s + 0.5) / count) * length;
      out.push({ x: p.x + t * ux, y: p.y + t * uy, nx: uy, ny: -ux });
    }
  });
  return out;
}

/** A place of an outline and its normal. */
interface Place {
  readonly x: number;
  readonly y: number;
  readonly nx: number;
  readonly ny: number;
}

/** The line through places; undefined where they do not lie on one. */
function lineOf(places: readonly Place[], mmPerPx: number): Line | undefined {
  const line = lineThrough(places);
  return strayOf(line, places) < OFF_SIDE_PX * mmPerPx ? line : undefined;
}

/** How much of the rim shows along places, 0 to 1. Beside a kink the foot is another side's as often as not. */
function meanShown(places: readonly Place[], scene: Scene): number {
  const sum = places.reduce(
    (total, { x, y, nx, ny }) => total + shownAt(x, y, nx, ny, COVERED, STRONG, scene),
    0,
  );
  return sum / Math.max(1, places.length);
}

/** A strong step of the root of light, squared. */
const STRONG = 0.1;

/** How much of rim and foot shows at a place of an outline, 0 to 1. */
function shownAt(
  x: number,
  y: number,
  nx: number,
  ny: number,
  shows: number,
  strongest: number,
  { lights, view, nearMm, farMm, mmPerPx, sheetHue }: Scene,
): number {
  const offsets = [-HALF_STEP_PX, HALF_STEP_PX, HUE_OFF_PX + HALF_STEP_PX];
  const step = (heightMm: number, bySheet: boolean): number => {
    const at = Float64Array.from(
      offsets.flatMap((o) => [x + o * mmPerPx * nx, y + o * mmPerPx * ny]),
    );
    pictureOfMany(view.eye, at, heightMm, at);
    let sum = 0;
    for (const plane of [lights.luma, lights.up, lights.down]) {
      needAlong(plane, at);
      const [a, b] = [0, 1].map((k) => Math.max(0, roughly(plane, at[2 * k]!, at[2 * k + 1]!))) as [
        number,
        number,
      ];
      sum += (Math.sqrt(b) - Math.sqrt(a)) ** 2;
    }
    const share = Math.min(1, Math.sqrt(sum / strongest));
    if (!bySheet || !sheetHue) return share;
    sheetHue.planes.forEach((plane) => needAlong(plane, at));
    return share * likeSheet(sheetHue.at(at[4]!, at[5]!));
  };
  const rim = step(farMm, shows === AWAY);
  return shows === FACES ? 0.5 * (rim + step(nearMm, true)) : rim;
}
