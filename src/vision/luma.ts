import type { Point } from '../base/measure.ts';
import type { Picture } from '../picture/picture.ts';

/** Luma of 8-bit sRGB, Rec. 601 weights. Marks and outlines must be measured with the same weights: lateral colour of the lens shifts each channel by another amount. */
const RED = 0.299;
const GREEN = 0.587;
const BLUE = 0.114;

/** A plane of grey values (0 to 255) cut out of a picture and averaged over squares of `factor` pixels. */
export interface Plane {
  readonly width: number;
  readonly height: number;
  readonly data: Float32Array;
  readonly factor: number;
  /** First picture column and row the plane covers. */
  readonly left: number;
  readonly top: number;
}

/** A rectangle of whole picture pixels. */
export interface Crop {
  readonly left: number;
  readonly top: number;
  readonly width: number;
  readonly height: number;
}

/**
 * The green of a picture (or part of it), averaged over squares of `factor` pixels, for looking: marks are black on white, so
 * one channel finds them; they are measured in luma. An incomplete last row or column is left out. From a factor of 4 on
 * only the middle quarter of each square is read: the same centre, and noise enough is averaged.
 */
export function greenPlane(picture: Picture, factor: number, crop?: Crop): Plane {
  const { left, top } = crop ?? { left: 0, top: 0 };
  const width = Math.floor((crop?.width ?? picture.widthPx) / factor);
  const height = Math.floor((crop?.height ?? picture.heightPx) / factor);
  const { channels, data, widthPx } = picture;
  const out = new Float32Array(width * height);
  const skip = factor >= 4 ? factor >> 2 : 0;
  const side = factor - 2 * skip;
  const share = 1 / (side * side);
  const stride = factor * channels;
  for (let y = 0; y < height; y++) {
    const from = ((top + y * factor + skip) * widthPx + left + skip) * channels + 1;
    for (let x = 0, o = y * width, at = from; x < width; x++, o++, at += stride) {
      let sum = 0;
      for (let row = 0, a = at; row < side; row++, a += widthPx * channels) {
        for (let k = 0, b = a; k < side; k++, b += channels) sum += data[b]!;
      }
      out[o] = sum * share;
    }
  }
  return { width, height, data: out, factor, left, top };
}

/** Luma of one pixel, grey levels. */
export function lumaAt({ channels, data, widthPx }: Picture, x: number, y: number): number {
  const at = (y * widthPx + x) * channels;
  return RED * data[at]! + GREEN * data[at + 1]! + BLUE * data[at + 2]!;
}

/** Place in the plane -> place in the picture; pixel centres at integers in both. */
export const pictureOfPlane = (p: Plane, x: number, y: number): Point<'picture'> => ({
  x: (x + 0.5) * p.factor - 0.5 + p.left,
  y: (y + 0.5) * p.factor - 0.5 + p.top,
});

/** Place in the picture -> place in the plane. */
export const planeOfPicture = (p: Plane, q: Point<'picture'>): { x: number; y: number } => ({
  x: (q.x - p.left + 0.5) / p.factor - 0.5,
  y: (q.y - p.top + 0.5) / p.factor - 0.5,
});

/** Bilinear value of a plane; NaN outside. */
export function bilinear(p: Plane, x: number, y: number): number {
  const i = Math.floor(x);
  const j = Math.floor(y);
  if (!(i >= 0 && j >= 0 && i < p.width - 1 && j < p.height - 1)) return NaN;
  const u = x - i;
  const v = y - j;
  const at = j * p.width + i;
  const d = p.data;
  const upper = d[at]! + u * (d[at + 1]! - d[at]!);
  const lower = d[at + p.width]! + u * (d[at + p.width + 1]! - d[at + p.width]!);
  return upper + v * (lower - upper);
}

/**
 * Luma of a small square of whole pixels, row by row, into `out`.
 * @returns false when the square leaves the picture
 */
export function lumaSquare(
  picture: Picture,
  left: number,
  top: number,
  side: number,
  out: Float64Array,
): boolean {
  if (left < 0 || top < 0 || left + side > picture.widthPx || top + side > picture.heightPx) {
    return false;
  }
  const { channels, data, widthPx } = picture;
  for (let y = 0, o = 0; y < side; y++) {
    let at = ((top + y) * widthPx + left) * channels;
    for (let x = 0; x < side; x++, o++, at += channels) {
      out[o] = RED * data[at]! + GREEN * data[at + 1]! + BLUE * data[at + 2]!;
    }
  }
  return true;
}
