import { STAGE, type Backdrop } from './backdrop.ts';
import { inTile, type LinearLuma } from './linear.ts';
import type { Planes } from './planes.ts';

/** Where brightness or colour steps as sharply as the lens allows: an edge of a thing, not of a shadow. */
export interface Steps {
  /** 1 where a sharp step runs through the coarse pixel. */
  readonly sharp: Uint8Array;
  /** ln of the brightness step there. */
  readonly height: Float32Array;
}

/** Coarse pixels whose surroundings vary less than this (ln) are not looked at in full size. */
const LEAST_COARSE_STEP = 0.025;
const LEAST_STEP = 0.03;
/** A step is sharp when it is at most this many blurs wide; penumbras are wider. */
const WIDEST_IN_BLURS = 1.7;
/** A change of colour this large is no shadow's. */
const CHROMA_STEP = 0.1;

/**
 * Finds sharp steps; full-size pixels are read only where the coarse picture varies.
 *
 * @param sure coarse pixels that are certainly blank
 */
export function stepsOf(
  planes: Planes,
  backdrop: Backdrop,
  sure: Uint8Array,
  luma: LinearLuma,
  blurPx: number,
): Steps {
  const { width, height, step, left, top } = planes;
  const count = width * height;
  const { kind, level, chroma, chromaSigma } = backdrop;
  const active = new Uint8Array(count);
  for (let j = 1; j < height - 1; j++) {
    for (let i = 1; i < width - 1; i++) {
      const k = j * width + i;
      if (kind[k] !== STAGE) continue;
      const across = Math.abs(level[k + 1]! - level[k - 1]!);
      const down = Math.abs(level[k + width]! - level[k - width]!);
      if (Math.max(across, down) > LEAST_COARSE_STEP && !allSure(sure, k, width)) {
        for (let b = -width; b <= width; b += width) {
          active[k + b - 1] = active[k + b] = active[k + b + 1] = 1;
        }
      }
    }
  }
  // Binomial blur, so that noise does not make the step; it widens the lens's blur.
  const blur = Math.sqrt(blurPx * blurPx + 0.5);
  const low = new Float32Array(count);
  const high = new Float32Array(count);
  const steep = new Float32Array(count);
  const side = step + 4;
  const looking = closeLook(luma, step);
  for (let j = 1; j < height - 1; j++) {
    for (let i = 1; i < width - 1; i++) {
      const k = j * width + i;
      if (!active[k]) continue;
      const x0 = left + i * step - 2;
      const y0 = top + j * step - 2;
      if (x0 < 0 || y0 < 0 || x0 + side > luma.widthPx || y0 + side > luma.heightPx) continue;
      luma.need(x0, y0, x0 + side - 1, y0 + side - 1);
      look(looking, x0, y0);
      low[k] = looking.least;
      high[k] = looking.most;
      steep[k] = looking.grade;
    }
  }
  const sharp = new Uint8Array(count);
  const stepHeight = new Float32Array(count);
  const darkest = new Float32Array(count);
  for (let j = 1; j < height - 1; j++) {
    for (let k = j * width + 1; k < (j + 1) * width - 1; k++) {
      if (kind[k] !== STAGE || !(high[k]! > 0)) continue;
      darkest[k] = leastAround(low, high, k, width);
      stepHeight[k] = Math.log(mostAround(high, k, width) / darkest[k]!);
    }
  }
  const noise = noiseOf(stepHeight, darkest, backdrop);
  const perBlur = 1 / (2.5 * WIDEST_IN_BLURS * blur);
  for (let j = 1; j < height - 1; j++) {
    for (let k = j * width + 1; k < (j + 1) * width - 1; k++) {
      if (kind[k] !== STAGE) continue;
      const d = stepHeight[k]!;
      if (d > LEAST_STEP + noise / Math.sqrt(darkest[k]!) && steep[k]! > d * perBlur) sharp[k] = 1;
      if (chromaStepped(chroma, k, width, CHROMA_STEP + 5 * chromaSigma[k]!)) sharp[k] = 1;
    }
  }
  return { sharp, height: stepHeight };
}

/** What one coarse pixel shows at full size, and the room to look at it. */
interface CloseLook {
  readonly luma: LinearLuma;
  readonly step: number;
  /** The square with a rim of two pixels, blurred along rows, then both ways with a rim of one. */
  readonly rows: Int32Array;
  readonly smooth: Int32Array;
  /** Least and greatest light, and the greatest relative gradient per pixel. */
  least: number;
  most: number;
  grade: number;
}

