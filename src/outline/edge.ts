import { coloursApart } from './apart.ts';
import { bridgesOf } from './bridge.ts';
import { cornersOf, gapOf, roomsOf, type Corner } from './corners.ts';
import type { SheetHue } from './hue.ts';
import { intoTips } from './level-line.ts';
import type { Lights, LinearPlane } from './linear.ts';
import { coverOf, sidesAlong, unmixed, type Sides } from './mixture.ts';
import { acrossPrint, PRINT_OFF_PX, toPrint, type InkAt, type Stretch } from './print.ts';
import {
  COLOUR_BLUR_PX,
  ModelSet,
  place,
  roughly,
  sample,
  SAMPLE_STEP,
  type Models,
} from './profile.ts';

/** The edge of a blank as measured in the picture, one closed contour, about a pixel apart. */
export interface Edge {
  readonly count: number;
  /** Picture px. */
  readonly x: Float64Array;
  readonly y: Float64Array;
  /** Unit normal, away from the blank's material. */
  readonly nx: Float64Array;
  readonly ny: Float64Array;
  /** Scatter of single points about their neighbours, px. */
  readonly sigma: Float64Array;
  /** Step of brightness at the edge over the brighter side, 0 to 1. */
  readonly contrast: Float64Array;
  /** 1 where the two sides were modelled as ramps (shadow or rounding beside the edge). */
  readonly ramp: Uint8Array;
  /** Linear light (0 to 1) next to the edge inside and outside. */
  readonly inside: Float64Array;
  readonly outside: Float64Array;
  /** 1 where the fit is poor or another step competes. */
  readonly poor: Uint8Array;
  /** 1 where the blank's print changes at the edge. */
  readonly printed: Uint8Array;
  /** 1 where the edge was placed in a colour that the picture keeps more coarsely than brightness. */
  readonly byColour: Uint8Array;
  /** 1 where pixels near the edge are at the sensor's end. */
  readonly clipped: Uint8Array;
  /** 1 at a corner: a point where two stretches of edge meet, found by their intersection; FITTED_CORNER where it was fitted to the picture. */
  readonly corner: Uint8Array;
  /** Distance of the other side of a point or cleft along the normal, px; 0 where none is near. */
  readonly room: Float64Array;
  /** Standard uncertainty of the foot of a wall that faces the camera, px; 0 where none was looked for. */
  readonly footU: Float64Array;
  /** How far apart the picture's colours place the edge, px. */
  readonly apart: Float64Array;
}

export const FITTED_CORNER = 2;

/** From this hue on (see `SheetHue`) a blank has a colour of its own. */
export const OWN_HUE = 0.4;
/** Its print may have less of it: more than this is not asked for. */
const MOST_OWN = 0.25;
const FORBIDDEN = -100;
/** Another edge nearer than this is one step with the edge, px: then the edge stays where it was expected. */
export const UNRESOLVED_PX = 2;
/** Share of the way to another edge within which the edge itself is looked for. */
const OWN_SIDE = 0.4;

/** How far outward of an edge that is expected at x another one runs beside it, px along the normal; 0 where none does. */
export type Beside = (x: number, nx: number) => number;

/** The last way is sought so far to each side, px. */
const NEAR_PX = 3.5;
/** Before it, ways are sought anew while one runs for so long, px, where the step is less than this share of what it mostly is; so many times at most. */
const ASTRAY_RUN_PX = 8;
const ASTRAY_STEP = 0.35;
const MOST_TURNS = 6;

/** So far inside a silhouette its edge may lie, px; what every pixel more costs, in strongest steps. */
const COARSE_PX = 4;
const WITHIN_COST = 0.12;

/** How far the edge may lie from where it is expected, px. */
const ownSide = (otherPx: number): number =>
  otherPx <= 0 ? Infinity : otherPx < UNRESOLVED_PX ? 0 : OWN_SIDE * otherPx;

interface Way {
  readonly ring: Float64Array;
  /** The longest stretch of it where hardly anything steps. */
  readonly astrayPx: number;
}

const medianOf = (values: Float64Array): number => values.slice().sort()[values.length >> 1]!;

/** Length of the longest run below a limit, around a closed row. */
function longestBelow(values: Float64Array, limit: number): number {
  const n = values.length;
  let [run, longest] = [0, 0];
  for (let k = 0; k < 2 * n && longest < n; k++) {
    run = values[k % n]! < limit ? run + 1 : 0;
    longest = Math.max(longest, run);
  }
  return longest;
}

/**
 * Follows the strongest step near a start contour; returns the contour moved onto it, `spacing` px apart.
 * Steps of brightness and of colour count alike, each in the square root of linear light, where noise is even.
 */
