import { native, scoped, type Vision } from './cv.ts';
import { bilinear, type Plane } from './luma.ts';

/** Saddle-shaped places of a plane, where two dark and two bright quarters meet. Struct of arrays; places in plane px. */
export interface Saddles {
  readonly count: number;
  readonly x: Float64Array;
  readonly y: Float64Array;
  /** Direction of the bright diagonal, radians in picture axes (x right, y down), modulo pi. */
  readonly bright: Float64Array;
  /** Half the difference between bright and dark quarters, grey levels. */
  readonly contrast: Float64Array;
}

const SIGMA = 1.2;
const RING = 16;
const RING_RADII = [3.5, 2.4];
/** Share of the second circular harmonic in the ring's variance; an ideal corner has 0.81. */
const LEAST_SHARE = 0.55;
const LEAST_CONTRAST = 4;
const cosines = Float64Array.from({ length: RING }, (_, k) => Math.cos((2 * Math.PI * k) / RING));
const sines = Float64Array.from({ length: RING }, (_, k) => Math.sin((2 * Math.PI * k) / RING));

/**
 * The second harmonic of the grey values on a circle: direction of the bright diagonal, amplitude, share of the variance.
 * The diagonal lies at minus half the angle of the coefficient of exp(-2 i phi), that is at +half of atan2(s, c) below.
 */
export function ringTest(
  sample: (x: number, y: number) => number,
  x: number,
  y: number,
  radius: number,
): { bright: number; contrast: number; share: number } | undefined {
  let sum = 0;
  let squares = 0;
  let c = 0;
  let s = 0;
  for (let k = 0; k < RING; k++) {
    const v = sample(x + radius * cosines[k]!, y + radius * sines[k]!);
    if (Number.isNaN(v)) return undefined;
    sum += v;
    squares += v * v;
    const twice = (2 * k) % RING;
    c += v * cosines[twice]!;
    s += v * sines[twice]!;
  }
  const variance = squares / RING - (sum / RING) ** 2;
  const amplitude = (2 / RING) * Math.hypot(c, s);
  return {
    bright: Math.atan2(s, c) / 2,
    contrast: amplitude,
    share: variance > 0 ? (amplitude * amplitude) / 2 / variance : 0,
  };
}

/** Finds saddles: maxima of fxy^2 - fxx fyy of the smoothed plane that pass the ring test. */
export function findSaddles(vision: Vision, plane: Plane): Saddles {
  const { width, height } = plane;
  if (width < 16 || height < 16) return gather([]);
  const smooth = gaussian(vision, plane, SIGMA);
  const strength = new Float32Array(width * height);
  for (let y = 1; y < height - 1; y++) {
    for (let at = y * width + 1, end = (y + 1) * width - 1; at < end; at++) {
      const twice = 2 * smooth[at]!;
      const xx = smooth[at - 1]! + smooth[at + 1]! - twice;
      const yy = smooth[at - width]! + smooth[at + width]! - twice;
      const xy =
        (smooth[at - width - 1]! +
          smooth[at + width + 1]! -
          smooth[at - width + 1]! -
          smooth[at + width - 1]!) /
        4;
      strength[at] = xy * xy - xx * yy;
    }
  }
  const found: [x: number, y: number, bright: number, contrast: number][] = [];
  const value = (x: number, y: number): number => bilinear(plane, x, y);
  for (let y = 3; y < height - 3; y++) {
    for (let x = 3, at = y * width + 3; x < width - 3; x++, at++) {
      const s = strength[at]!;
      if (s < 1 || !isMaximum(strength, width, at, s)) continue;
      const step = newton(smooth, width, at);
      if (!step) continue;
      const px = x + step.x;
      const py = y + step.y;
      for (const radius of RING_RADII) {
        const ring = ringTest(value, px, py, radius);
        if (!ring || ring.share < LEAST_SHARE || ring.contrast < LEAST_CONTRAST) continue;
        found.push([px, py, ring.bright, ring.contrast]);
        break;
      }
    }
  }
  return gather(found);
}

function gather(found: readonly (readonly [number, number, number, number])[]): Saddles {
  return {
    count: found.length,
    x: Float64Array.from(found, (f) => f[0]),
    y: Float64Array.from(found, (f) => f[1]),
    bright: Float64Array.from(found, (f) => f[2]),
    contrast: Float64Array.from(found, (f) => f[3]),
  };
}

function gaussian(vision: Vision, plane: Plane, sigma: number): Float32Array {
  const { cv } = vision;
  return scoped((keep) =>
    native(vision, 'GaussianBlur', () => {
      const image = keep(new cv.Mat(plane.height, plane.width, cv.CV_32FC1));
      image.data32F.set(plane.data);
      cv.GaussianBlur(image, image, new cv.Size(7, 7), sigma, sigma, cv.BORDER_REPLICATE);
      return image.data32F.slice();
    }),
  );
}

function isMaximum(s: Float32Array, width: number, at: number, value: number): boolean {
  for (let dy = -2; dy <= 2; dy++) {
    for (let dx = -2; dx <= 2; dx++) {
      const other = s[at + dy * width + dx]!;
      // Of two equal values the first in reading order wins.
      if (other > value || (other === value && (dy < 0 || (dy === 0 && dx < 0)))) return false;
    }
  }
  return true;
}

/** One Newton step from a pixel to the place where the gradient vanishes. */
function newton(f: Float32Array, width: number, at: number): { x: number; y: number } | undefined {
  const gx = (f[at + 1]! - f[at - 1]!) / 2;
  const gy = (f[at + width]! - f[at - width]!) / 2;
  const xx = f[at + 1]! + f[at - 1]! - 2 * f[at]!;
  const yy = f[at + width]! + f[at - width]! - 2 * f[at]!;
  const xy =
    (f[at + width + 1]! + f[at - width - 1]! - f[at + width - 1]! - f[at - width + 1]!) / 4;
  const det = xx * yy - xy * xy;
  if (det >= 0) return undefined;
  const x = -(yy * gx - xy * gy) / det;
  const y = -(xx * gy - xy * gx) / det;
  return Math.abs(x) <= 1.5 && Math.abs(y) <= 1.5 ? { x, y } : undefined;
}
