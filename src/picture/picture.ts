import type { Reason } from '../base/reason.ts';

/** What a file's header says about how the picture was taken; absent where it says nothing. Lengths in mm. */
export interface PictureMeta {
  readonly format: 'jpeg' | 'png' | 'webp';
  /** Size as stored, before any turning by orientation. */
  readonly storedWidthPx: number;
  readonly storedHeightPx: number;
  /** EXIF orientation 1 to 8; 1 where absent. */
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
  readonly densityDpi?: number;
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