function follow(
  lights: Lights,
  start: Float64Array,
  reach: number,
  spacing: number,
  sheetHue: SheetHue | undefined,
  inkAt: InkAt | undefined,
  beside: Beside | undefined,
): Way {
  const ring = resample(start, spacing);
  const count = ring.length >> 1;
  const normals = normalsOf(ring, Math.max(2, Math.round(6 / spacing)));
  const STEP = 0.5;
  const width = 2 * Math.round(reach / STEP) + 1;
  const strength = new Float32Array(count * width);
  const seen = new Float32Array(count * width);
  const line = new Float64Array(width + 4);
  const planes = [lights.luma, lights.up, lights.down];
  const off = new Float64Array(width + 4);
  for (let n = 0; n < count; n++) {
    const x = ring[2 * n]!;
    const y = ring[2 * n + 1]!;
    const ux = normals[2 * n]!;
    const uy = normals[2 * n + 1]!;
    for (const light of planes) {
      light.need(x - reach - 5, y - reach - 5, x + reach + 5, y + reach + 5);
      for (let k = 0; k < width + 4; k++) {
        const d = -reach + (k - 2) * STEP;
        line[k] = Math.sqrt(Math.max(0, roughly(light, x + d * ux, y + d * uy)));
      }
      for (let k = 0; k < width; k++) strength[n * width + k]! += (line[k + 4]! - line[k]!) ** 2;
    }
    let most = 1e-4;
    for (let k = 0; k < width; k++) {
      seen[n * width + k] = Math.sqrt(strength[n * width + k]!);
      most = Math.max(most, strength[n * width + k]!);
    }
    // Two pixels outside the edge it must be sheet again by its colour; beside print within the blank it is not. Two pixels
    // inside it must not be sheet, where the blank has a colour of its own: print of the sheet beside the blank is.
    if (sheetHue) {
      for (const plane of sheetHue.planes)
        plane.need(x - reach - 5, y - reach - 5, x + reach + 5, y + reach + 5);
      for (let k = 0; k < width + 4; k++) {
        const d = -reach + (k - 2) * STEP;
        off[k] = sheetHue.at(x + d * ux, y + d * uy);
      }
    }
    const own = off[0]!;
    for (let k = 0; k < width; k++) {
      let value = Math.sqrt(strength[n * width + k]! / most);
      if (sheetHue) {
        const beyond = off[Math.min(width + 3, k + 6)]!;
        const within = own > OWN_HUE ? off[Math.max(0, k - 2)]! : Infinity;
        value -= Math.min(0.9, Math.max(0, 2 * (beyond - 0.2)));
        value -= Math.min(0.9, Math.max(0, 2 * (Math.min(own / 2, MOST_OWN) - within)));
      }
      // Nor is it where the sheet's own print ends.
      if (inkAt) {
        const d = -reach + k * STEP;
        const inner = inkAt(x + (d - PRINT_OFF_PX) * ux, y + (d - PRINT_OFF_PX) * uy);
        if (inner !== inkAt(x + (d + PRINT_OFF_PX) * ux, y + (d + PRINT_OFF_PX) * uy)) value -= 0.6;
      }
      // The silhouette is known to a coarse pixel: farther within, print has edges.
      const inner = reach - k * STEP - COARSE_PX;
      strength[n * width + k] = value - Math.max(0, WITHIN_COST * inner);
    }
    const allowed = beside ? ownSide(beside(x, ux)) : Infinity;
    for (let k = 0; k < width && allowed < reach; k++)
      if (Math.abs(-reach + k * STEP) > allowed) strength[n * width + k] = FORBIDDEN;
  }
  const offsets = smoothestPath(strength, count, width);
  const out = new Float64Array(2 * count);
  const steps = Float64Array.from(offsets, (k, n) => seen[n * width + k]!);
  for (let n = 0; n < count; n++) {
    const d = -reach + offsets[n]! * STEP;
    out[2 * n] = ring[2 * n]! + d * normals[2 * n]!;
    out[2 * n + 1] = ring[2 * n + 1]! + d * normals[2 * n + 1]!;
  }
  return { ring: out, astrayPx: spacing * longestBelow(steps, ASTRAY_STEP * medianOf(steps)) };
}

/** Closed path of greatest strength that moves by at most two places per sample (dynamic programming, two turns). */
export function smoothestPath(strength: Float32Array, count: number, width: number): Int32Array {
  const BEND = 0.08;
  const turns = 2 * count;
  const from = new Int8Array(turns * width);
  let cost = new Float32Array(width);
  let next = new Float32Array(width);
  for (let t = 0; t < turns; t++) {
    const row = (t % count) * width;
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
      next[k] = best + 1 - strength[row + k]!;
      from[t * width + k] = move;
    }
    [cost, next] = [next, cost];
  }
  let k = 0;
  for (let j = 1; j < width; j++) if (cost[j]! < cost[k]!) k = j;
  const path = new Int32Array(count);
  for (let t = turns - 1; t >= 0; t--) {
    // The middle of the two turns is free of both ends.
    if (t >= count >> 1 && t < (count >> 1) + count) path[t % count] = k;
    k += from[t * width + k]!;
  }
  return path;
}

/** A closed polyline (x, y interleaved) as points at equal distances, close to `spacing`. */
export function resample(ring: Float64Array, spacing: number): Float64Array {
  const n = ring.length >> 1;
  const along = new Float64Array(n + 1);
  for (let k = 0; k < n; k++) {
    const m = (k + 1) % n;
    along[k + 1] =
      along[k]! + Math.hypot(ring[2 * m]! - ring[2 * k]!, ring[2 * m + 1]! - ring[2 * k + 1]!);
  }
  const count = Math.max(8, Math.round(along[n]! / spacing));
  const out = new Float64Array(2 * count);
  let k = 0;
  for (let c = 0; c < count; c++) {
    const s = (along[n]! * c) / count;
    while (k < n - 1 && along[k + 1]! < s) k++;
    const m = (k + 1) % n;
    const length = along[k + 1]! - along[k]!;
    const f = length > 0 ? (s - along[k]!) / length : 0;
    out[2 * c] = ring[2 * k]! + f * (ring[2 * m]! - ring[2 * k]!);
    out[2 * c + 1] = ring[2 * k + 1]! + f * (ring[2 * m + 1]! - ring[2 * k + 1]!);
  }
  return out;
}

/** Unit normals of a closed polyline from chords over `span` points each way; to the right of the way along it. */
function normalsOf(ring: Float64Array, span: number): Float64Array {
  const n = ring.length >> 1;
  const out = new Float64Array(2 * n);
  const reach = Math.min(span, (n - 1) >> 1);
  for (let k = 0; k < n; k++) {
    let dx = 0;
    let dy = 0;
    for (let s = 1; s <= reach; s++) {
      const a = 2 * ((k + s) % n);
      const b = 2 * ((k - s + n) % n);
      dx += s * (ring[a]! - ring[b]!);
      dy += s * (ring[a + 1]! - ring[b + 1]!);
    }
    const length = Math.hypot(dx, dy) || 1;
    out[2 * k] = -dy / length;
    out[2 * k + 1] = dx / length;
  }
  return out;
}

/** Twice the signed area of a closed polyline. */
function turnOf(ring: Float64Array): number {
  let sum = 0;
  const n = ring.length >> 1;
  for (let k = 0; k < n; k++) {
    const m = (k + 1) % n;
    sum += ring[2 * k]! * ring[2 * m + 1]! - ring[2 * m]! * ring[2 * k + 1]!;
  }
  return sum;
}

