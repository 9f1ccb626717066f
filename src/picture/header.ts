import type { Reason } from '../base/reason.ts';

/** What the headers of a picture file say, before anything is decoded. */
export interface Header {
  /** As stored, before any turning by orientation. */
  readonly widthPx: number;
  readonly heightPx: number;
  /** The EXIF block, from its TIFF header on. */
  readonly exif?: Uint8Array;
  /** Density of the file itself (JFIF, pHYs), not of its EXIF; only where it has a unit and both axes agree. */
  readonly densityDpi?: number;
  /** A JPEG brings its own colour profile. */
  readonly hasProfile?: true;
  readonly reasons: readonly Reason[];
}

export const view = (bytes: Uint8Array): DataView =>
  new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);

/** The density both axes share, or nothing. */
export const equalDensity = (x: number, y: number): number | undefined =>
  x > 0 && x === y ? x : undefined;
