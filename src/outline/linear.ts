/**
 * The sRGB curve undone, IEC 61966-2-1: coded value 0 to 1 → linear light 0 to 1.
 */
export const linearOfCoded = (v: number): number =>
  v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;

/** The sRGB curve, IEC 61966-2-1: linear light 0 to 1 → coded value 0 to 1. */
export const codedOfLinear = (l: number): number =>
  l <= 0.0031308 ? 12.92 * l : 1.055 * l ** (1 / 2.4) - 0.055;

/** Linear light of each 8-bit coded value. */
export const LINEAR_OF_BYTE = Float32Array.from({ length: 256 }, (_, v) => linearOfCoded(v / 255));

/** Weights of coded red, green, blue in JPEG's luma, in 1/256 (ITU-T T.871: 0.299, 0.587, 0.114). */
const LUMA_RED = 77;
const LUMA_GREEN = 150;
const LUMA_BLUE = 29;
/** Linear light, in 1/65535, of luma in 1/256 of a coded step. */
const LINEAR_OF_LUMA = Uint16Array.from({ length: 255 * 256 + 1 }, (_, v) =>
  Math.round(65535 * linearOfCoded(v / 65280)),
);

const TILE = 64;

/**
 * Luma in linear light, undone as if the pixel were grey: edges keep their place because blur mixes linearly, and JPEG
 * keeps luma at full size but not colour. Computed in tiles, only where asked for.
 */
export class LinearLuma {
  /** Linear light in 1/65535; only tiles that were asked for are filled. */
  readonly values: Uint16Array;
  readonly widthPx: number;
  readonly heightPx: number;
  private readonly done: Uint8Array;
  private readonly across: number;

  constructor(
    private readonly picture: {
      readonly widthPx: number;
      readonly heightPx: number;
      readonly channels: 3 | 4;
      readonly data: Uint8Array | Uint8ClampedArray;
    },
  ) {
    this.widthPx = picture.widthPx;
    this.heightPx = picture.heightPx;
    this.values = new Uint16Array(this.widthPx * this.heightPx);
    this.across = Math.ceil(this.widthPx / TILE);
    this.done = new Uint8Array(this.across * Math.ceil(this.heightPx / TILE));
  }

  /** Fills every tile that meets the box (picture px, inclusive, clamped to the picture). */
  need(x0: number, y0: number, x1: number, y1: number): void {
    const i0 = Math.max(0, Math.floor(x0)) >> 6;
    const j0 = Math.max(0, Math.floor(y0)) >> 6;
    const i1 = Math.min(this.widthPx - 1, Math.ceil(x1)) >> 6;
    const j1 = Math.min(this.heightPx - 1, Math.ceil(y1)) >> 6;
    for (let j = j0; j <= j1; j++) {
      for (let i = i0; i <= i1; i++) if (!this.done[j * this.across + i]) this.fill(i, j);
    }
  }

  private fill(i: number, j: number): void {
    this.done[j * this.across + i] = 1;
    const { data, channels } = this.picture;
    const x1 = Math.min(this.widthPx, (i + 1) * TILE);
    const y1 = Math.min(this.heightPx, (j + 1) * TILE);
    for (let y = j * TILE; y < y1; y++) {
      let to = y * this.widthPx + i * TILE;
      let from = to * channels;
      for (let x = i * TILE; x < x1; x++, to++, from += channels) {
        this.values[to] =
          LINEAR_OF_LUMA[
            LUMA_RED * data[from]! + LUMA_GREEN * data[from + 1]! + LUMA_BLUE * data[from + 2]!
          ]!;
      }
    }
  }
}
