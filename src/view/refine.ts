import type { Point } from '../base/measure.ts';
import type { Picture } from '../picture/picture.ts';
import { lumaSquare } from '../vision/luma.ts';
import { ringTest } from '../vision/saddles.ts';

/** A corner at full size, and how far it can be believed. */
export interface Corner {
  readonly at: Point<'picture'>;
  /** Direction of the bright diagonal, radians in picture axes, modulo pi. */
  readonly bright: number;
  /** Half the difference between bright and dark quarters, grey levels. */
  readonly contrast: number;
  /** Root mean square of the point-asymmetry, grey levels. */
  readonly asymmetry: number;
}

const STEPS = 10;
const TAPS = 6;
const LEAST_RADIUS = 3;
const GREATEST_RADIUS = 9;

/** Weights by squared distance from the centre, for each radius: a Gaussian of 0.6 of it. */
const WEIGHTS = Array.from({ length: GREATEST_RADIUS + 1 }, (_, r) =>
  Float64Array.from({ length: r * r + 1 }, (_, d2) => Math.exp(-d2 / (2 * (0.6 * r) ** 2))),
);

/** Lanczos kernel of three lobes for a shift of `f` (0 to 1) between the third and the fourth tap; weights add up to 1. */
function lanczos(f: number, out: Float64Array): void {
  let sum = 0;
  for (let k = 0; k < TAPS; k++) {
    const x = Math.PI * (f + 2 - k);
    const w = Math.abs(x) < 1e-9 ? 1 : (3 * Math.sin(x) * Math.sin(x / 3)) / (x * x);
    out[k] = w;
    sum += w;
  }
  for (let k = 0; k < TAPS; k++) out[k]! /= sum;
}

/** Work space for corners up to the greatest radius; one per picture. */
export class Refiner {
  private readonly side = 2 * (GREATEST_RADIUS + 1) + TAPS;
  private readonly raw = new Float64Array(this.side * this.side);
  private readonly rows = new Float64Array(this.side * this.side);
  private readonly patch = new Float64Array(this.side * this.side);
  private readonly wx = new Float64Array(TAPS);
  private readonly wy = new Float64Array(TAPS);
  /** Where `raw` was read, and its side; 0 for nowhere. */
  private left = 0;
  private top = 0;
  private wide = 0;

  constructor(private readonly picture: Picture) {}

  /**
   * The corner near a place, at full size: the centre about which the picture is most nearly point-symmetric.
   *
   * Minimises sum w(u) (I(c + u) - I(c - u))^2 over c by Gauss-Newton, w a Gaussian over a disc of a quarter of the pitch
   * (3 to 9 px), I by Lanczos sampling. Needs no model of the blur and hardly minds tone curves.
   *
   * @param pitch length of a check's side here, px
   * @param reach greatest distance from the start, px
   * @returns undefined when the picture ends, nothing corner-like is there, or the centre runs away
   */
  corner(start: Point<'picture'>, pitch: number, reach: number): Corner | undefined {
    const r = Math.max(LEAST_RADIUS, Math.min(GREATEST_RADIUS, Math.round(pitch / 4)));
    const side = 2 * r + 3;
    let { x, y } = start;
    let asymmetry = 0;
    for (let step = 0; step < STEPS; step++) {
      if (!this.sample(x, y, r + 1)) return undefined;
      const p = this.patch;
      const weightOf = WEIGHTS[r]!;
      const middle = (r + 1) * side + r + 1;
      let xx = 0,
        xy = 0,
        yy = 0,
        gx = 0,
        gy = 0,
        sum = 0,
        weights = 0;
      for (let v = 0; v <= r; v++) {
        for (let u = v === 0 ? 1 : -r; u <= r; u++) {
          const d2 = u * u + v * v;
          if (d2 > r * r) continue;
          const w = weightOf[d2]!;
          const a = middle + v * side + u;
          const b = middle - v * side - u;
          const e = p[a]! - p[b]!;
          const dx = (p[a + 1]! - p[a - 1]! - p[b + 1]! + p[b - 1]!) / 2;
          const dy = (p[a + side]! - p[a - side]! - p[b + side]! + p[b - side]!) / 2;
          xx += w * dx * dx;
          xy += w * dx * dy;
          yy += w * dy * dy;
          gx += w * dx * e;
          gy += w * dy * e;
          sum += w * e * e;
          weights += w;
        }
      }
      asymmetry = Math.sqrt(sum / weights);
      const det = xx * yy - xy * xy;
      if (!(det > 1e-3 * (xx + yy) ** 2) || xx + yy < weights) return undefined;
      let sx = -(yy * gx - xy * gy) / det;
      let sy = -(xx * gy - xy * gx) / det;
      const length = Math.hypot(sx, sy);
      if (length > 1) {
        sx /= length;
        sy /= length;
      }
      x += sx;
      y += sy;
      if (Math.hypot(x - start.x, y - start.y) > reach) return undefined;
      if (length < 1e-3) break;
    }
    if (!this.sample(x, y, r + 1)) return undefined;
    const ring = ringTest(
      (u, v) => this.fromPatch(side, r + 1 + u, r + 1 + v),
      0,
      0,
      Math.min(r, Math.max(2.4, 0.28 * pitch)),
    );
    if (!ring || ring.share < 0.5) return undefined;
    return { at: { x, y }, bright: ring.bright, contrast: ring.contrast, asymmetry };
  }

  /** Samples the square of +-half about a place into `patch`. */
  private sample(x: number, y: number, half: number): boolean {
    const left = Math.floor(x);
    const top = Math.floor(y);
    const side = 2 * half + 1;
    const wide = side + TAPS - 1;
    const { raw, rows, patch, wx, wy } = this;
    // Most steps stay within the same pixel.
    if (left !== this.left || top !== this.top || wide !== this.wide) {
      this.wide = 0;
      if (!lumaSquare(this.picture, left - half - 2, top - half - 2, wide, raw)) return false;
      [this.left, this.top, this.wide] = [left, top, wide];
    }
    lanczos(x - left, wx);
    lanczos(y - top, wy);
    const [a, b, c, d, e, f] = wx as unknown as [number, number, number, number, number, number];
    for (let j = 0; j < wide; j++) {
      for (let i = 0, at = j * wide, o = j * side; i < side; i++, at++, o++) {
        rows[o] =
          a * raw[at]! +
          b * raw[at + 1]! +
          c * raw[at + 2]! +
          d * raw[at + 3]! +
          e * raw[at + 4]! +
          f * raw[at + 5]!;
      }
    }
    const [a2, b2, c2, d2, e2, f2] = wy as unknown as [
      number,
      number,
      number,
      number,
      number,
      number,
    ];
    for (let j = 0; j < side; j++) {
      for (let i = 0, at = j * side; i < side; i++, at++) {
        patch[at] =
          a2 * rows[at]! +
          b2 * rows[at + side]! +
          c2 * rows[at + 2 * side]! +
          d2 * rows[at + 3 * side]! +
          e2 * rows[at + 4 * side]! +
          f2 * rows[at + 5 * side]!;
      }
    }
    return true;
  }

  private fromPatch(side: number, x: number, y: number): number {
    const i = Math.max(0, Math.min(side - 2, Math.floor(x)));
    const j = Math.max(0, Math.min(side - 2, Math.floor(y)));
    const u = x - i;
    const v = y - j;
    const at = j * side + i;
    const p = this.patch;
    return (
      (p[at]! * (1 - u) + p[at + 1]! * u) * (1 - v) +
      (p[at + side]! * (1 - u) + p[at + side + 1]! * u) * v
    );
  }
}
