import type { Lights, LinearPlane } from './linear.ts';

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
  /** 1 where pixels near the edge are at the sensor's end. */
  readonly clipped: Uint8Array;
  /** 1 at a corner: a point where two stretches of edge meet, found by their intersection. */
  readonly corner: Uint8Array;
}

const LIGHT = 1 / 65535;
/** Profiles are read and models scanned in these steps, px. */
const SAMPLE_STEP = 0.5;
const SCAN_STEP = 0.25;
/** The edge is sought this far each way from where it was followed. */
const SCAN_PX = 1.5;

/** Catmull-Rom interpolation of linear luma; the pixels must have been asked for. */
function sample(luma: LinearPlane, x: number, y: number): number {
  const w = luma.widthPx;
  const v = luma.values;
  const i = Math.min(w - 3, Math.max(1, Math.floor(x)));
  const j = Math.min(luma.heightPx - 3, Math.max(1, Math.floor(y)));
  const fx = x - i;
  const fy = y - j;
  const x2 = fx * fx;
  const x3 = x2 * fx;
  const a = -0.5 * x3 + x2 - 0.5 * fx;
  const b = 1.5 * x3 - 2.5 * x2 + 1;
  const c = -1.5 * x3 + 2 * x2 + 0.5 * fx;
  const d = 0.5 * x3 - 0.5 * x2;
  const y2 = fy * fy;
  const y3 = y2 * fy;
  let at = (j - 1) * w + i - 1;
  let sum =
    (-0.5 * y3 + y2 - 0.5 * fy) * (a * v[at]! + b * v[at + 1]! + c * v[at + 2]! + d * v[at + 3]!);
  at += w;
  sum +=
    (1.5 * y3 - 2.5 * y2 + 1) * (a * v[at]! + b * v[at + 1]! + c * v[at + 2]! + d * v[at + 3]!);
  at += w;
  sum +=
    (-1.5 * y3 + 2 * y2 + 0.5 * fy) *
    (a * v[at]! + b * v[at + 1]! + c * v[at + 2]! + d * v[at + 3]!);
  at += w;
  sum += (0.5 * y3 - 0.5 * y2) * (a * v[at]! + b * v[at + 1]! + c * v[at + 2]! + d * v[at + 3]!);
  return sum * LIGHT;
}

/** Bilinear value, for what need not be exact. */
function roughly(plane: LinearPlane, x: number, y: number): number {
  const w = plane.widthPx;
  const i = Math.min(w - 2, Math.max(0, Math.floor(x)));
  const j = Math.min(plane.heightPx - 2, Math.max(0, Math.floor(y)));
  const v = plane.values;
  const at = j * w + i;
  const fx = x - i;
  const upper = v[at]! + fx * (v[at + 1]! - v[at]!);
  const lower = v[at + w]! + fx * (v[at + w + 1]! - v[at + w]!);
  return (upper + (y - j) * (lower - upper)) * LIGHT;
}

/** Error function, Abramowitz and Stegun 7.1.26, |error| < 1.5e-7. */
export function erf(x: number): number {
  const t = 1 / (1 + 0.3275911 * Math.abs(x));
  const y =
    1 -
    ((((1.061405429 * t - 1.453152027) * t + 1.421413741) * t - 0.284496736) * t + 0.254829592) *
      t *
      Math.exp(-x * x);
  return x < 0 ? -y : y;
}

/**
 * Edge models of one blur at every place of a scan, as orthonormal columns over the profile's samples:
 * erf = two levels, blurred; ramp = two straight ramps, blurred (contact shadow, rounded edge).
 */
interface Models {
  readonly samples: number;
  readonly half: number;
  readonly places: Float64Array;
  readonly erf: readonly Float64Array[][];
  readonly ramp: readonly Float64Array[][];
}

