import {
  ColorProfile,
  ColorSpace,
  initializeImageMagick,
  MagickError,
  MagickFormat,
  MagickImage,
  MagickReadSettings,
  ResourceLimits,
} from '@imagemagick/magick-wasm';
import { matrixProfile } from './icc.ts';
import type { Format } from './picture.ts';

/** What is decoded here, in the same way in the page and in the terminal. */
export type MagickKind = Extract<Format, 'tiff' | 'heic' | 'avif' | 'png'>;

/** Pixels as they come out of the decoder: 8-bit sRGB, upright, alpha not premultiplied. */
export interface Decoded {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly channels: 3 | 4;
  readonly data: Uint8Array;
  /** false where a profile was there and could not be used. */
  readonly profileUsed: boolean;
}
/** An answer that crosses a thread: the pixels, or why there are none; `broken`: the decoder itself must be thrown away. */
export type Answer =
  { readonly decoded: Decoded } | { readonly why: string; readonly broken: boolean };

const FORMATS: Readonly<Record<MagickKind, MagickFormat>> = {
  tiff: MagickFormat.Tiff,
  heic: MagickFormat.Heic,
  avif: MagickFormat.Avif,
  png: MagickFormat.Png,
};
/** Warnings about the pixels themselves; the others are about fields of the header that do not bear on them. */
const SPOILT = /JPEGLib|Decode|premature|corrupt/i;
const MEGABYTE = 1_000_000n;

/** Readies the decoder; once in a thread. It keeps to memory, and to less than a browser gives. */
export async function startMagick(wasm: Uint8Array): Promise<void> {
  await initializeImageMagick(wasm);
  ResourceLimits.memory = 1000n * MEGABYTE;
  ResourceLimits.maxMemoryRequest = 1000n * MEGABYTE;
  ResourceLimits.maxProfileSize = 16n * MEGABYTE;
  ResourceLimits.disk = 0n;
  ResourceLimits.width = 100_000n;
  ResourceLimits.height = 100_000n;
}

/**
 * The first page of a picture: 16 bits rounded to 8, converted to sRGB by its profile, turned upright.
 * HEIC and AVIF are turned by the decoder itself, from the properties of the file.
 */
export function decode(bytes: Uint8Array, kind: MagickKind): Answer {
  let image: ReturnType<typeof MagickImage.create> | undefined;
  try {
    image = MagickImage.create();
    let spoilt: string | undefined;
    image.onWarning = ({ error }) => {
      if (SPOILT.test(error.message)) spoilt ??= firstLine(error);
      return 0;
    };
    image.read(
      bytes,
      new MagickReadSettings({ format: FORMATS[kind], frameIndex: 0, frameCount: 1 }),
    );
    if (spoilt !== undefined) return { why: spoilt, broken: false };
    if (image.colorSpace !== ColorSpace.sRGB && image.colorSpace !== ColorSpace.Gray)
      return { why: 'its colours are neither RGB nor grey', broken: false };
    const profileUsed = toSrgb(image);
    if (kind === 'tiff') image.autoOrient();
    const { width, height, hasAlpha } = image;
    const data = image.getPixels((pixels) =>
      pixels.toByteArray(0, 0, width, height, hasAlpha ? 'RGBA' : 'RGB'),
    );
    if (!data) return { why: 'it gave no pixels', broken: false };
    const channels = hasAlpha ? 4 : 3;
    return { decoded: { widthPx: width, heightPx: height, channels, data, profileUsed } };
  } catch (error) {
    // Anything but the decoder's own word is a trap in it, after which its memory cannot be trusted.
    if (error instanceof MagickError) return { why: firstLine(error), broken: false };
    return { why: firstLine(error), broken: true };
  } finally {
    try {
      image?.dispose();
    } catch {
      // A trapped decoder cannot tidy up; the thread is thrown away.
    }
  }
}

/** @returns false where a profile was there and could not be used; the pixels are then left as they were */
function toSrgb(image: ReturnType<typeof MagickImage.create>): boolean {
  if (!image.profileNames.includes('icc')) return true;
  try {
    return image.transformColorSpace(new ColorProfile(matrixProfile()));
  } catch (error) {
    if (error instanceof MagickError) return false;
    throw error;
  }
}

/** The decoder's sentence without the place in its own sources. */
const firstLine = (error: unknown): string =>
  (error instanceof Error ? error.message : String(error))
    .split('\n')[0]!
    .replace(/\s*[`'].*?' @ .*$/, '')
    .replace(/\s+@ .*$/, '')
    .trim();