/**
 * Places the edge to a small part of a pixel near a start contour.
 *
 * @param start closed contour (picture px, x and y interleaved) within `reach` px of the edge
 * @param hole the contour is a hole: the material lies outside it
 * @param blurPx standard deviation of the picture's blur
 * @param sheetHue of the lit stage; undefined where the edge does not border on it
 * @param inkAt where the bare sheet would show print beside the blank; left out where it lies on the stage alone
 */
export function measureEdge(
  lights: Lights,
  start: Float64Array,
  hole: boolean,
  blurPx: number,
  reach: number,
  sheetHue: SheetHue | undefined,
  inkAt?: InkAt,
  beside?: Beside,
): Edge | undefined {
  const measure = (from: Float64Array): Edge | undefined =>
    measureFrom(lights, from, hole, blurPx, reach, sheetHue, inkAt, beside);
  const edge = measure(start);
  const bridged = edge && withoutLost(edge);
  return bridged ? (measure(bridged) ?? edge) : edge;
}

/** Where the step is smaller the contour has run off the edge, if it is larger than the other beside the stretch. */
const LOST_CONTRAST = 0.06;
const KEPT_CONTRAST = 0.25;
/** Stretches to bridge, points; so many more go with them on either side. */
const LOST_POINTS = [4, 60] as const;
const LOST_MARGIN = 4;

/** The contour bridged where it ran off a clear edge into nothing and back; undefined where it did nowhere. */
function withoutLost({ count: n, x, y, contrast, poor }: Edge): Float64Array | undefined {
  const none = (k: number): boolean => poor[k]! > 0 && contrast[k]! < LOST_CONTRAST;
  const clear = (k: number): boolean => contrast[((k % n) + n) % n]! > KEPT_CONTRAST;
  const lost = new Uint8Array(n);
  for (let from = 0; from < n; from++) {
    if (!none(from) || none((from + n - 1) % n)) continue;
    let length = 1;
    while (length < n && none((from + length) % n)) length++;
    if (length < LOST_POINTS[0] || length > LOST_POINTS[1]) continue;
    if (!clear(from - LOST_MARGIN - 1) || !clear(from + length + LOST_MARGIN)) continue;
    for (let k = -LOST_MARGIN; k < length + LOST_MARGIN; k++) lost[(from + k + n) % n] = 1;
  }
  if (!lost.includes(1)) return undefined;
  const kept: number[] = [];
  for (let k = 0; k < n; k++) if (!lost[k]) kept.push(x[k]!, y[k]!);
  return kept.length > 48 ? Float64Array.from(kept) : undefined;
}

function measureFrom(
  lights: Lights,
  start: Float64Array,
  hole: boolean,
  blurPx: number,
  reach: number,
  sheetHue: SheetHue | undefined,
  inkAt: InkAt | undefined,
  beside: Beside | undefined,
): Edge | undefined {
  // Normals point to the right of the way along (y down): outward when the area is negative.
  const outward = (ring: Float64Array): Float64Array =>
    turnOf(ring) > 0 === hole ? ring : reversed(ring);
  let ring = outward(start);
  let astrayPx = 0;
  const go = (within: number, spacing: number): void => {
    const way = follow(lights, ring, within, spacing, sheetHue, inkAt, beside);
    ring = outward(eased(way.ring));
    astrayPx = way.astrayPx;
  };
  go(reach, 2);
  // Where coarse pixels are wide (fine scans) a way cannot turn down an inner corner that the silhouette cut off: again from where it led;
  // at last from close by, for sharp corners.
  for (let turn = 0; turn < MOST_TURNS && astrayPx > ASTRAY_RUN_PX && reach > 4 * NEAR_PX; turn++)
    go(reach / 2, 2);
  go(Math.min(NEAR_PX, reach), 1);
  ring = outward(resample(ring, 1));
  ring = outward(resample(intoTips(lights.luma, ring, normalsOf(ring, 3), gapOf(blurPx)), 1));
  let n = ring.length >> 1;
  if (n < 24) return undefined;
  const models = [new ModelSet(blurPx), new ModelSet(Math.hypot(blurPx, COLOUR_BLUR_PX))] as const;
  const colourModels = models[lights.fullColour ? 0 : 1];
  let shift = new Float64Array(n);
  let normals = normalsOf(ring, 3);
  let result: Fit | undefined;
  for (let round = 0; round < 2; round++) {
    normals = normalsOf(ring, 3);
    const rooms = roomsOf(ring, normals, gapOf(blurPx));
    if (inkAt) toPrint(rooms, ring, normals, inkAt);
    const own = beside ? ownSides(rooms, ring, normals, beside) : undefined;
    result = fitAll(lights, ring, normals, models, rooms);
    own?.forEach((px, k) => (result!.at[k] = Math.max(-px, Math.min(px, result!.at[k]!))));
    shift = smoothed(cleaned(result.at, n));
    const moved = new Float64Array(2 * n);
    for (let k = 0; k < n; k++) {
      moved[2 * k] = ring[2 * k]! + shift[k]! * normals[2 * k]!;
      moved[2 * k + 1] = ring[2 * k + 1]! + shift[k]! * normals[2 * k + 1]!;
    }
    evened(moved, result.plane);
    if (round === 0) {
      ring = outward(resample(eased(moved), 1));
      n = ring.length >> 1;
      if (n < 24) return undefined;
    } else ring = moved;
  }
  const { ramp, rooms, sides } = result!;
  const apartPx = coloursApart(lights, ring, normals, colourModels, rooms, sides, ramp);
  return assembled(lights, ring, normals, result!, apartPx, blurPx, inkAt);
}

/** Shortens profiles to where another edge runs beside this one; returns how far each point may move. */
function ownSides(
  rooms: Float64Array,
  ring: Float64Array,
  normals: Float64Array,
  beside: Beside,
): Float64Array {
  return rooms.map((room, k) => {
    const other = beside(ring[2 * k]!, normals[2 * k]!);
    if (other > 0 && (room === 0 || other < Math.abs(room))) rooms[k] = other;
    return ownSide(other);
  });
}

