import { Matrix, solve } from 'ml-matrix';
import type { Edge } from './edge.ts';
import type { SheetHue } from './hue.ts';
import type { Lights, LinearPlane } from './linear.ts';
import { orthonormal, risen, sample, SAMPLE_STEP } from './profile.ts';

/**
 * Where a wall faces the camera the picture shows two edges, face | wall and wall | sheet, and only the second is the
 * silhouette's. How far apart they lie is known from the thickness; how bright the wall is, is not: it is sought, as a share
 * of the face's light. A wall gets no more light than the face above it.
 */
const TONES = [0.15, 0.3, 0.5, 0.7, 0.85, 1] as const;
/** Narrower walls need no looking at; a wider one's two edges are not in one profile, px. */
const LEAST_WALL_PX = 0.25;
export const MOST_WALL_PX = 8;
const WALL_STEP_PX = 0.25;
const PLACE_STEP_PX = 0.25;
/** Room beyond the outermost edge that a profile takes in, and its ends' length where the levels are read, px. */
const BEYOND_PX = 4.5;
const END_PX = 1.5;
/** One tone is sought for this many points each way, as far as they face the same way (cosine). */
const TONE_REACH = 50;
const SAME_WAY = 0.94;
/** Points each way over which the foot is smoothed. */
const MEAN_REACH = 9;
/** A parabola needs so many on either side. */
const BOTH_SIDES = 4;
/** A foot farther from its neighbours' parabola than this is another edge, px. */
const ASTRAY_PX = 0.8;
/** Neighbours stand a pixel apart; across a longer gap the edge may run anywhere. */
const GAP_PX = 3;
/** So many samples, half a pixel apart on profiles a pixel apart, stand for one independent one. */
const DEPENDENT = 12;

/** Blurred steps and ramps at multiples of PLACE_STEP_PX, from -`most` of them on. */
function risenUpTo(most: number, blurPx: number): { step: Float64Array; ramp: Float64Array } {
  const all = Array.from({ length: 2 * most + 1 }, (_, k) =>
    risen((k - most) * PLACE_STEP_PX, blurPx),
  );
  return {
    step: Float64Array.from(all, (v) => v.step),
    ramp: Float64Array.from(all, (v) => v.ramp),
  };
}

/** Two edges a wall apart, the outer one at each of several places: columns over the samples of a profile. */
interface Pairs {
  readonly half: number;
  readonly samples: number;
  readonly at: readonly {
    readonly placePx: number;
    /** Orthonormal: a level, a ramp on the sheet, a ramp on the face. */
    readonly base: readonly Float64Array[];
    /** The steps at the foot and at the face, without what the base explains. */
    readonly foot: Float64Array;
    readonly face: Float64Array;
    readonly footFoot: number;
    readonly footFace: number;
    readonly faceFace: number;
  }[];
}

const dot = (a: Float64Array, b: Float64Array): number => {
  let sum = 0;
  for (let k = 0; k < a.length; k++) sum += a[k]! * b[k]!;
  return sum;
};

function pairsOf(wallPx: number, blurPx: number): Pairs {
  const each = Math.round((wallPx + BEYOND_PX) / SAMPLE_STEP);
  const half = each * SAMPLE_STEP;
  const samples = 2 * each + 1;
  const count = Math.round((wallPx + 2) / PLACE_STEP_PX) + 1;
  // Samples, places and walls all lie on multiples of the place's step.
  const perSample = SAMPLE_STEP / PLACE_STEP_PX;
  const wall = Math.round(wallPx / PLACE_STEP_PX);
  const most = each * perSample + wall + count;
  const known = risenUpTo(most, blurPx);
  const at = Array.from({ length: count }, (_, p) => {
    const placePx = -1 + p * PLACE_STEP_PX;
    const first = most - each * perSample - Math.round(placePx / PLACE_STEP_PX);
    const column = (of: Float64Array, from: number): Float64Array => {
      const out = new Float64Array(samples);
      for (let k = 0; k < samples; k++) out[k] = of[from + k * perSample]!;
      return out;
    };
    const faceRamp = column(known.ramp, first + wall);
    for (let k = 0; k < samples; k++) faceRamp[k]! -= -half + k * SAMPLE_STEP - placePx + wallPx;
    const base = orthonormal([
      new Float64Array(samples).fill(1),
      column(known.ramp, first),
      faceRamp,
    ]);
    const beyond = (column: Float64Array): Float64Array => {
      for (const b of base) {
        const share = dot(b, column);
        for (let k = 0; k < samples; k++) column[k]! -= share * b[k]!;
      }
      return column;
    };
    const foot = beyond(column(known.step, first));
    const face = beyond(column(known.step, first + wall));
    return {
      placePx,
      base,
      foot,
      face,
      footFoot: dot(foot, foot),
      footFace: dot(foot, face),
      faceFace: dot(face, face),
    };
  });
  return { half, samples, at };
}

