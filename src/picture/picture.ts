import type { Reason } from '../base/reason.ts';
import type { Density } from './header.ts';

export type Format = 'jpeg' | 'png' | 'webp' | 'tiff' | 'heic' | 'avif';

/** What a file's header says about how the picture was taken; absent where it says nothing. Lengths in mm. */
export interface PictureMeta {
  readonly format: Format;
  /** Size as stored, before any turning by orientation. */
  readonly storedWidthPx: number;
  readonly storedHeightPx: number;
  /** Bits of a channel as stored, or of an index into a colour table; more than 8 are rounded to 8. Every reader tells it. */
  readonly bitsPerChannel?: number;
  /** Orientation 1 to 8 as EXIF and TIFF number it, also where the format says it in another way; 1 where absent. */
  readonly orientation: number;
  readonly camera?: string;
  readonly lens?: string;
  readonly focalLengthMm?: number;
  /** Pixels per mm on the sensor, from FocalPlaneXResolution and its unit. */
  readonly focalPlanePxPerMm?: number;
  readonly focalLength35Mm?: number;
  /** Picture size that the camera noted; differs from the stored size when another program scaled or cropped it. */
  readonly exifWidthPx?: number;
  readonly exifHeightPx?: number;
  readonly digitalZoom?: number;
  /** What the camera made of several pictures or of a map of distances, by its own word. */
  readonly composed?: 'portrait' | 'panorama';
  /** Pixels per inch, by the file's own word; only where both axes agree and the unit is told. */
  readonly densityDpi?: number;
  /** The unit that the density is written in, and where it stands. */
  readonly densityUnit?: Density['unit'];
  readonly densitySource?: Density['source'];
  /** Samples raised to this are light, where a PNG says so; 8-bit sRGB is made of them. */
  readonly decodingGamma?: number;
  /** true when a JPEG brings its own colour profile. */
  readonly hasProfile?: true;
  /** true when the file has any EXIF block at all. */
  readonly hasExif: boolean;
  /** What is worth knowing about the file itself: a name that does not fit, unreadable EXIF, transparency. */
  readonly reasons?: readonly Reason[];
}

/** A decoded picture, upright, untouched: 8-bit sRGB, interleaved, `channels` bytes a pixel, rows top to bottom. */
export interface Picture {
  readonly name: string;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly channels: 3 | 4;
  readonly data: Uint8Array | Uint8ClampedArray;
  readonly meta: PictureMeta;
}