function reversed(ring: Float64Array): Float64Array {
  const n = ring.length >> 1;
  const out = new Float64Array(ring.length);
  for (let k = 0; k < n; k++) {
    out[2 * k] = ring[2 * (n - 1 - k)]!;
    out[2 * k + 1] = ring[2 * (n - 1 - k) + 1]!;
  }
  return out;
}

/** Evens out the half-pixel steps of a followed contour (binomial, five points). */
function eased(ring: Float64Array): Float64Array {
  const m = ring.length;
  const out = new Float64Array(m);
  // x and y lie in turn, so a neighbour is two numbers away.
  for (let k = 0; k < m; k++) {
    const [a, b] = [ring[(k + m - 4) % m]!, ring[(k + m - 2) % m]!];
    const [d, e] = [ring[(k + 2) % m]!, ring[(k + 4) % m]!];
    out[k] = (a + 4 * b + 6 * ring[k]! + 4 * d + e) / 16;
  }
  return out;
}

interface Fit {
  readonly at: Float64Array;
  readonly ramp: Uint8Array;
  readonly contrast: Float64Array;
  readonly inside: Float64Array;
  readonly outside: Float64Array;
  readonly poor: Float64Array;
  readonly clipped: Uint8Array;
  /** 0 luma, 1 red, 2 blue. */
  readonly plane: Uint8Array;
  /** See roomsOf. */
  readonly rooms: Float64Array;
  readonly sides: readonly Sides[];
}

/** Half window, in points, over which one edge model is chosen. */
const CHOICE = 12;
/** The two-level model must leave this much more than the ramps before the ramps, which scatter more, are used. */
const RAMP_GAIN = 1.25;

/** Another plane is used only where luma shows less than this share of its contrast. */
const LUMA_PREFERRED = 0.4;
/** Red less blue has the noise of both, the square root of two times one's: it places the edge where its step is larger by more. */
const HUE_PREFERRED = 1.5;
/** Half window, in points, over which the plane is chosen. */
const PLANE_CHOICE = 8;
/**
 * What the material covers places the edge where it leaves less than this share of what luma leaves, or where luma, though it fits
 * well, has its edge so far off, px, and the cover leaves no more than this, in squared steps.
 */
const COVER_GAIN = 0.5;
const COVER_OFF_PX = 0.35;
const COVER_CLEAN = 0.05;
/** So far inside an edge, px, the material must cover more than this: else a shadow ends there. */
const COVERED_OFF_PX = 1.5;
const LEAST_COVERED = 0.4;

/** Light on one side of a point, as the sum of two places. */
const nearby = (plane: LinearPlane, x: number, y: number, ux: number, uy: number): number =>
  roughly(plane, x + 2.5 * ux, y + 2.5 * uy) + roughly(plane, x + 1.75 * ux, y + 1.75 * uy);

function sumAround(values: Float64Array, k: number): number {
  const n = values.length;
  let sum = 0;
  for (let s = -PLANE_CHOICE; s <= PLANE_CHOICE; s++) sum += values[(k + s + n) % n]!;
  return sum;
}

/** For each point the plane that shows the edge: 0 luma, 1 red, 2 blue. */
function planesFor(
  lights: Lights,
  ring: Float64Array,
  normals: Float64Array,
  sides: readonly Sides[],
): { readonly plane: Uint8Array; readonly byHue: Uint8Array } {
  const n = ring.length >> 1;
  const hueStep = new Float64Array(n);
  const redStep = new Float64Array(n);
  const blueStep = new Float64Array(n);
  const planes = [lights.luma, lights.red, lights.blue];
  const [ofLuma, ofRed, ofBlue] = planes.map((plane) => {
    const out = new Float64Array(n);
    for (let k = 0; k < n; k++) {
      const x = ring[2 * k]!;
      const y = ring[2 * k + 1]!;
      plane.need(x - 6, y - 6, x + 6, y + 6);
      const [ux, uy] = [normals[2 * k]!, normals[2 * k + 1]!];
      const inside = nearby(plane, x, y, -ux, -uy);
      const outside = nearby(plane, x, y, ux, uy);
      out[k] = Math.abs(inside - outside) / Math.max(0.02, inside, outside);
      const coded = Math.sqrt(outside) - Math.sqrt(inside);
      if (plane === lights.red) redStep[k] = coded;
      if (plane === lights.blue) blueStep[k] = coded;
    }
    return out;
  }) as [Float64Array, Float64Array, Float64Array];
  for (let k = 0; k < n; k++) hueStep[k] = redStep[k]! - blueStep[k]!;
  const out = new Uint8Array(n);
  const byHue = new Uint8Array(n);
  for (let k = 0; k < n; k++) {
    const [luma, red, blue] = [sumAround(ofLuma, k), sumAround(ofRed, k), sumAround(ofBlue, k)];
    // Luma that turns back between the two colours says where the edge is only in part.
    const { mixture } = sides[k]!;
    const least = mixture && !mixture.share ? 1 : LUMA_PREFERRED;
    if (luma < least * Math.max(red, blue)) {
      out[k] = blue > red ? 2 : 1;
      const [r, b] = [Math.abs(sumAround(redStep, k)), Math.abs(sumAround(blueStep, k))];
      if (Math.abs(sumAround(hueStep, k)) > HUE_PREFERRED * Math.max(r, b)) byHue[k] = 1;
    }
  }
  return { plane: out, byHue };
}

/** Mean of two samples of a profile, its ends going on. */
function levelAt(profile: Float64Array, from: number): number {
  const last = profile.length - 1;
  const a = Math.min(last, Math.max(0, from));
  const b = Math.min(last, Math.max(0, from + 1));
  return (profile[a]! + profile[b]!) / 2;
}

/** Places of an edge by both models along a contour, in the light of one plane. */
class Placings {
  private readonly erfAt: Float64Array;
  private readonly rampAt: Float64Array;
  private readonly erfRest: Float64Array;
  private readonly rampRest: Float64Array;
  private readonly step: Float64Array;