/**
 * Moves the points of an edge at which a wall faces the camera onto the wall's foot.
 *
 * @param wallPx width of the visible wall at each point, along the normal; none where it is 0 or less
 * @param sheetHue of the lit stage
 * @returns the edge, its `footU` told where a wall was looked for
 */
export function onFeet(
  lights: Lights,
  edge: Edge,
  wallPx: Float64Array,
  blurPx: number,
  sheetHue: SheetHue | undefined,
): Edge {
  const { luma } = lights;
  const n = edge.count;
  const settled = sheetHue && atHue(edge, sheetHue);
  const inSight = Array.from(
    wallPx,
    (w, k) => w >= LEAST_WALL_PX && !(settled?.[k] && w > SETTLED_WALL_PX),
  );
  // Towards a corner the normals turn: a wall too wide to be looked at is not looked at there either.
  const tooWide = (k: number): boolean =>
    [-1, 1].some((way) => {
      for (let s = 0; s <= MEAN_REACH; s++) {
        const m = (k + way * s + n) % n;
        if (edge.corner[m]) return false;
        if (wallPx[m]! > MOST_WALL_PX) return true;
      }
      return false;
    });
  const shows = inSight.map((yes, k) => yes && !tooWide(k));
  // Where another edge is near, the wall is as it is farther on.
  const seen = Uint8Array.from(shows, (yes, k) =>
    yes && (edge.room[k] === 0 || edge.room[k]! > wallPx[k]! + BEYOND_PX) ? 1 : 0,
  );
  if (!seen.includes(1)) return edge;
  const T = TONES.length;
  const rest = new Float64Array(n * T);
  const place = new Float64Array(n * T);
  const samplesOf = new Float64Array(n);
  const known = new Map<number, Pairs>();
  for (let k = 0; k < n; k++) {
    if (!seen[k]) continue;
    const wall = Math.max(1, Math.round(wallPx[k]! / WALL_STEP_PX));
    let pairs = known.get(wall);
    if (!pairs) known.set(wall, (pairs = pairsOf(wall * WALL_STEP_PX, blurPx)));
    samplesOf[k] = pairs.samples;
    const profile = profileOf(luma, edge, k, pairs);
    footsOf(pairs, profile, rest.subarray(k * T, k * T + T), place.subarray(k * T, k * T + T));
  }
  const alike = (a: number, b: number): boolean =>
    seen[b] === 1 &&
    edge.corner[b] === 0 &&
    edge.nx[a]! * edge.nx[b]! + edge.ny[a]! * edge.ny[b]! > SAME_WAY;
  const moved = new Float64Array(n);
  const footU = new Float64Array(n);
  const usual = usualTones(edge, seen, wallPx, rest, samplesOf);
  for (let k = 0; k < n; k++) {
    if (!seen[k]) continue;
    const sums = new Float64Array(T);
    let count = 0;
    for (let s = -TONE_REACH; s <= TONE_REACH; s++) {
      const m = (k + s + n) % n;
      if (!alike(k, m)) continue;
      for (let t = 0; t < T; t++) sums[t]! += rest[m * T + t]!;
      count += samplesOf[m]!;
    }
    const prior = usual(k);
    if (prior) {
      for (let t = 0; t < T; t++) sums[t]! += USUAL_SAMPLES * prior[t]!;
      count += USUAL_SAMPLES;
    }
    // The foot's place by every tone, weighed by how likely the tone is.
    const least = Math.min(...sums);
    const variance = (DEPENDENT * least) / Math.max(1, count);
    let [total, mean, square] = [0, 0, 0];
    for (let t = 0; t < T; t++) {
      const likely = Math.exp((least - sums[t]!) / (2 * variance));
      const at = place[k * T + t]!;
      total += likely;
      mean += likely * at;
      square += likely * at * at;
    }
    moved[k] = mean / total;
    footU[k] = Math.sqrt(Math.max(0, square / total - moved[k]! ** 2));
  }
  /** Where a parabola through the feet about a point crosses its normal: the contour itself may change from rim to foot there. */
  const steady = (k: number): number => {
    const [nx, ny] = [edge.nx[k]!, edge.ny[k]!];
    const near: (readonly [along: number, off: number])[] = [[0, moved[k]!]];
    const [back, forth] = [-1, 1].map((way) => {
      let s = 1;
      for (; s <= MEAN_REACH; s++) {
        const m = (k + way * s + n) % n;
        const before = (m - way + n) % n;
        const gap = Math.hypot(edge.x[m]! - edge.x[before]!, edge.y[m]! - edge.y[before]!);
        if (!alike(k, m) || gap > GAP_PX) break;
        const dx = edge.x[m]! + moved[m]! * edge.nx[m]! - edge.x[k]!;
        const dy = edge.y[m]! + moved[m]! * edge.ny[m]! - edge.y[k]!;
        near.push([dy * nx - dx * ny, dx * nx + dy * ny]);
      }
      return s - 1;
    }) as [number, number];
    if (Math.min(back, forth) >= BOTH_SIDES) return parabolaAt(near);
    // A parabola that has points on one side only swings.
    let sum = 0;
    for (let s = -back; s <= forth; s++) sum += moved[(k + s + n) % n]!;
    return sum / (1 + back + forth);
  };
  const shift = Float64Array.from(moved, (_, k) => (seen[k] ? steady(k) : 0));
  shows.forEach((yes, k) => {
    if (!yes || seen[k]) return;
    for (let s = 1; s < TONE_REACH; s++) {
      const m = [(k + s) % n, (k - s + n) % n].find((q) => alike(k, q));
      if (m === undefined) continue;
      shift[k] = shift[m]!;
      footU[k] = footU[m]!;
      break;
    }
  });
  const x = Float64Array.from(edge.x);
  const y = Float64Array.from(edge.y);
  for (let k = 0; k < n; k++) {
    if (!edge.corner[k]) {
      x[k]! += shift[k]! * edge.nx[k]!;
      y[k]! += shift[k]! * edge.ny[k]!;
      continue;
    }
    // A corner goes where its two sides go.
    const [a, b] = [(k + n - 1) % n, (k + 1) % n];
    const [da, db] = [shift[a]!, shift[b]!];
    const det = edge.nx[a]! * edge.ny[b]! - edge.ny[a]! * edge.nx[b]!;
    if (Math.abs(det) < 0.2) continue;
    x[k]! += (da * edge.ny[b]! - db * edge.ny[a]!) / det;
    y[k]! += (db * edge.nx[a]! - da * edge.nx[b]!) / det;
    footU[k] = Math.max(footU[a]!, footU[b]!);
  }
  return { ...edge, x, y, footU };
}

