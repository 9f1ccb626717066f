import { inTile, TILE_ROW, type LinearPlane } from './linear.ts';

const LIGHT = 1 / 65535;
/** Profiles are read and models scanned in these steps, px. */
export const SAMPLE_STEP = 0.5;
const SCAN_STEP = 0.25;
/** Most cameras keep colour at half size: so much blur more, px. */
export const COLOUR_BLUR_PX = 0.8;

/** Catmull-Rom interpolation of linear luma; the pixels must have been asked for. */
export function sample(luma: LinearPlane, x: number, y: number): number {
  const i = Math.min(luma.widthPx - 3, Math.max(1, Math.floor(x)));
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
  const v = luma.tileAt(i, j);
  let at = inTile(i, j) - TILE_ROW - 1;
  let sum =
    (-0.5 * y3 + y2 - 0.5 * fy) * (a * v[at]! + b * v[at + 1]! + c * v[at + 2]! + d * v[at + 3]!);
  at += TILE_ROW;
  sum +=
    (1.5 * y3 - 2.5 * y2 + 1) * (a * v[at]! + b * v[at + 1]! + c * v[at + 2]! + d * v[at + 3]!);
  at += TILE_ROW;
  sum +=
    (-1.5 * y3 + 2 * y2 + 0.5 * fy) *
    (a * v[at]! + b * v[at + 1]! + c * v[at + 2]! + d * v[at + 3]!);
  at += TILE_ROW;
  sum += (0.5 * y3 - 0.5 * y2) * (a * v[at]! + b * v[at + 1]! + c * v[at + 2]! + d * v[at + 3]!);
  return sum * LIGHT;
}

/** Bilinear value, for what need not be exact. */
export function roughly(plane: LinearPlane, x: number, y: number): number {
  const i = Math.min(plane.widthPx - 2, Math.max(0, Math.floor(x)));
  const j = Math.min(plane.heightPx - 2, Math.max(0, Math.floor(y)));
  const v = plane.tileAt(i, j);
  const at = inTile(i, j);
  const below = at + TILE_ROW;
  const fx = x - i;
  const upper = v[at]! + fx * (v[at + 1]! - v[at]!);
  const lower = v[below]! + fx * (v[below + 1]! - v[below]!);
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
export interface Models {
  readonly samples: number;
  /** The first sample lies this far inside, px. */
  readonly innerPx: number;
  readonly places: Float64Array;
  readonly erf: readonly Float64Array[][];
  readonly ramp: readonly Float64Array[][];
}

/** Length of a profile each way, px. */
export const halfOf = (blurPx: number): number => Math.max(4.5, 3.5 * blurPx);

/** @param innerPx, outerPx length of the profile to the inside and to the outside */
export function modelsOf(
  blurPx: number,
  reach: number,
  innerPx = halfOf(blurPx),
  outerPx = halfOf(blurPx),
): Models {
  const inner = Math.round(innerPx / SAMPLE_STEP);
  const samples = inner + Math.round(outerPx / SAMPLE_STEP) + 1;
  const count = 2 * Math.round(reach / SCAN_STEP) + 1;
  const places = Float64Array.from({ length: count }, (_, k) => -reach + k * SCAN_STEP);
  const columns = (place: number, ramp: boolean): Float64Array[] => {
    const one = new Float64Array(samples).fill(1);
    const step = new Float64Array(samples);
    const left = new Float64Array(samples);
    const right = new Float64Array(samples);
    for (let k = 0; k < samples; k++) {
      const d = (k - inner) * SAMPLE_STEP - place;
      const rise = risen(d, blurPx);
      step[k] = rise.step;
      right[k] = rise.ramp;
      left[k] = d - rise.ramp;
    }
    return orthonormal(ramp ? [one, step, left, right] : [one, step]);
  };
  return {
    samples,
    innerPx: inner * SAMPLE_STEP,
    places,
    erf: Array.from(places, (p) => columns(p, false)),
    ramp: Array.from(places, (p) => columns(p, true)),
  };
}

/** The edge is sought this far each way from where it was followed. */
const SCAN_PX = 1.5;

/** No profile is shorter to either side, px. */
const LEAST_PROFILE_PX = 1.5;

/** The edge models of one blur; for shorter profiles too, where another edge is near. */
export class ModelSet {
  readonly whole: Models;
  private readonly short = new Map<number, Models>();

  constructor(private readonly blurPx: number) {
    this.whole = modelsOf(blurPx, SCAN_PX);
  }

  /** @param room as roomsOf gives it */
  within(room: number): Models {
    const half = halfOf(this.blurPx);
    const free = Math.max(LEAST_PROFILE_PX, Math.abs(room) - 2 * this.blurPx);
    if (room === 0 || free >= half) return this.whole;
    const key = Math.sign(room) * Math.round(free / SAMPLE_STEP);
    let models = this.short.get(key);
    if (!models) {
      models = modelsOf(this.blurPx, SCAN_PX, room < 0 ? free : half, room > 0 ? free : half);
      this.short.set(key, models);
    }
    return models;
  }
}

/** A blurred step at 0 and its integral, a blurred ramp. */
export function risen(d: number, blurPx: number): { step: number; ramp: number } {
  const z = d / blurPx;
  const step = 0.5 * (1 + erf(z / Math.SQRT2));
  return { step, ramp: d * step + (blurPx * Math.exp(-0.5 * z * z)) / Math.sqrt(2 * Math.PI) };
}

export function orthonormal(columns: Float64Array[]): Float64Array[] {
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
export function place(
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