  constructor(private readonly n: number) {
    [this.erfAt, this.rampAt, this.erfRest, this.rampRest, this.step] = Array.from(
      { length: 5 },
      () => new Float64Array(n),
    ) as [Float64Array, Float64Array, Float64Array, Float64Array, Float64Array];
  }

  /** @param short the profile shows two levels only: another edge is near */
  set(
    k: number,
    profile: Float64Array,
    models: Models,
    short: boolean,
    rests: Float64Array,
  ): { readonly near: number; readonly rest: number; readonly levels: readonly [number, number] } {
    let power = 0;
    for (const v of profile) power += v * v;
    const e = place(profile, power, models.erf, models.places, rests);
    this.erfAt[k] = e.at;
    this.erfRest[k] = e.rest;
    const r = short ? e : place(profile, power, models.ramp, models.places, rests);
    this.rampAt[k] = r.at;
    this.rampRest[k] = r.rest;
    // Levels beside the edge, two blurs away from it.
    const near = Math.round((r.at + models.innerPx) / SAMPLE_STEP);
    const off = Math.round(2.2 / SAMPLE_STEP);
    const levels = [levelAt(profile, near - off - 1), levelAt(profile, near + off)] as const;
    this.step[k] = Math.abs(levels[0] - levels[1]);
    return { near, rest: r.rest, levels };
  }

  /** Whether the two-level model leaves so much more round about that the ramps are used. */
  isRamp(k: number): boolean {
    let [e, r] = [0, 0];
    for (let s = -CHOICE; s <= CHOICE; s++) {
      const m = (k + s + this.n) % this.n;
      e += this.erfRest[m]!;
      r += this.rampRest[m]!;
    }
    return e > RAMP_GAIN * r;
  }

  at(k: number, ramp: boolean): number {
    return (ramp ? this.rampAt : this.erfAt)[k]!;
  }

  /** Where a model places the edge round about, on the average over the points that count. */
  mean(k: number, ramp: boolean, counts: Uint8Array): number {
    let [sum, count] = [0, 0];
    for (let s = -PLANE_CHOICE; s <= PLANE_CHOICE; s++) {
      const m = (k + s + this.n) % this.n;
      if (!counts[m]) continue;
      sum += this.at(m, ramp);
      count++;
    }
    return sum / count;
  }

  /** What a model leaves round about at the points that count, in squared steps of one. */
  left(k: number, ramp: boolean, counts: Uint8Array): number {
    let [sum, count] = [0, 0];
    for (let s = -CHOICE; s <= CHOICE; s++) {
      const m = (k + s + this.n) % this.n;
      if (!counts[m]) continue;
      sum += (ramp ? this.rampRest : this.erfRest)[m]! / Math.max(1e-8, this.step[m]! ** 2);
      count++;
    }
    return sum / count;
  }
}

function fitAll(
  lights: Lights,
  ring: Float64Array,
  normals: Float64Array,
  modelsBy: readonly [ModelSet, ModelSet],
  rooms: Float64Array,
): Fit {
  const n = ring.length >> 1;
  const sides = sidesAlong(lights, ring, normals, rooms);
  const { plane: chosen, byHue } = planesFor(lights, ring, normals, sides);
  const rests = new Float64Array(modelsBy[0].whole.places.length);
  const inside = new Float64Array(n);
  const outside = new Float64Array(n);
  const contrast = new Float64Array(n);
  const poor = new Float64Array(n);
  const clipped = new Uint8Array(n);
  const own = new Placings(n);
  const hue = new Placings(n);
  const cover = new Placings(n);
  const byCover = new Uint8Array(n);
  /** 1 where luma, without and with ramps, has an edge of what covers nothing. */
  const bare = [new Uint8Array(n), new Uint8Array(n)] as const;
  const channels = [lights.red, lights.green, lights.blue];
  for (let k = 0; k < n; k++) {
    const which = chosen[k]!;
    const plane = which === 0 ? lights.luma : which === 1 ? lights.red : lights.blue;
    const set = modelsBy[which === 0 || lights.fullColour ? 0 : 1];
    const { whole } = set;
    const models = set.within(rooms[k]!);
    const { samples, innerPx } = models;
    const profile = new Float64Array(samples);
    const half = Math.max(innerPx, samples * SAMPLE_STEP - innerPx);
    const x = ring[2 * k]!;
    const y = ring[2 * k + 1]!;
    const ux = normals[2 * k]!;
    const uy = normals[2 * k + 1]!;
    plane.need(x - half - 4, y - half - 4, x + half + 4, y + half + 4);
    const mixture = which === 0 ? sides[k]!.mixture : undefined;
    let bright = 0;
    for (let s = 0; s < samples; s++) {
      const d = s * SAMPLE_STEP - innerPx;
      const light = sample(plane, x + d * ux, y + d * uy);
      const v = mixture ? unmixed(mixture, light) : light;
      profile[s] = v;
      if (v > 0.985) bright++;
    }
    const short = samples < whole.samples;
    const { near, rest, levels } = own.set(k, profile, models, short, rests);
    [inside[k], outside[k]] = levels;
    const step = Math.abs(levels[0] - levels[1]);
    contrast[k] = step / Math.max(1e-3, ...levels);
    clipped[k] = bright > samples * 0.3 ? 1 : 0;
    // A second step of like strength, or a poor fit.
    let most = 0;
    let other = 0;
    for (let s = 2; s + 2 < samples; s++) {
      const g = Math.abs(profile[s + 2]! - profile[s - 2]!);
      if (Math.abs(s - near) * SAMPLE_STEP < 1.5) most = Math.max(most, g);
      else if (Math.abs(s - near) * SAMPLE_STEP > 2.2) other = Math.max(other, g);
    }
    const misfit = Math.sqrt(Math.max(0, rest) / samples) / Math.max(1e-4, step);
    poor[k] = contrast[k]! < 0.08 || misfit > 0.12 || other > 0.6 * most ? 1 : 0;
    const weights = lights.fullColour ? coverOf(sides[k]!) : undefined;
    if (weights) {
      byCover[k] = 1;
      for (const c of channels) c.need(x - half - 4, y - half - 4, x + half + 4, y + half + 4);
      const covered = profile.map((_, s) => {
        const d = s * SAMPLE_STEP - innerPx;
        return weights.reduce(
          (sum, w, c) => sum + w * sample(channels[c]!, x + d * ux, y + d * uy),
          0,
        );
      });
      cover.set(k, covered, models, short, rests);
      for (const ramp of [false, true]) {
        const within = (own.at(k, ramp) - COVERED_OFF_PX + innerPx) / SAMPLE_STEP;
        if (levelAt(covered, Math.round(within - 0.5)) < LEAST_COVERED) bare[Number(ramp)]![k] = 1;
      }
    }
    if (!byHue[k]) continue;
    lights.hue.need(x - half - 4, y - half - 4, x + half + 4, y + half + 4);
    for (let s = 0; s < samples; s++) {
      const d = s * SAMPLE_STEP - innerPx;
      profile[s] = sample(lights.hue, x + d * ux, y + d * uy);
    }
    hue.set(k, profile, models, short, rests);
  }
  const at = new Float64Array(n);
  const ramp = new Uint8Array(n);
  for (let k = 0; k < n; k++) {
    const ofOwn = own.isRamp(k);
    ramp[k] = ofOwn ? 1 : 0;
    at[k] = own.at(k, ofOwn);
    if (byHue[k]) {
      // Of both the one that looks more like an edge.
      const ofHue = hue.isRamp(k);
      if (hue.left(k, ofHue, byHue) < own.left(k, ofOwn, byHue)) at[k] = hue.at(k, ofHue);
    }
    if (byCover[k]) {
      // A shadow of the blank's own tone has an edge in luma, but covers nothing.
      const left = cover.left(k, false, byCover);
      const off = Math.abs(cover.mean(k, false, byCover) - own.mean(k, ofOwn, byCover));
      if (
        bare[Number(ofOwn)]![k] ||
        left < COVER_GAIN * own.left(k, ofOwn, byCover) ||
        (left < COVER_CLEAN && off > COVER_OFF_PX)
      )
        at[k] = cover.at(k, false);
    }
  }
  return { at, ramp, contrast, inside, outside, poor, clipped, plane: chosen, rooms, sides };
}

