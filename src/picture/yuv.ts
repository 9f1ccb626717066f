import type { Picture } from './picture.ts';

/** The planes of a JPEG as it stores them: luma at full size, colour at half size both ways (4:2:0), full range. */
export interface Planes420 {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly data: Uint8Array;
  /** Where each plane begins, and bytes from row to row: luma, blue, red. */
  readonly layout: readonly { readonly offset: number; readonly stride: number }[];
}

/** Columns that are converted together: a turned picture is written down its columns, and few stay in the cache. */
const STRIP = 256;

/** What colour adds to the channels, by its byte less 128. Source: ITU-T T.871 (JFIF), in 1/65536 and rounded. */
const FIXED = 65536;
const ROUND = FIXED / 2;
const table = (factor: number, round: number): Int32Array =>
  Int32Array.from({ length: 256 }, (_, v) => Math.round(factor * FIXED) * (v - 128) + round);
const RED_OF_RED = table(1.402, ROUND).map((v) => v >> 16);
const BLUE_OF_BLUE = table(1.772, ROUND).map((v) => v >> 16);
const GREEN_OF_RED = table(-0.714136286, 0);
const GREEN_OF_BLUE = table(-0.344136286, ROUND);

/**
 * Upright sRGB pixels of 4:2:0 planes. Colour is carried to full size by a triangle filter: three parts of the nearer sample,
 * one of the farther, along both axes, rounded as the usual JPEG library does, so that both give the same picture.
 *
 * @param orientation EXIF orientation 1 to 8 of the stored planes
 */
export function pixelsOf(
  planes: Planes420,
  orientation: number,
): Pick<Picture, 'widthPx' | 'heightPx' | 'channels' | 'data'> {
  const { widthPx: width, heightPx: height, data, layout } = planes;
  const [luma, blue, red] = layout as [
    Planes420['layout'][0],
    Planes420['layout'][0],
    Planes420['layout'][0],
  ];
  const out = new Uint8ClampedArray(3 * width * height);
  const { first, right, down } = stepsOf(width, height, orientation);
  const halfHeight = (height + 1) >> 1;
  const lastColumn = ((width + 1) >> 1) - 1;
  for (let x = 0; x < width; x += STRIP) {
    const end = Math.min(width, x + STRIP);
    for (let y = 0; y < height; y++) {
      const near = y >> 1;
      const far = Math.max(0, Math.min(halfHeight - 1, near + (y & 1 ? 1 : -1)));
      const from = luma.offset + y * luma.stride;
      const at = 3 * (first + x * right + y * down);
      const [b, r] = [blue.offset + near * blue.stride, red.offset + near * red.stride];
      const beside = (far - near) * blue.stride;
      convert(data, out, from, b, r, beside, lastColumn, x, end, at, 3 * right);
    }
  }
  const turned = orientation >= 5;
  return {
    widthPx: turned ? height : width,
    heightPx: turned ? width : height,
    channels: 3,
    data: out,
  };
}

/**
 * Converts a piece of a row.
 *
 * @param luma, blue, red where the row's samples begin in the planes; the nearer row of colour
 * @param beside bytes from the nearer row of colour to the farther, in both planes
 * @param x, end columns of the picture, from an even one on; `end` is not among them
 * @param at, step byte of the first pixel, and bytes from one to the next
 */
function convert(
  data: Uint8Array,
  out: Uint8ClampedArray,
  luma: number,
  blue: number,
  red: number,
  beside: number,
  lastColumn: number,
  x: number,
  end: number,
  at: number,
  step: number,
): void {
  const blueFar = blue + beside;
  const redFar = red + beside;
  let column = x >> 1;
  const before = Math.max(0, column - 1);
  let lastBlue = 3 * data[blue + before]! + data[blueFar + before]!;
  let lastRed = 3 * data[red + before]! + data[redFar + before]!;
  let thisBlue = 3 * data[blue + column]! + data[blueFar + column]!;
  let thisRed = 3 * data[red + column]! + data[redFar + column]!;
  for (; x < end; x += 2) {
    if (column < lastColumn) column++;
    const nextBlue = 3 * data[blue + column]! + data[blueFar + column]!;
    const nextRed = 3 * data[red + column]! + data[redFar + column]!;
    let b = (3 * thisBlue + lastBlue + 8) >> 4;
    let r = (3 * thisRed + lastRed + 8) >> 4;
    let v = data[luma + x]!;
    out[at] = v + RED_OF_RED[r]!;
    out[at + 1] = v + ((GREEN_OF_BLUE[b]! + GREEN_OF_RED[r]!) >> 16);
    out[at + 2] = v + BLUE_OF_BLUE[b]!;
    at += step;
    if (x + 1 < end) {
      b = (3 * thisBlue + nextBlue + 7) >> 4;
      r = (3 * thisRed + nextRed + 7) >> 4;
      v = data[luma + x + 1]!;
      out[at] = v + RED_OF_RED[r]!;
      out[at + 1] = v + ((GREEN_OF_BLUE[b]! + GREEN_OF_RED[r]!) >> 16);
      out[at + 2] = v + BLUE_OF_BLUE[b]!;
      at += step;
    }
    lastBlue = thisBlue;
    lastRed = thisRed;
    thisBlue = nextBlue;
    thisRed = nextRed;
  }
}

/** Number of the upright pixel that shows stored pixel (0, 0), and steps to those of its neighbours right and below. */
function stepsOf(
  width: number,
  height: number,
  orientation: number,
): { first: number; right: number; down: number } {
  // Upright rows are as long as the stored ones, or as the stored columns.
  const row = orientation >= 5 ? height : width;
  const end = width * height;
  switch (orientation) {
    case 2:
      return { first: width - 1, right: -1, down: row };
    case 3:
      return { first: end - 1, right: -1, down: -row };
    case 4:
      return { first: end - row, right: 1, down: -row };
    case 5:
      return { first: 0, right: row, down: 1 };
    case 6:
      return { first: row - 1, right: row, down: -1 };
    case 7:
      return { first: end - 1, right: -row, down: -1 };
    case 8:
      return { first: end - row, right: -row, down: 1 };
    default:
      return { first: 0, right: 1, down: row };
  }
}
