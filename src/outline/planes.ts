import type { Picture } from '../picture/picture.ts';
import { pictureOf } from '../view/model.ts';
import type { View } from '../view/view.ts';
import { LINEAR_OF_BYTE } from './linear.ts';

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

/** Averages the part of the picture that shows the sheet. */
export function planesOf(picture: Picture, view: View): Planes {
  const box = boxOfSheet(view);
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
  const linear = LINEAR_OF_BYTE;
  for (let j = 0; j < height; j++) {
    const row = j * width;
    for (let dy = 0; dy < step; dy++) {
      let from = ((top + j * step + dy) * widthPx + left) * channels;
      for (let i = 0; i < width; i++) {
        let r = 0;
        let g = 0;
        let b = 0;
        for (let dx = 0; dx < step; dx++, from += channels) {
          r += linear[data[from]!]!;
          g += linear[data[from + 1]!]!;
          b += linear[data[from + 2]!]!;
        }
        red[row + i]! += r;
        green[row + i]! += g;
        blue[row + i]! += b;
      }
    }
  }
  const share = 1 / (step * step);
  for (const plane of colour) for (let k = 0; k < plane.length; k++) plane[k]! *= share;
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
