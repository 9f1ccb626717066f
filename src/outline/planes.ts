import type { Picture } from '../picture/picture.ts';
import { isScanner, pictureOf } from '../view/model.ts';
import type { View } from '../view/view.ts';
import { linearOfCoded } from './linear.ts';

/** Three planes of linear light (0 to 1), each pixel the average of `step` x `step` picture pixels. */
export interface Planes {
  /** Picture px of the upper left corner pixel of coarse pixel (0, 0). */
  readonly left: number;
  readonly top: number;
  readonly step: number;
  readonly width: number;
  readonly height: number;
  readonly colour: readonly [Float32Array, Float32Array, Float32Array];
}

/** Side of a coarse pixel aimed at, mm on the sheet. */
const COARSE_MM = 0.4;

/** Linear light of each 8-bit coded value in whole numbers, which add faster; 64 of the greatest stay below 2^31. */
const LIGHT_SCALE = 2 ** 24;
const LIGHT = Int32Array.from({ length: 256 }, (_, v) =>
  Math.round(LIGHT_SCALE * linearOfCoded(v / 255)),
);

/** Averages the part of the picture that shows the sheet; of a scan all of it. */
export function planesOf(picture: Picture, view: View): Planes {
  const box = isScanner(view.eye)
    ? ([0, 0, picture.widthPx, picture.heightPx] as const)
    : boxOfSheet(view);
  const step = Math.min(8, Math.max(1, Math.round(COARSE_MM / view.mmPerPx)));
  const left = Math.max(0, Math.floor(box[0] / step) * step);
  const top = Math.max(0, Math.floor(box[1] / step) * step);
  const width = Math.floor((Math.min(picture.widthPx, Math.ceil(box[2])) - left) / step);
  const height = Math.floor((Math.min(picture.heightPx, Math.ceil(box[3])) - top) / step);
  const colour = [0, 1, 2].map(
    () => new Float32Array(width * height),
  ) as unknown as Planes['colour'];
  const [red, green, blue] = colour;
  const { data, channels, widthPx } = picture;
  const sums = [0, 1, 2].map(() => new Int32Array(width)) as [Int32Array, Int32Array, Int32Array];
  const [reds, greens, blues] = sums;
  const share = 1 / (LIGHT_SCALE * step * step);
  for (let j = 0; j < height; j++) {
    for (const sum of sums) sum.fill(0);
    for (let dy = 0; dy < step; dy++) {
      let from = ((top + j * step + dy) * widthPx + left) * channels;
      for (let i = 0; i < width; i++) {
        let r = 0;
        let g = 0;
        let b = 0;
        for (let dx = 0; dx < step; dx++, from += channels) {
          r += LIGHT[data[from]!]!;
          g += LIGHT[data[from + 1]!]!;
          b += LIGHT[data[from + 2]!]!;
        }
        reds[i]! += r;
        greens[i]! += g;
        blues[i]! += b;
      }
    }
    for (let i = 0, k = j * width; i < width; i++, k++) {
      red[k] = reds[i]! * share;
      green[k] = greens[i]! * share;
      blue[k] = blues[i]! * share;
    }
  }
  return { left, top, step, width, height, colour };
}

/** Picture px around the paper: left, top, right, bottom. */
function boxOfSheet(view: View): [number, number, number, number] {
  const { widthMm, heightMm } = view.sheet;
  const box: [number, number, number, number] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let k = 0; k <= 16; k++) {
    const s = k / 16;
    for (const [x, y] of [
      [s * widthMm, 0],
      [s * widthMm, heightMm],
      [0, s * heightMm],
      [widthMm, s * heightMm],
    ] as const) {
      const at = pictureOf(view.eye, x, y, 0);
      box[0] = Math.min(box[0], at.x);
      box[1] = Math.min(box[1], at.y);
      box[2] = Math.max(box[2], at.x);
      box[3] = Math.max(box[3], at.y);
    }
  }
  return box;
}