/** Walls wider than this show a colour of their own where the sheet is looked for, px. */
const SETTLED_WALL_PX = 5.5;
/** Colours are compared so far inside and outside the edge, px: cameras keep them coarsely. */
const INNER_PX = 3;
const OUTER_PX = 4;
/** Smoothed along the edge by so many points each way, and what most of so many say. */
const HUE_REACH = 4;
const VERDICT_REACH = 16;
/** Beyond this it is not the sheet's; within so much of the inner side's it is. */
const OTHER_HUE = 0.35;
const SHEETS_SHARE = 0.25;

/** 1 where the colour turns to the sheet's at the edge itself: the foot, whatever lies farther in. */
function atHue(edge: Edge, sheetHue: SheetHue): Uint8Array {
  const n = edge.count;
  const at = (k: number, d: number): number => {
    const [x, y] = [edge.x[k]! + d * edge.nx[k]!, edge.y[k]! + d * edge.ny[k]!];
    for (const plane of sheetHue.planes) plane.need(x - 2, y - 2, x + 2, y + 2);
    return sheetHue.at(x, y);
  };
  const [inner, outer] = [-INNER_PX, OUTER_PX].map((d) =>
    Float64Array.from({ length: n }, (_, k) => at(k, d)),
  ) as [Float64Array, Float64Array];
  const mean = (values: ArrayLike<number>, k: number, reach: number): number => {
    let sum = 0;
    for (let s = -reach; s <= reach; s++) sum += values[(k + s + n) % n]!;
    return sum / (2 * reach + 1);
  };
  const turns = Uint8Array.from(inner, (_, k) => {
    const own = mean(inner, k, HUE_REACH);
    return own > OTHER_HUE && mean(outer, k, HUE_REACH) < SHEETS_SHARE * own ? 1 : 0;
  });
  return turns.map((_, k) => (mean(turns, k, VERDICT_REACH) > 0.5 ? 1 : 0));
}

/** Height at 0 of the parabola through (along, off), those far off it left out (Tukey's biweight); never beyond them all. */
function parabolaAt(points: readonly (readonly [along: number, off: number])[]): number {
  const offs = points.map(([, off]) => off).sort((a, b) => a - b);
  let [c, b, a] = [offs[offs.length >> 1]!, 0, 0];
  for (let round = 0; round < 4; round++) {
    const normal = Matrix.zeros(3, 3);
    const right = Matrix.zeros(3, 1);
    for (const [t, off] of points) {
      const left = (off - (c + b * t + a * t * t)) / (round === 0 ? 4 * ASTRAY_PX : ASTRAY_PX);
      if (Math.abs(left) >= 1) continue;
      const weight = (1 - left * left) ** 2;
      const row = [1, t, t * t];
      for (let i = 0; i < 3; i++) {
        right.set(i, 0, right.get(i, 0) + weight * row[i]! * off);
        for (let j = 0; j < 3; j++) normal.set(i, j, normal.get(i, j) + weight * row[i]! * row[j]!);
      }
    }
    for (let i = 0; i < 3; i++) normal.set(i, i, normal.get(i, i) + 1e-6);
    const fit = solve(normal, right);
    [c, b, a] = [fit.get(0, 0), fit.get(1, 0), fit.get(2, 0)];
  }
  return Math.max(offs[0]!, Math.min(offs.at(-1)!, c));
}