function modelsOf(blurPx: number, reach: number): Models {
  const half = Math.max(4.5, 3.5 * blurPx);
  const samples = 2 * Math.round(half / SAMPLE_STEP) + 1;
  const count = 2 * Math.round(reach / SCAN_STEP) + 1;
  const places = Float64Array.from({ length: count }, (_, k) => -reach + k * SCAN_STEP);
  const columns = (place: number, ramp: boolean): Float64Array[] => {
    const one = new Float64Array(samples).fill(1);
    const step = new Float64Array(samples);
    const left = new Float64Array(samples);
    const right = new Float64Array(samples);
    for (let k = 0; k < samples; k++) {
      const d = -half + k * SAMPLE_STEP - place;
      const z = d / blurPx;
      const above = 0.5 * (1 + erf(z / Math.SQRT2));
      const bell = (blurPx * Math.exp(-0.5 * z * z)) / Math.sqrt(2 * Math.PI);
      step[k] = above;
      right[k] = d * above + bell;
      left[k] = d * (1 - above) - bell;
    }
    return orthonormal(ramp ? [one, step, left, right] : [one, step]);
  };
  return {
    samples,
    half,
    places,
    erf: Array.from(places, (p) => columns(p, false)),
    ramp: Array.from(places, (p) => columns(p, true)),
  };
}

function orthonormal(columns: Float64Array[]): Float64Array[] {
  columns.forEach((column, k) => {
    for (let b = 0; b < k; b++) {
      const base = columns[b]!;
      let dot = 0;
      for (let i = 0; i < base.length; i++) dot += base[i]! * column[i]!;
      for (let i = 0; i < base.length; i++) column[i]! -= dot * base[i]!;
    }
    const length = Math.sqrt(column.reduce((sum, v) => sum + v * v, 0));
    for (let i = 0; i < column.length; i++) column[i]! /= length;
  });
  return columns;
}

/** Best place of a model on a profile, by least squares over the scan and a parabola; `rest` is the squared residual. */
function place(
  profile: Float64Array,
  power: number,
  bases: readonly Float64Array[][],
  places: Float64Array,
  rests: Float64Array,
): { at: number; rest: number } {
  let best = 0;
  for (let k = 0; k < places.length; k++) {
    let explained = 0;
    for (const column of bases[k]!) {
      let dot = 0;
      for (let i = 0; i < column.length; i++) dot += column[i]! * profile[i]!;
      explained += dot * dot;
    }
    rests[k] = power - explained;
    if (rests[k]! < rests[best]!) best = k;
  }
  if (best === 0 || best === places.length - 1) return { at: places[best]!, rest: rests[best]! };
  const a = rests[best - 1]!;
  const b = rests[best]!;
  const c = rests[best + 1]!;
  const bend = a - 2 * b + c;
  const shift = bend > 0 ? (0.5 * (a - c)) / bend : 0;
  return { at: places[best]! + shift * SCAN_STEP, rest: b };
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
  sheetHue: number | undefined,
): Float64Array {
  const ring = resample(start, spacing);
  const count = ring.length >> 1;
  const normals = normalsOf(ring, Math.max(2, Math.round(6 / spacing)));
  const STEP = 0.5;
  const width = 2 * Math.round(reach / STEP) + 1;
  const strength = new Float32Array(count * width);
  const line = new Float64Array(width + 4);
  const hue = new Float64Array(width + 4);
  const planes = [lights.luma, lights.red, lights.blue];
  for (let n = 0; n < count; n++) {
    const x = ring[2 * n]!;
    const y = ring[2 * n + 1]!;
    const ux = normals[2 * n]!;
    const uy = normals[2 * n + 1]!;
    hue.fill(0);
    for (const light of planes) {
      const sign = light === lights.red ? 1 : light === lights.blue ? -1 : 0;
      light.need(x - reach - 5, y - reach - 5, x + reach + 5, y + reach + 5);
      for (let k = 0; k < width + 4; k++) {
        const d = -reach + (k - 2) * STEP;
        const v = Math.max(0, roughly(light, x + d * ux, y + d * uy));
        line[k] = Math.sqrt(v);
        if (sign !== 0) hue[k]! += sign * Math.log(v + 0.005);
      }
      for (let k = 0; k < width; k++) strength[n * width + k]! += (line[k + 4]! - line[k]!) ** 2;
    }
    let most = 1e-4;
    for (let k = 0; k < width; k++) most = Math.max(most, strength[n * width + k]!);
    // Two pixels outside the edge it must be sheet again by its colour; beside print within the blank it is not.
    for (let k = 0; k < width; k++) {
      const off =
        sheetHue === undefined ? 0 : Math.abs(hue[Math.min(width + 3, k + 6)]! - sheetHue);
      strength[n * width + k] =
        Math.sqrt(strength[n * width + k]! / most) - Math.min(0.9, Math.max(0, 2 * (off - 0.2)));
    }
  }
  const offsets = smoothestPath(strength, count, width);
  const out = new Float64Array(2 * count);
  for (let n = 0; n < count; n++) {
    const d = -reach + offsets[n]! * STEP;
    out[2 * n] = ring[2 * n]! + d * normals[2 * n]!;
    out[2 * n + 1] = ring[2 * n + 1]! + d * normals[2 * n + 1]!;
  }
  return out;
}

