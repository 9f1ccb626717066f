import type { Format } from '../picture/picture.ts';
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
/** The same as shares. */
export const LUMA_WEIGHTS = [LUMA_RED / 256, LUMA_GREEN / 256, LUMA_BLUE / 256] as const;
/** Linear light, in 1/65535, of luma in 1/256 of a coded step. */
const LINEAR_OF_LUMA = Uint16Array.from({ length: 255 * 256 + 1 }, (_, v) =>
  Math.round(65535 * linearOfCoded(v / 65280)),
);

/** Linear light, in 1/65535, of an 8-bit coded value. */
const LINEAR_16 = Uint16Array.from({ length: 256 }, (_, v) =>
  Math.round(65535 * linearOfCoded(v / 255)),
);

/** Side of a tile, px: a power of two. */
const TILE_BITS = 6;
const TILE = 1 << TILE_BITS;
/** A tile holds the pixels round it too, so many before and after: what is interpolated at one of its pixels lies in it. */
const BEFORE = 1;
const AFTER = 2;
/** Pixels of a row of a tile. */
export const TILE_ROW = BEFORE + TILE + AFTER;
/** What a tile shows that nobody asked for. */
const DARK = new Uint16Array(TILE_ROW * TILE_ROW);

interface Pixels {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly channels: 3 | 4;
  readonly data: Uint8Array | Uint8ClampedArray;
  readonly meta?: { readonly format: Format };
}

/** Formats that keep colour at full size; cameras' others keep it at half. */
const FULL_COLOUR: readonly (Format | undefined)[] = ['png', 'tiff'];

/** A plane of linear light in 1/65535, computed and kept in tiles, only where asked for. */
export abstract class LinearPlane {
  readonly widthPx: number;
  readonly heightPx: number;
  private readonly across: number;
  private readonly tiles: Uint16Array[];

  constructor(protected readonly picture: Pixels) {
    this.widthPx = picture.widthPx;
    this.heightPx = picture.heightPx;
    this.across = Math.ceil(this.widthPx / TILE);
    this.tiles = new Array<Uint16Array>(this.across * Math.ceil(this.heightPx / TILE)).fill(DARK);
  }

  /** Fills every tile that meets the box (picture px, inclusive, clamped to the picture). */
  need(x0: number, y0: number, x1: number, y1: number): void {
    const i0 = Math.max(0, Math.floor(x0)) >> TILE_BITS;
    const j0 = Math.max(0, Math.floor(y0)) >> TILE_BITS;
    const i1 = Math.min(this.widthPx - 1, Math.ceil(x1)) >> TILE_BITS;
    const j1 = Math.min(this.heightPx - 1, Math.ceil(y1)) >> TILE_BITS;
    for (let j = j0; j <= j1; j++) {
      for (let i = i0; i <= i1; i++) {
        const tile = j * this.across + i;
        if (this.tiles[tile] === DARK) this.tiles[tile] = this.filled(i, j);
      }
    }
  }

  /**
   * The tile that holds a pixel; its place in it is `inTile`. Rows are TILE_ROW apart, and one pixel before it and two after
   * it, each way, are in the tile as well.
   */
  tileAt(x: number, y: number): Uint16Array {
    return this.tiles[(y >> TILE_BITS) * this.across + (x >> TILE_BITS)]!;
  }

  /** The value of a pixel that was asked for. */
  at(x: number, y: number): number {
    return this.tileAt(x, y)[inTile(x, y)]!;
  }

  private filled(i: number, j: number): Uint16Array {
    const out = new Uint16Array(TILE_ROW * TILE_ROW);
    const [left, top] = [i * TILE - BEFORE, j * TILE - BEFORE];
    const from = Math.max(0, left);
    const count = Math.min(this.widthPx, left + TILE_ROW) - from;
    const bottom = Math.min(this.heightPx, top + TILE_ROW);
    for (let y = Math.max(0, top); y < bottom; y++)
      this.fill(out, (y - top) * TILE_ROW + from - left, y * this.widthPx + from, count);
    return out;
  }

  /** Fills `count` pixels of a row from pixel number `from` of the picture on into `out` from `to` on. */
  protected abstract fill(out: Uint16Array, to: number, from: number, count: number): void;
}

/** Place of a pixel in its tile. */
export const inTile = (x: number, y: number): number =>
  ((y & (TILE - 1)) + BEFORE) * TILE_ROW + (x & (TILE - 1)) + BEFORE;

/**
 * Luma in linear light, undone as if the pixel were grey: edges keep their place because blur mixes linearly, and JPEG
 * keeps luma at full size but not colour.
 */
export class LinearLuma extends LinearPlane {
  protected fill(out: Uint16Array, to: number, from: number, count: number): void {
    const { data, channels } = this.picture;
    for (let k = to, at = from * channels; k < to + count; k++, at += channels) {
      out[k] =
        LINEAR_OF_LUMA[
          LUMA_RED * data[at]! + LUMA_GREEN * data[at + 1]! + LUMA_BLUE * data[at + 2]!
        ]!;
    }
  }
}

/** One colour channel in linear light, for edges whose two sides are equally bright. */
export class LinearChannel extends LinearPlane {
  constructor(
    picture: Pixels,
    private readonly channel: 0 | 1 | 2,
  ) {
    super(picture);
  }

  protected fill(out: Uint16Array, to: number, from: number, count: number): void {
    const { data, channels } = this.picture;
    for (let k = to, at = from * channels + this.channel; k < to + count; k++, at += channels)
      out[k] = LINEAR_16[data[at]!]!;
  }
}

/**
 * Red less blue, coded, half of the range being grey: the hue of two sides that are equally bright. Brightness that changes
 * within the blank, as that of wood does, is not in it.
 */
export class RedLessBlue extends LinearPlane {
  protected fill(out: Uint16Array, to: number, from: number, count: number): void {
    const { data, channels } = this.picture;
    for (let k = to, at = from * channels; k < to + count; k++, at += channels)
      out[k] = 128 * (256 + data[at]! - data[at + 2]!);
  }
}

/** Luma for what it tells best, red and blue for the edges it cannot see, all three for the colours beside an edge. */
export interface Lights {
  readonly luma: LinearLuma;
  readonly red: LinearChannel;
  readonly green: LinearChannel;
  readonly blue: LinearChannel;
  readonly hue: RedLessBlue;
  /** The two channels whose ratio tells a blank's hue from the stage's. */
  readonly up: LinearChannel;
  readonly down: LinearChannel;
  /** Colour is as sharp as luma. */
  readonly fullColour: boolean;
}

/** Larger pictures are not worth what it takes to keep their light: up to 10 bytes a pixel. */
const KEPT_PX = 25e6;
/** Of the picture that was asked for last. */
let kept = new WeakMap<Pixels, Lights>();

/** The same again for the same picture: traced anew, at another thickness, it is looked at in the same places. */
export function lightsOf(picture: Pixels): Lights {
  const before = kept.get(picture);
  if (before) return before;
  const [red, green, blue] = [0, 1, 2].map((c) => new LinearChannel(picture, c as 0 | 1 | 2)) as [
    LinearChannel,
    LinearChannel,
    LinearChannel,
  ];
  const lights: Lights = {
    luma: new LinearLuma(picture),
    red,
    green,
    blue,
    up: red,
    down: blue,
    hue: new RedLessBlue(picture),
    fullColour: FULL_COLOUR.includes(picture.meta?.format),
  };
  kept = new WeakMap();
  if (picture.widthPx * picture.heightPx <= KEPT_PX) kept.set(picture, lights);
  return lights;
}
