import { reason, Refusal, type Reason } from '../base/reason.ts';

/** A density with the unit it was written in, and where in the file it stands. */
export interface Density {
  readonly dpi: number;
  readonly unit: 'inch' | 'cm' | 'metre' | 'mm' | 'µm';
  readonly source: 'JFIF' | 'pHYs' | 'TIFF' | 'EXIF';
}

/** What the headers of a picture file say, before anything is decoded. */
export interface Header {
  /** As stored, before any turning by orientation. */
  readonly widthPx: number;
  readonly heightPx: number;
  /** Bits of a channel, or of an index into a colour table. */
  readonly bits: number;
  /** 1 to 8 where the format itself says how the picture is turned, its EXIF aside. */
  readonly orientation?: number;
  /** The EXIF block, from its TIFF header on. */
  readonly exif?: Uint8Array;
  /** Density of the file itself (JFIF, pHYs, TIFF), not of its EXIF; only where it has a unit and both axes agree. */
  readonly density?: Density;
  /** What the samples are raised to for light, where the file says so in place of a profile and it is not the sRGB curve. */
  readonly decodingGamma?: number;
  /** A JPEG brings its own colour profile. */
  readonly hasProfile?: true;
  readonly reasons: readonly Reason[];
}

export const view = (bytes: Uint8Array): DataView =>
  new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);

/** The density both axes share, or nothing. */
export const equalDensity = (x: number, y: number): number | undefined =>
  x > 0 && x === y ? x : undefined;

/** Code points of ITU-T H.273: primaries of BT.709 (shared by sRGB), and "not told"; transfer curves of HDR. */
const SRGB_PRIMARIES = [1, 2];
const HDR_TRANSFER: Readonly<Record<number, string>> = { 16: 'PQ', 18: 'HLG' };

/**
 * What colour code points (PNG's cICP, the nclx of HEIC and AVIF) mean for reading a picture as sRGB.
 *
 * @returns a doubt where the primaries are others
 * @throws Refusal `picture-hdr` where the tone curve is one of HDR
 * Source: ITU-T H.273, 8.1 and 8.2 (from memory).
 */
export function judgeCodePoints(primaries: number, transfer: number, name: string): Reason[] {
  const curve = HDR_TRANSFER[transfer];
  if (curve) throw new Refusal('picture-hdr', { name, curve });
  return SRGB_PRIMARIES.includes(primaries) ? [] : [reason('picture-gamut', { name, primaries })];
}