/** Replaces single outliers by the middle of their neighbours. */
function cleaned(at: Float64Array, n: number): Float64Array<ArrayBuffer> {
  const out = new Float64Array(n);
  const near = new Float64Array(9);
  for (let k = 0; k < n; k++) {
    for (let s = -4; s <= 4; s++) near[s + 4] = at[(k + s + n) % n]!;
    const middle = near.sort()[4]!;
    out[k] = Math.abs(at[k]! - middle) > 0.35 ? middle : at[k]!;
  }
  return out;
}

/** Quadratic smoothing over seven points (Savitzky and Golay, 1964): (-2, 3, 6, 7, 6, 3, -2) / 21. */
function smoothed(at: Float64Array): Float64Array<ArrayBuffer> {
  const n = at.length;
  const v = (k: number): number => at[(k + n) % n]!;
  return Float64Array.from(
    at,
    (_, k) =>
      (7 * v(k) +
        6 * (v(k - 1) + v(k + 1)) +
        3 * (v(k - 2) + v(k + 2)) -
        2 * (v(k - 3) + v(k + 3))) /
      21,
  );
}

/** Half window, in points, over which an edge that only colour shows is evened: JPEG keeps colour at half size and in blocks. */
const EVENED = 8;
/** A contour that turns by more than this across the window has a corner there, radians. */
const EVENED_TURN = 0.5;

/** Evens a contour where only colour shows it: the quadratic through the points about each, in place. */
function evened(ring: Float64Array, plane: Uint8Array): void {
  const n = ring.length >> 1;
  const from = ring.slice();
  const count = 2 * EVENED + 1;
  // Savitzky and Golay's weights of the middle point of a quadratic.
  const weights = Float64Array.from(
    { length: count },
    (_, k) =>
      (3 * (3 * EVENED * (EVENED + 1) - 1 - 5 * (k - EVENED) ** 2)) /
      ((2 * EVENED - 1) * count * (2 * EVENED + 3)),
  );
  let run = 0;
  for (let k = -count; k < n; k++) {
    run = plane[(k + n + EVENED) % n] ? run + 1 : 0;
    if (k < 0 || run < count || turnAcross(from, k, EVENED) > EVENED_TURN) continue;
    let [x, y] = [0, 0];
    for (let s = 0; s < count; s++) {
      const at = 2 * ((k + s - EVENED + n) % n);
      x += weights[s]! * from[at]!;
      y += weights[s]! * from[at + 1]!;
    }
    ring[2 * k] = x;
    ring[2 * k + 1] = y;
  }
}

/** Points each way of a change of plane that may be bridged. */
const SWITCH_PX = 18;
/** Share of a contour that may be bridged. */
const MOST_BRIDGED = 0.15;
/** Scatter of an edge that only colour shows, px: cameras keep colour coarsely (measured on rendered pictures). */
const COLOUR_SIGMA_PX = 0.25;

/** The blank's brightness jumps by this (ln) within PRINT_PX points each way where print changes at the edge. */
const PRINT_JUMP = 1.2;
const PRINT_PX = 6;
/** Gloss on black is no print: brightness below this (of white) counts as this. */
const PRINT_FLOOR = 0.03;
/** So far from the change the line may follow the print instead of the edge, px. */
const PRINT_REACH_PX = 10;

/** Whether the blank's own brightness jumps along the edge about point k, most of all there. */
function printChanges({ inside, plane }: Fit, k: number): boolean {
  const n = inside.length;
  const jump = (at: number): number => {
    const a = (at - PRINT_PX + n) % n;
    const b = (at + PRINT_PX) % n;
    return plane[a] === plane[b]
      ? Math.abs(Math.log((inside[a]! + PRINT_FLOOR) / (inside[b]! + PRINT_FLOOR)))
      : 0;
  };
  const own = jump(k);
  return own > PRINT_JUMP && own >= jump((k + n - 1) % n) && own > jump((k + 1) % n);
}

