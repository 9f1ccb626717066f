import type { Picture } from '../picture/picture.ts';
import { lumaAt } from '../vision/luma.ts';
import { minimise, type Normal } from './least-squares.ts';
import type { Mark } from './view.ts';

export interface Blur {
  /** Standard deviation of a Gaussian that blurs a step as the picture does, px; the worse of the two directions. */
  readonly sigmaPx: number;
  /** Length of a check's side, px. */
  readonly pitchPx: number;
}

/** Edges measured; the median of a few dozen is steady to a few hundredths of a pixel. */
const EDGES = 60;
/** Reach of a profile to either side of the edge, as a share of the pitch: the dots begin at 0.3. */
const REACH = 0.27;

/** 8-bit sRGB -> linear light 0 to 1. Source: IEC 61966-2-1. */
const LINEAR = Float64Array.from({ length: 256 }, (_, v) => {
  const c = v / 255;
  return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
});
const linear = (luma: number): number => {
  const v = Math.max(0, Math.min(254.999, luma));
  const k = Math.floor(v);
  return LINEAR[k]! + (v - k) * (LINEAR[k + 1]! - LINEAR[k]!);
};

/**
 * The picture's blur, from the black|white edges between neighbouring marks: a blurred step is fitted to each in linear
 * light, and the medians of the two directions of edges are compared. undefined without enough edges.
 */
export function blurOf(
  picture: Picture,
  marks: readonly Pick<Mark, 'i' | 'j' | 'picture'>[],
): Blur | undefined {
  const at = new Map(marks.map((m) => [m.j * 4096 + m.i, m]));
  const pitches: number[] = [];
  const sigmas: [number[], number[]] = [[], []];
  const stride = Math.max(1, Math.floor(marks.length / EDGES));
  for (let k = 0; k < marks.length; k += stride) {
    const m = marks[k]!;
    for (const direction of [0, 1] as const) {
      const n = at.get((m.j + direction) * 4096 + m.i + 1 - direction);
      if (!n) continue;
      const dx = n.picture.x - m.picture.x;
      const dy = n.picture.y - m.picture.y;
      const length = Math.hypot(dx, dy);
      pitches.push(length);
      const sigma = edgeBlur(picture, m, dx, dy, length);
      if (sigma !== undefined) sigmas[direction].push(sigma);
    }
  }
  if (Math.min(sigmas[0].length, sigmas[1].length) < 4) return undefined;
  return {
    sigmaPx: Math.max(median(sigmas[0]), median(sigmas[1])),
    pitchPx: median(pitches),
  };
}

const median = (values: number[]): number => {
  values.sort((p, q) => p - q);
  return values[values.length >> 1]!;
};

/** Blur of the edge from a mark to its neighbour. */
function edgeBlur(
  picture: Picture,
  from: Pick<Mark, 'picture'>,
  dx: number,
  dy: number,
  length: number,
): number | undefined {
  const reach = REACH * length;
  const half = Math.ceil(0.5 * length);
  const cx = from.picture.x + dx / 2;
  const cy = from.picture.y + dy / 2;
  const left = Math.round(cx) - half;
  const top = Math.round(cy) - half;
  const right = left + 2 * half;
  const bottom = top + 2 * half;
  if (left < 0 || top < 0 || right >= picture.widthPx || bottom >= picture.heightPx)
    return undefined;
  // Pixels near the middle of the edge, by their signed distance from it.
  const profile = emptyProfile(Math.ceil((2 * reach) / BIN_PX) + 1);
  let pixels = 0;
  for (let y = top; y <= bottom; y++) {
    for (let x = left; x <= right; x++) {
      const px = x - cx;
      const py = y - cy;
      if (Math.abs(px * dx + py * dy) > 0.22 * length * length) continue;
      const across = (px * dy - py * dx) / length;
      if (Math.abs(across) > reach) continue;
      const bin = Math.floor((across + reach) / BIN_PX);
      profile.count[bin]!++;
      profile.t[bin]! += across;
      profile.v[bin]! += linear(lumaAt(picture, x, y));
      pixels++;
    }
  }
  if (pixels < 12) return undefined;
  let [low, high, lows, highs] = [0, 0, 0, 0];
  profile.count.forEach((count, bin) => {
    if (count === 0) return;
    profile.t[bin]! /= count;
    const t = profile.t[bin]!;
    if (t < -0.5 * reach) {
      low += profile.v[bin]!;
      lows += count;
    } else if (t > 0.5 * reach) {
      high += profile.v[bin]!;
      highs += count;
    }
    profile.v[bin]! /= count;
  });
  low /= lows;
  high /= highs;
  if (!(Math.abs(high - low) > 0.02)) return undefined;
  const fit = minimise(
    step(profile),
    Float64Array.of(low, high, 0, Math.log(Math.max(0.7, 0.05 * length))),
    {
      steps: 25,
      tolerance: 1e-5,
    },
  );
  const sigma = Math.exp(fit.x[3]!);
  return Math.abs(fit.x[2]!) < 0.5 * reach && sigma < 2 * reach ? sigma : undefined;
}

/** Pixels within so little of each other across the edge count as one, px: far less than any blur. */
const BIN_PX = 0.1;

/** Means over the pixels of each bin: place across the edge, value; and how many there are. */
interface Profile {
  readonly t: Float64Array;
  readonly v: Float64Array;
  readonly count: Float64Array;
}

const emptyProfile = (bins: number): Profile => ({
  t: new Float64Array(bins),
  v: new Float64Array(bins),
  count: new Float64Array(bins),
});

/** Beyond so many standard deviations a blurred step is level. */
const LEVEL = 6;

/** low + (high - low) Phi((t - shift) / sigma), its parameters (low, high, shift, ln sigma). */
function step({ t, v, count }: Profile) {
  const row = new Float64Array(4);
  const run = (p: Float64Array, into?: Normal): number => {
    const [low, high, shift] = [p[0]!, p[1]!, p[2]!];
    const sigma = Math.exp(p[3]!);
    let cost = 0;
    for (let k = 0; k < t.length; k++) {
      const weight = count[k]!;
      if (weight === 0) continue;
      const z = (t[k]! - shift) / sigma;
      const density = Math.abs(z) < LEVEL ? Math.exp(-0.5 * z * z) / Math.sqrt(2 * Math.PI) : 0;
      const phi = normalDistribution(z, density);
      const e = low + (high - low) * phi - v[k]!;
      cost += 0.5 * weight * e * e;
      if (!into) continue;
      const slope = (high - low) * density;
      row[0] = 1 - phi;
      row[1] = phi;
      row[2] = -slope / sigma;
      row[3] = -slope * z;
      for (let a = 0; a < 4; a++) {
        const w = weight * row[a]!;
        into.gradient[a]! += w * e;
        for (let b = a; b < 4; b++) into.matrix[4 * a + b]! += w * row[b]!;
      }
    }
    return Number.isFinite(cost) ? cost : Infinity;
  };
  return { size: 4, cost: (p: Float64Array) => run(p), linearise: run };
}

/**
 * Distribution function of the normal law to 8e-8. Source: Abramowitz and Stegun 26.2.17 (from memory).
 *
 * @param density the law's density at z
 */
function normalDistribution(z: number, density: number): number {
  const u = 1 / (1 + 0.2316419 * Math.abs(z));
  const tail =
    density *
    u *
    (0.31938153 + u * (-0.356563782 + u * (1.781477937 + u * (-1.821255978 + u * 1.330274429))));
  return z >= 0 ? 1 - tail : tail;
}