const closeLook = (luma: LinearLuma, step: number): CloseLook => ({
  luma,
  step,
  rows: new Int32Array((step + 4) * (step + 2)),
  smooth: new Int32Array((step + 2) * (step + 2)),
  least: 0,
  most: 0,
  grade: 0,
});

/** Looks at the square whose rim begins at (x0, y0). */
function look(into: CloseLook, x0: number, y0: number): void {
  const { luma, step, rows, smooth } = into;
  const w = step + 2;
  for (let y = y0, n = 0; y < y0 + step + 4; y++) {
    for (let x = x0; x < x0 + w; x++, n++) {
      const tile = luma.tileAt(x, y);
      const at = inTile(x, y);
      rows[n] = tile[at]! + 2 * tile[at + 1]! + tile[at + 2]!;
    }
  }
  for (let n = 0; n < w * w; n++) {
    // 1000 of 16 x 65535 keeps the logarithm finite in the dark.
    smooth[n] = rows[n]! + 2 * rows[n + w]! + rows[n + 2 * w]! + 1000;
  }
  let least = smooth[w + 1]!;
  let most = least;
  let grade = 0;
  for (let y = 1; y <= step; y++) {
    for (let n = y * w + 1, end = n + step; n < end; n++) {
      const v = smooth[n]!;
      if (v < least) least = v;
      if (v > most) most = v;
      const gx = (smooth[n + 1]! - smooth[n - 1]!) / v;
      const gy = (smooth[n + w]! - smooth[n - w]!) / v;
      const g = gx * gx + gy * gy;
      if (g > grade) grade = g;
    }
  }
  into.least = least;
  into.most = most;
  into.grade = Math.sqrt(grade) / 2;
}

/** The least light of a coarse pixel and its neighbours, as far as they were looked at. */
function leastAround(low: Float32Array, high: Float32Array, k: number, width: number): number {
  let least = low[k]!;
  for (let b = k - width; b <= k + width; b += width) {
    for (let a = b - 1; a <= b + 1; a++) {
      if (high[a]! > 0 && low[a]! < least) least = low[a]!;
    }
  }
  return least;
}

function mostAround(high: Float32Array, k: number, width: number): number {
  let most = high[k]!;
  for (let b = k - width; b <= k + width; b += width) {
    for (let a = b - 1; a <= b + 1; a++) if (high[a]! > most) most = high[a]!;
  }
  return most;
}

/** Whether the colour of a coarse pixel and its neighbours changes by more than `limit`. */
function chromaStepped(chroma: Float32Array, k: number, width: number, limit: number): boolean {
  let low = chroma[k]!;
  let high = low;
  for (let b = k - width; b <= k + width; b += width) {
    for (let a = b - 1; a <= b + 1; a++) {
      const c = chroma[a]!;
      if (c < low) low = c;
      else if (c > high) high = c;
    }
  }
  return high - low > limit;
}

/** Within what is certainly blank no step is of use. */
function allSure(sure: Uint8Array, k: number, width: number): boolean {
  for (let b = k - width; b <= k + width; b += width) {
    if (!(sure[b - 1] && sure[b] && sure[b + 1])) return false;
  }
  return true;
}

/** Share of the lit sheet that must look stepped before the steps are taken for noise. */
const NOISY_SHARE = 0.02;

/**
 * Steps (ln) that noise makes on lit sheet, as a factor on 1/sqrt(brightness), with room for the largest; nought where the
 * sheet is quiet, because then only edges were looked at.
 */
function noiseOf(height: Float32Array, darkest: Float32Array, { kind, level }: Backdrop): number {
  const steps: number[] = [];
  let lit = 0;
  for (let k = 0; k < kind.length; k++) {
    if (kind[k] !== STAGE || Math.abs(level[k]!) > 0.1) continue;
    lit++;
    if (darkest[k]! > 0) steps.push(height[k]! * Math.sqrt(darkest[k]!));
  }
  if (steps.length < Math.max(50, NOISY_SHARE * lit)) return 0;
  steps.sort((a, b) => a - b);
  return 1.5 * steps[Math.floor(0.7 * steps.length)]!;
}