/** Corners by intersection, points beside them dropped, curvature's pull taken out, scatter estimated. */
function assembled(
  lights: Lights,
  ring: Float64Array,
  normals: Float64Array,
  fit: Fit,
  apartPx: Float64Array,
  blurPx: number,
  inkAt: InkAt | undefined,
): Edge | undefined {
  const n = ring.length >> 1;
  const runs = inkAt ? acrossPrint(lights.luma, ring, normals, inkAt, blurPx) : [];
  const within = (k: number): Stretch | undefined =>
    runs.find(({ from, to }) => (k - from + 2 * n) % n <= to - from);
  const switches = (k: number): boolean => {
    for (let s = -SWITCH_PX; s < SWITCH_PX; s++) {
      if (fit.plane[(k + s + n) % n] !== fit.plane[(k + s + 1 + n) % n]) return true;
    }
    return false;
  };
  const corners = cornersOf(lights, ring, normals, fit, blurPx).filter(
    (c) => !within(c.at) && (c.wedge ?? !switches(c.at)),
  );
  const keep = new Uint8Array(n).fill(1);
  for (const c of corners) {
    for (let s = -c.blind; s <= c.blind; s++) keep[(c.at + s + n) % n] = 0;
  }
  // Where print changes at the edge the profile holds two edges, and the plane changes: bridge the few points between.
  const bridged = new Uint8Array(n);
  const gap = new Uint8Array(n);
  for (let k = 0; k < n; k++) {
    if (fit.plane[k] === fit.plane[(k + 1) % n]) continue;
    if (turnAcross(ring, k, SWITCH_PX) > STRAIGHT_RAD) continue;
    if (sagAcross(ring, k, SWITCH_PX) > MOST_SAG_PX) continue;
    for (let s = -SWITCH_PX; s <= SWITCH_PX; s++) {
      const m = (k + s + n) % n;
      if (fit.poor[m] || Math.abs(s) < 10) bridged[m] = 1;
    }
  }
  // On a small hole that would leave too little of it.
  if (bridged.reduce((sum, v) => sum + v, 0) < MOST_BRIDGED * n) {
    for (let k = 0; k < n; k++) if (bridged[k] && keep[k]) [keep[k], gap[k]] = [0, 1];
  }
  const printed = new Uint8Array(n);
  for (let k = 0; k < n; k++) {
    if (!printChanges(fit, k) || corners.some((c) => apart(c.at, k, n) < 2 * PRINT_REACH_PX))
      continue;
    const straight = n > LONG_PX && turnAcross(ring, k, PRINT_REACH_PX) < STRAIGHT_RAD;
    for (let s = -PRINT_REACH_PX; s <= PRINT_REACH_PX; s++) {
      printed[(k + s + n) % n] = 1;
      // The profile holds two edges there: where the edge runs on straight the line is drawn across.
      const m = (k + s + n) % n;
      if (straight && Math.abs(s) < PRINT_REACH_PX - 2 && keep[m]) [keep[m], gap[m]] = [0, 1];
    }
  }
  const list: {
    k: number;
    corner?: readonly [number, number];
    drawn?: readonly [number, number];
  }[] = [];
  for (const { from, to } of runs) for (let k = from; k <= to; k++) keep[(k + n) % n] = 0;
  const cornerAt = new Map([
    ...corners.map((c) => [c.at, c.point] as const),
    ...runs.flatMap(({ from, to, met }) => (met ? [[((from + to) >> 1) % n, met] as const] : [])),
  ]);
  const wedgeAt = new Set(corners.flatMap((c) => (c.wedge ? [c.at] : [])));
  const drawnAt = new Map([
    ...corners.flatMap((c) => drawnOn(c, ring, keep)),
    ...bridgesOf(ring, gap, keep),
  ]);
  for (let k = 0; k < n; k++) {
    const corner = cornerAt.get(k);
    const drawn = drawnAt.get(k);
    if (corner) list.push({ k, corner });
    else if (keep[k]) list.push({ k });
    else if (drawn) list.push({ k, drawn });
  }
  const count = list.length;
  if (count < 12) return undefined;
  const edge: Edge = {
    count,
    x: new Float64Array(count),
    y: new Float64Array(count),
    nx: new Float64Array(count),
    ny: new Float64Array(count),
    sigma: new Float64Array(count),
    contrast: new Float64Array(count),
    ramp: new Uint8Array(count),
    inside: new Float64Array(count),
    outside: new Float64Array(count),
    poor: new Uint8Array(count),
    printed: new Uint8Array(count),
    byColour: new Uint8Array(count),
    clipped: new Uint8Array(count),
    corner: new Uint8Array(count),
    room: new Float64Array(count),
    footU: new Float64Array(count),
    apart: new Float64Array(count),
  };
  const doubt = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    for (let s = -2; s <= 2; s++) doubt[k]! += fit.poor[(k + s + n) % n]! / 5;
  }
  for (const { from, to } of runs)
    for (let k = from - BESIDE_PRINT; k <= to + BESIDE_PRINT; k++) doubt[(k + n) % n] = 1;
  list.forEach(({ k, corner, drawn }, i) => {
    const bend =
      corner || drawn || !keep[(k + 6) % n] || !keep[(k - 6 + n) % n] ? 0 : curvature(ring, k, 6);
    const pull = 0.5 * blurPx * blurPx * Math.max(-0.2, Math.min(0.2, bend));
    edge.x[i] = (corner ?? drawn)?.[0] ?? ring[2 * k]! + pull * normals[2 * k]!;
    edge.y[i] = (corner ?? drawn)?.[1] ?? ring[2 * k + 1]! + pull * normals[2 * k + 1]!;
    edge.nx[i] = normals[2 * k]!;
    edge.ny[i] = normals[2 * k + 1]!;
    edge.contrast[i] = fit.contrast[k]!;
    edge.ramp[i] = fit.ramp[k]!;
    edge.inside[i] = fit.inside[k]!;
    edge.outside[i] = fit.outside[k]!;
    edge.poor[i] = doubt[k]! > 0.5 ? 1 : 0;
    edge.clipped[i] = fit.clipped[k]!;
    edge.corner[i] = corner ? (wedgeAt.has(k) ? FITTED_CORNER : 1) : 0;
    edge.room[i] = Math.abs(fit.rooms[k]!);
    edge.apart[i] = apartPx[k]!;
    edge.sigma[i] = Math.max(scatter(fit.at, k), fit.plane[k] ? COLOUR_SIGMA_PX : 0);
  });
  // Scatter is noisy itself: take the middle of a long stretch.
  const middle = Float64Array.from(edge.sigma).sort()[count >> 1]!;
  for (let i = 0; i < count; i++)
    edge.sigma[i] = Math.max(
      0.5 * middle,
      Math.min(edge.sigma[i]!, Math.max(COLOUR_SIGMA_PX, 6 * middle)),
    );
  list.forEach(({ k }, i) => {
    edge.printed[i] = printed[k]!;
    edge.byColour[i] = fit.plane[k] && !lights.fullColour ? 1 : 0;
  });
  return edge;
}