/** Walls at least this wide tell their tone, px. */
const TELLING_PX = 3;
/** The walls of a blank that face one way are about equally light: that weighs as much as so many samples of the place itself. */
const USUAL_SAMPLES = 600;
/** Directions told apart, and how far one speaks for its neighbours. */
const DIRECTIONS = 48;
const NEAR_DIRECTIONS = 4;

/** Per point the squared residual a sample has by every tone, over all wide walls that face about the same way; undefined where there are none. */
function usualTones(
  edge: Edge,
  seen: Uint8Array,
  wallPx: Float64Array,
  rest: Float64Array,
  samplesOf: Float64Array,
): (k: number) => Float64Array | undefined {
  const T = TONES.length;
  const direction = (k: number): number =>
    Math.floor(((Math.atan2(edge.ny[k]!, edge.nx[k]!) / (2 * Math.PI) + 1) % 1) * DIRECTIONS);
  const sums = new Float64Array(DIRECTIONS * T);
  const counts = new Float64Array(DIRECTIONS);
  for (let k = 0; k < edge.count; k++) {
    if (!seen[k] || edge.corner[k] || wallPx[k]! < TELLING_PX) continue;
    const d = direction(k);
    for (let t = 0; t < T; t++) sums[d * T + t]! += rest[k * T + t]!;
    counts[d]! += samplesOf[k]!;
  }
  return (k) => {
    const out = new Float64Array(T);
    let count = 0;
    for (let s = -NEAR_DIRECTIONS; s <= NEAR_DIRECTIONS; s++) {
      const d = (direction(k) + s + DIRECTIONS) % DIRECTIONS;
      const weight = Math.exp(-2 * (s / NEAR_DIRECTIONS) ** 2);
      for (let t = 0; t < T; t++) out[t]! += weight * sums[d * T + t]!;
      count += weight * counts[d]!;
    }
    return count > USUAL_SAMPLES / 4 ? out.map((v) => v / count) : undefined;
  };
}

function profileOf(luma: LinearPlane, edge: Edge, k: number, pairs: Pairs): Float64Array {
  const [x, y, room] = [edge.x[k]!, edge.y[k]!, pairs.half + 3];
  luma.need(x - room, y - room, x + room, y + room);
  return Float64Array.from({ length: pairs.samples }, (_, s) => {
    const d = -pairs.half + s * SAMPLE_STEP;
    return sample(luma, x + d * edge.nx[k]!, y + d * edge.ny[k]!);
  });
}

/** For each tone of the wall the best place of its foot, px, and the squared residual there. */
function footsOf(
  pairs: Pairs,
  profile: Float64Array,
  rests: Float64Array,
  places: Float64Array,
): void {
  const ends = Math.round(END_PX / SAMPLE_STEP);
  let [face, sheet] = [0, 0];
  for (let k = 0; k < ends; k++) {
    face += profile[k]! / ends;
    sheet += profile[profile.length - 1 - k]! / ends;
  }
  const power = dot(profile, profile);
  const seen = pairs.at.map(({ base, foot, face }) => {
    let plain = power;
    for (const b of base) plain -= dot(b, profile) ** 2;
    return { plain, foot: dot(foot, profile), face: dot(face, profile) };
  });
  const curve = new Float64Array(seen.length);
  TONES.forEach((tone, t) => {
    const atFoot = sheet - tone * face;
    const atFace = tone * face - face;
    let best = 0;
    seen.forEach((v, p) => {
      const { footFoot, footFace, faceFace } = pairs.at[p]!;
      const size = atFoot ** 2 * footFoot + 2 * atFoot * atFace * footFace + atFace ** 2 * faceFace;
      curve[p] = v.plain - (atFoot * v.foot + atFace * v.face) ** 2 / Math.max(1e-12, size);
      if (curve[p]! < curve[best]!) best = p;
    });
    rests[t] = curve[best]!;
    places[t] = pairs.at[best]!.placePx;
    if (best === 0 || best === seen.length - 1) return;
    const [a, b, c] = [curve[best - 1]!, curve[best]!, curve[best + 1]!];
    const bend = a - 2 * b + c;
    if (bend <= 0) return;
    const shift = (0.5 * (a - c)) / bend;
    places[t]! += shift * PLACE_STEP_PX;
    rests[t]! -= 0.25 * (a - c) * shift;
  });
}