/** Closed path of greatest strength that moves by at most two places per sample (dynamic programming, two turns). */
function smoothestPath(strength: Float32Array, count: number, width: number): Int32Array {
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

/** Least angle that counts as a corner of the edge. */
const CORNER_RAD = (24 * Math.PI) / 180;

/**
 * Places the edge to a small part of a pixel near a start contour.
 *
 * @param start closed contour (picture px, x and y interleaved) within `reach` px of the edge
 * @param hole the contour is a hole: the material lies outside it
 * @param blurPx standard deviation of the picture's blur
 * @param sheetHue ln(red / blue) of the lit stage; undefined where the edge does not border on it
 */
export function measureEdge(
  lights: Lights,
  start: Float64Array,
  hole: boolean,
  blurPx: number,
  reach: number,
  sheetHue: number | undefined,
): Edge | undefined {
  // Normals point to the right of the way along (y down): outward when the area is negative.
  const outward = (ring: Float64Array): Float64Array =>
    turnOf(ring) > 0 === hole ? ring : reversed(ring);
  let ring = outward(eased(follow(lights, outward(start), reach, 2, sheetHue)));
  // Once more from close by: the first way could not turn into sharp corners.
  ring = outward(eased(follow(lights, ring, Math.min(3.5, reach), 1, sheetHue)));
  ring = outward(resample(ring, 1));
  let n = ring.length >> 1;
  if (n < 24) return undefined;
  // Colour is kept at half size by most cameras: a wider blur.
  const models = [modelsOf(blurPx, SCAN_PX), modelsOf(Math.hypot(blurPx, 0.8), SCAN_PX)] as const;
  let shift = new Float64Array(n);
  let normals = normalsOf(ring, 3);
  let result: Fit | undefined;
  for (let round = 0; round < 2; round++) {
    normals = normalsOf(ring, 3);
    result = fitAll(lights, ring, normals, models);
    shift = smoothed(cleaned(result.at, n));
    const moved = new Float64Array(2 * n);
    for (let k = 0; k < n; k++) {
      moved[2 * k] = ring[2 * k]! + shift[k]! * normals[2 * k]!;
      moved[2 * k + 1] = ring[2 * k + 1]! + shift[k]! * normals[2 * k + 1]!;
    }
    if (round === 0) {
      ring = outward(resample(eased(moved), 1));
      n = ring.length >> 1;
      if (n < 24) return undefined;
    } else ring = moved;
  }
  return assembled(lights.luma, ring, normals, result!, blurPx);
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
  const n = ring.length >> 1;
  const out = new Float64Array(ring.length);
  for (let k = 0; k < n; k++) {
    for (let c = 0; c < 2; c++) {
      const v = (s: number): number => ring[2 * ((k + s + n) % n) + c]!;
      out[2 * k + c] = (v(-2) + 4 * v(-1) + 6 * v(0) + 4 * v(1) + v(2)) / 16;
    }
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
}

/** Half window, in points, over which one edge model is chosen. */
const CHOICE = 12;
/** The two-level model must leave this much more than the ramps before the ramps, which scatter more, are used. */
const RAMP_GAIN = 1.25;

/** Another plane is used only where luma shows less than this share of its contrast. */
const LUMA_PREFERRED = 0.4;
/** Half window, in points, over which the plane is chosen. */
const PLANE_CHOICE = 8;

/** For each point the plane that shows the edge: 0 luma, 1 red, 2 blue. */
function planesFor(lights: Lights, ring: Float64Array, normals: Float64Array): Uint8Array {
  const n = ring.length >> 1;
  const planes = [lights.luma, lights.red, lights.blue];
  const contrasts = planes.map((plane) => {
    const out = new Float64Array(n);
    for (let k = 0; k < n; k++) {
      const x = ring[2 * k]!;
      const y = ring[2 * k + 1]!;
      plane.need(x - 6, y - 6, x + 6, y + 6);
      const at = (d: number): number =>
        roughly(plane, x + d * normals[2 * k]!, y + d * normals[2 * k + 1]!);
      const inside = at(-2.5) + at(-1.75);
      const outside = at(2.5) + at(1.75);
      out[k] = Math.abs(inside - outside) / Math.max(0.02, inside, outside);
    }
    return out;
  });
  const out = new Uint8Array(n);
  for (let k = 0; k < n; k++) {
    const sums = contrasts.map((c) => {
      let sum = 0;
      for (let s = -PLANE_CHOICE; s <= PLANE_CHOICE; s++) sum += c[(k + s + n) % n]!;
      return sum;
    });
    const best = sums[2]! > sums[1]! ? 2 : 1;
    if (sums[0]! < LUMA_PREFERRED * sums[best]!) out[k] = best;
  }
  return out;
}

function fitAll(
  lights: Lights,
  ring: Float64Array,
  normals: Float64Array,
  modelsBy: readonly [Models, Models],
): Fit {
  const n = ring.length >> 1;
  const chosen = planesFor(lights, ring, normals);
  const rests = new Float64Array(modelsBy[0].places.length);
  const erfAt = new Float64Array(n);
  const rampAt = new Float64Array(n);
  const erfRest = new Float64Array(n);
  const rampRest = new Float64Array(n);
  const inside = new Float64Array(n);
  const outside = new Float64Array(n);
  const contrast = new Float64Array(n);
  const poor = new Float64Array(n);
  const clipped = new Uint8Array(n);
  const profiles = modelsBy.map((m) => new Float64Array(m.samples));
  for (let k = 0; k < n; k++) {
    const which = chosen[k]!;
    const plane = which === 0 ? lights.luma : which === 1 ? lights.red : lights.blue;
    const models = modelsBy[which === 0 ? 0 : 1];
    const profile = profiles[which === 0 ? 0 : 1]!;
    const { samples, half } = models;
    const x = ring[2 * k]!;
    const y = ring[2 * k + 1]!;
    const ux = normals[2 * k]!;
    const uy = normals[2 * k + 1]!;
    plane.need(x - half - 4, y - half - 4, x + half + 4, y + half + 4);
    let power = 0;
    let bright = 0;
    for (let s = 0; s < samples; s++) {
      const d = -half + s * SAMPLE_STEP;
      const v = sample(plane, x + d * ux, y + d * uy);
      profile[s] = v;
      power += v * v;
      if (v > 0.985) bright++;
    }
    const e = place(profile, power, models.erf, models.places, rests);
    erfAt[k] = e.at;
    erfRest[k] = e.rest;
    const r = place(profile, power, models.ramp, models.places, rests);
    rampAt[k] = r.at;
    rampRest[k] = r.rest;
    // Levels beside the edge, two blurs away from it.
    const near = Math.round((r.at + half) / SAMPLE_STEP);
    const off = Math.round(2.2 / SAMPLE_STEP);
    const level = (from: number): number => {
      let sum = 0;
      for (let s = 0; s < 2; s++) sum += profile[Math.min(samples - 1, Math.max(0, from + s))]!;
      return sum / 2;
    };
    inside[k] = level(near - off - 1);
    outside[k] = level(near + off);
    const step = Math.abs(inside[k]! - outside[k]!);
    contrast[k] = step / Math.max(1e-3, inside[k]!, outside[k]!);
    clipped[k] = bright > samples * 0.3 ? 1 : 0;
    // A second step of like strength, or a poor fit.
    let most = 0;
    let other = 0;
    for (let s = 2; s + 2 < samples; s++) {
      const g = Math.abs(profile[s + 2]! - profile[s - 2]!);
      if (Math.abs(s - near) * SAMPLE_STEP < 1.5) most = Math.max(most, g);
      else if (Math.abs(s - near) * SAMPLE_STEP > 2.2) other = Math.max(other, g);
    }
    const misfit = Math.sqrt(Math.max(0, r.rest) / samples) / Math.max(1e-4, step);
    poor[k] = contrast[k]! < 0.08 || misfit > 0.12 || other > 0.6 * most ? 1 : 0;
  }
  const at = new Float64Array(n);
  const ramp = new Uint8Array(n);
  for (let k = 0; k < n; k++) {
    let e = 0;
    let r = 0;
    for (let s = -CHOICE; s <= CHOICE; s++) {
      const m = (k + s + n) % n;
      e += erfRest[m]!;
      r += rampRest[m]!;
    }
    ramp[k] = e > RAMP_GAIN * r ? 1 : 0;
    at[k] = ramp[k] ? rampAt[k]! : erfAt[k]!;
  }
  return { at, ramp, contrast, inside, outside, poor, clipped, plane: chosen };
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
  luma: LinearPlane,
  ring: Float64Array,
  normals: Float64Array,
  fit: Fit,
  blurPx: number,
): Edge | undefined {
  const n = ring.length >> 1;
  const switches = (k: number): boolean => {
    for (let s = -SWITCH_PX; s < SWITCH_PX; s++) {
      if (fit.plane[(k + s + n) % n] !== fit.plane[(k + s + 1 + n) % n]) return true;
    }
    return false;
  };
  const corners = cornersOf(luma, ring, normals, fit, blurPx).filter((c) => !switches(c.at));
  const keep = new Uint8Array(n).fill(1);
  for (const c of corners) {
    for (let s = -c.blind; s <= c.blind; s++) keep[(c.at + s + n) % n] = 0;
  }
  // Where print changes at the edge the profile holds two edges, and the plane changes: bridge the few points between.
  const bridged = new Uint8Array(n);
  for (let k = 0; k < n; k++) {
    if (fit.plane[k] === fit.plane[(k + 1) % n]) continue;
    for (let s = -SWITCH_PX; s <= SWITCH_PX; s++) {
      const m = (k + s + n) % n;
      if (fit.poor[m] || Math.abs(s) < 10) bridged[m] = 1;
    }
  }
  // On a small hole that would leave too little of it.
  if (bridged.reduce((sum, v) => sum + v, 0) < MOST_BRIDGED * n) {
    for (let k = 0; k < n; k++) if (bridged[k]) keep[k] = 0;
  }
  const printed = new Uint8Array(n);
  for (let k = 0; k < n; k++) {
    if (!printChanges(fit, k) || corners.some((c) => apart(c.at, k, n) < 2 * PRINT_REACH_PX))
      continue;
    const straight = n > LONG_PX && turnAcross(ring, k, PRINT_REACH_PX) < STRAIGHT_RAD;
    for (let s = -PRINT_REACH_PX; s <= PRINT_REACH_PX; s++) {
      printed[(k + s + n) % n] = 1;
      // The profile holds two edges there: where the edge runs on straight the line is drawn across.
      if (straight && Math.abs(s) < PRINT_REACH_PX - 2) keep[(k + s + n) % n] = 0;
    }
  }
  const list: { k: number; corner?: readonly [number, number] }[] = [];
  const cornerAt = new Map(corners.map((c) => [c.at, c.point] as const));
  for (let k = 0; k < n; k++) {
    const corner = cornerAt.get(k);
    if (corner) list.push({ k, corner });
    else if (keep[k]) list.push({ k });
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
    clipped: new Uint8Array(count),
    corner: new Uint8Array(count),
  };
  const doubt = new Float64Array(n);
  for (let k = 0; k < n; k++) {
    for (let s = -2; s <= 2; s++) doubt[k]! += fit.poor[(k + s + n) % n]! / 5;
  }
  list.forEach(({ k, corner }, i) => {
    const bend = corner || !keep[(k + 6) % n] || !keep[(k - 6 + n) % n] ? 0 : curvature(ring, k, 6);
    const pull = 0.5 * blurPx * blurPx * Math.max(-0.2, Math.min(0.2, bend));
    edge.x[i] = corner ? corner[0] : ring[2 * k]! + pull * normals[2 * k]!;
    edge.y[i] = corner ? corner[1] : ring[2 * k + 1]! + pull * normals[2 * k + 1]!;
    edge.nx[i] = normals[2 * k]!;
    edge.ny[i] = normals[2 * k + 1]!;
    edge.contrast[i] = fit.contrast[k]!;
    edge.ramp[i] = fit.ramp[k]!;
    edge.inside[i] = fit.inside[k]!;
    edge.outside[i] = fit.outside[k]!;
    edge.poor[i] = doubt[k]! > 0.5 ? 1 : 0;
    edge.clipped[i] = fit.clipped[k]!;
    edge.corner[i] = corner ? 1 : 0;
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
  });
  return edge;
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

interface Corner {
  readonly at: number;
  readonly point: readonly [number, number];
  /** Points each way whose profiles cross the other side. */
  readonly blind: number;
}

/** A corner is not sought farther from the contour found. */
const MOST_ROUNDED_PX = 6;

/**
 * Corners of a closed contour of points one px apart: where curves through both sides meet at an angle.
 * The sides reach to the next bend at most, so that a saw's teeth keep their points.
 */
function cornersOf(
  luma: LinearPlane,
  ring: Float64Array,
  normals: Float64Array,
  fit: Fit,
  blurPx: number,
): Corner[] {
  const n = ring.length >> 1;
  const gap = Math.max(3, Math.round(3 * blurPx));
  const arm = 5;
  const longest = 14;
  if (n < 4 * (gap + arm)) return [];
  const angle = new Float64Array(n);
  const dir = (k: number, s: number): [number, number] => {
    const a = 2 * ((k + s * (gap - 1) + n) % n);
    const b = 2 * ((k + s * (gap - 1 + arm) + 2 * n) % n);
    return [s * (ring[b]! - ring[a]!), s * (ring[b + 1]! - ring[a + 1]!)];
  };
  for (let k = 0; k < n; k++) {
    const [ux, uy] = dir(k, -1);
    const [vx, vy] = dir(k, 1);
    angle[k] = Math.abs(Math.atan2(ux * vy - uy * vx, ux * vx + uy * vy));
  }
  const peaks: number[] = [];
  for (let k = 0; k < n; k++) {
    if (angle[k]! < CORNER_RAD) continue;
    let peak = true;
    for (let s = -gap - 1; s <= gap + 1 && peak; s++) {
      const other = angle[(k + s + n) % n]!;
      if (other > angle[k]! || (other === angle[k] && s < 0)) peak = false;
    }
    if (peak) peaks.push(k);
  }
  const out: Corner[] = [];
  peaks.forEach((k, p) => {
    const before = (k - peaks[(p + peaks.length - 1) % peaks.length]! + n) % n || n;
    const after = (peaks[(p + 1) % peaks.length]! - k + n) % n || n;
    const back = side(ring, k, -1, gap, Math.min(gap + longest, before - gap));
    const forth = side(ring, k, 1, gap, Math.min(gap + longest, after - gap));
    if (!back || !forth) return;
    const meet = crossing(back, forth);
    if (!meet || meet.angle < CORNER_RAD) return;
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
    if (away > 0.8 && fit.contrast[l]! > 0.15 && fit.contrast[m]! > 0.15) {
      // The picture decides: half way to the meeting point it must be what the corner says it is.
      if (away > MOST_ROUNDED_PX) return;
      luma.need(ring[2 * k]! - 10, ring[2 * k + 1]! - 10, ring[2 * k]! + 10, ring[2 * k + 1]! + 10);
      const v = sample(luma, ring[2 * k]! + dx / 2, ring[2 * k + 1]! + dy / 2);
      const material = (v - outside) / (inside - outside);
      const convex = dx * normals[2 * k]! + dy * normals[2 * k + 1]! > 0;
      if (convex ? material < 0.35 : material > 0.65) return;
    } else if (away > rounded) return;
    if (Math.max(back.rest, forth.rest) > 0.3) return;
    const blind = Math.min(
      gap + 6,
      turn > Math.PI / 2 ? Math.max(gap, Math.round(4.5 / Math.tan(Math.PI - turn))) : gap,
    );
    out.push({ at: k, point: [meet.x, meet.y], blind });
  });
  return out;
}

interface Side {
  /** Place and direction at the corner's parameter: x = x0 + x1 s + x2 s². */
  readonly x: readonly [number, number, number];
  readonly y: readonly [number, number, number];
  readonly rest: number;
}

/** Least points for a straight side, and for a bent one. */
const STRAIGHT_SIDE = 4;
const BENT_SIDE = 10;

/**
 * Quadratic through the points from `near` to `far` steps away on one side of point k, in steps from k; a straight line
 * where they are few; undefined where they are too few.
 */
function side(
  ring: Float64Array,
  k: number,
  sign: number,
  near: number,
  far: number,
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
  const solve = m < BENT_SIDE ? solve2 : solve3;
  const x = solve(p as [number, number, number, number, number], bx as [number, number, number]);
  const y = solve(p as [number, number, number, number, number], by as [number, number, number]);
  let rest = 0;
  for (let s = near; s <= far; s++) {
    const at = 2 * ((k + sign * s + 2 * n) % n);
    const dx = ring[at]! - (x[0] + s * (x[1] + s * x[2]));
    const dy = ring[at + 1]! - (y[0] + s * (y[1] + s * y[2]));
    rest += dx * dx + dy * dy;
  }
  return { x, y, rest: Math.sqrt(rest / m) };
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

/** Where two sides meet (Newton's method from their starts), and the angle turned there. */
function crossing(a: Side, b: Side): { x: number; y: number; angle: number } | undefined {
  let s = 0;
  let t = 0;
  const at = (q: readonly [number, number, number], v: number): number =>
    q[0] + v * (q[1] + v * q[2]);
  const slope = (q: readonly [number, number, number], v: number): number => q[1] + 2 * v * q[2];
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
  const ux = -slope(a.x, s);
  const uy = -slope(a.y, s);
  const vx = slope(b.x, t);
  const vy = slope(b.y, t);
  return {
    x: at(a.x, s),
    y: at(a.y, s),
    angle: Math.abs(Math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)),
  };
}