/** So many points on either side of a stretch along print are doubted too. */
const BESIDE_PRINT = 5;

/** Points stand this far apart where a corner's sides are drawn by its wedge, px. */
const DRAWN_STEP = 3;

/** The sides of a corner where its profiles are blind, as its wedge has them: places by index of the contour. */
function drawnOn(
  { at, blind, wedge }: Corner,
  ring: Float64Array,
  keep: Uint8Array,
): [number, readonly [number, number]][] {
  if (!wedge) return [];
  const n = ring.length >> 1;
  const out: [number, readonly [number, number]][] = [];
  const inward = Math.sin(wedge.forth - wedge.back) > 0 ? 1 : -1;
  for (const [way, angle, bend, turn] of [
    [-1, wedge.back, wedge.backBend, inward],
    [1, wedge.forth, wedge.forthBend, -inward],
  ] as const) {
    const end = (at + way * (blind + 1) + n) % n;
    if (!keep[end]) continue;
    const whole = Math.hypot(ring[2 * end]! - wedge.x, ring[2 * end + 1]! - wedge.y);
    const [c, s] = [Math.cos(angle), Math.sin(angle)];
    for (let step = DRAWN_STEP; step <= blind - DRAWN_STEP + 1; step += DRAWN_STEP) {
      const t = (whole * step) / (blind + 1);
      const off = 0.5 * bend * t * t * turn;
      out.push([(at + way * step + n) % n, [wedge.x + t * c - off * s, wedge.y + t * s + off * c]]);
    }
  }
  return out;
}

/** A contour must be this long, and turn by less than this across a gap, for the gap to be drawn across. */
const LONG_PX = 600;
const STRAIGHT_RAD = 0.35;

/** How far a contour turns from before to behind a gap of `reach` points each way about point k, radians. */
function turnAcross(ring: Float64Array, k: number, reach: number): number {
  const n = ring.length >> 1;
  const at = (m: number): readonly [number, number] => {
    const i = 2 * (((m % n) + n) % n);
    return [ring[i]!, ring[i + 1]!];
  };
  const [[ax, ay], [bx, by]] = [at(k - 2 * reach), at(k - reach)];
  const [[cx, cy], [dx, dy]] = [at(k + reach), at(k + 2 * reach)];
  const [ux, uy, vx, vy] = [bx - ax, by - ay, dx - cx, dy - cy];
  return Math.abs(Math.atan2(ux * vy - uy * vx, ux * vx + uy * vy));
}

/** Nor may a contour leave the chord across a gap by more: an S turns by nothing in all, px. */
const MOST_SAG_PX = 4;

/** How far a contour leaves the chord between the points `reach` before and after point k, px. */
function sagAcross(ring: Float64Array, k: number, reach: number): number {
  const n = ring.length >> 1;
  const at = (m: number): number => 2 * (((m % n) + n) % n);
  const [a, b] = [at(k - reach), at(k + reach)];
  const [ux, uy] = [ring[b]! - ring[a]!, ring[b + 1]! - ring[a + 1]!];
  const length = Math.hypot(ux, uy) || 1;
  let most = 0;
  for (let s = 1 - reach; s < reach; s++) {
    const p = at(k + s);
    const off = (ux * (ring[p + 1]! - ring[a + 1]!) - uy * (ring[p]! - ring[a]!)) / length;
    most = Math.max(most, Math.abs(off));
  }
  return most;
}

/** Points between two points of a closed contour of n. */
const apart = (a: number, b: number, n: number): number =>
  Math.min(Math.abs(a - b), n - Math.abs(a - b));

/** Signed curvature (1/px, positive where the material is convex) from chords of s points. */
function curvature(ring: Float64Array, k: number, s: number): number {
  const n = ring.length >> 1;
  const a = 2 * ((k - s + n) % n);
  const b = 2 * k;
  const c = 2 * ((k + s) % n);
  const ux = ring[b]! - ring[a]!;
  const uy = ring[b + 1]! - ring[a + 1]!;
  const vx = ring[c]! - ring[b]!;
  const vy = ring[c + 1]! - ring[b + 1]!;
  const lu = Math.hypot(ux, uy);
  const lv = Math.hypot(vx, vy);
  // The material lies to the left of the way along (y down): a left turn is convex.
  return (-2 * (ux * vy - uy * vx)) / (lu * lv * Math.max(1e-9, Math.hypot(ux + vx, uy + vy)));
}

/** Scatter of one point from second differences along the contour over 21 points; the middle one, so that corners do not count. */
function scatter(at: Float64Array, k: number): number {
  const n = at.length;
  const squares = new Float64Array(21);
  for (let s = -10; s <= 10; s++) {
    const b = (k + s + n) % n;
    squares[s + 10] = (at[(b + n - 1) % n]! - 2 * at[b]! + at[(b + 1) % n]!) ** 2;
  }
  // Median of a squared normal deviate is 0.455 of its variance, which is six times the point's.
  return Math.sqrt(squares.sort()[10]! / 0.455 / 6);
}
