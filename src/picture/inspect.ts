import { reason, Refusal, type Reason } from '../base/reason.ts';
import { readExif } from './exif.ts';
import { EXTENSIONS, GREATEST_MEGAPIXELS } from './formats.ts';
import type { Header } from './header.ts';
import { readHeif } from './heif.ts';
import { readJpeg } from './jpeg.ts';
import type { Format, PictureMeta } from './picture.ts';
import { readPng } from './png.ts';
import { sniff } from './sniff.ts';
import { readTiff } from './tiff.ts';
import { readWebp } from './webp.ts';

const READERS: Readonly<Record<Format, (bytes: Uint8Array, name: string) => Header>> = {
  jpeg: readJpeg,
  png: readPng,
  webp: readWebp,
  tiff: readTiff,
  heic: readHeif,
  avif: readHeif,
};
/**
 * Reads what a picture file says about itself, and whether it is whole, before anything is decoded.
 * The kind is told by the content; a name that says otherwise is only noted.
 *
 * @param bytes the whole file
 * @param name as the operator knows it; used in sentences
 * @param greatestOf most megapixels of a format that the environment which is going to decode it takes
 * @throws Refusal `picture-empty`, `picture-other`, `picture-none`, `picture-truncated`, `picture-damaged`,
 *   `picture-zero-size`, `picture-too-large`, `picture-kind`, `picture-cmyk`, `picture-deep`, `picture-animated`,
 *   `picture-hdr`
 */
export async function inspect(
  bytes: Uint8Array,
  name: string,
  greatestOf: (format: Format) => number = () => GREATEST_MEGAPIXELS,
): Promise<PictureMeta> {
  if (bytes.length === 0) throw new Refusal('picture-empty', { name });
  const found = sniff(bytes);
  if (found.kind === 'other picture')
    throw new Refusal('picture-other', { name, what: found.what });
  if (found.kind === 'no picture') throw new Refusal('picture-none', { name, what: found.what });
  const format = found.kind;

  const header = READERS[format](bytes, name);
  const { widthPx, heightPx } = header;
  if (widthPx === 0 || heightPx === 0)
    throw new Refusal('picture-zero-size', { name, widthPx, heightPx });
  const megapixels = (widthPx * heightPx) / 1e6;
  const greatest = greatestOf(format);
  if (megapixels > greatest)
    throw new Refusal('picture-too-large', {
      name,
      widthPx,
      heightPx,
      megapixels: megapixels.toFixed(1),
      greatest,
    });

  const reasons: Reason[] = [...header.reasons];
  const extension = /\.([^.]+)$/.exec(name)?.[1]?.toLowerCase();
  if (extension !== undefined && !EXTENSIONS[format].includes(extension))
    reasons.push(reason('picture-name', { name, format: format.toUpperCase() }));
  const exif = header.exif && (await readExif(header.exif, name));
  if (exif) reasons.push(...exif.reasons);
  return {
    format,
    storedWidthPx: widthPx,
    storedHeightPx: heightPx,
    bitsPerChannel: header.bits,
    orientation: 1,
    ...(header.density && {
      densityDpi: header.density.dpi,
      densityUnit: header.density.unit,
      densitySource: header.density.source,
    }),
    ...(header.hasProfile && { hasProfile: header.hasProfile }),
    ...exif?.meta,
    // What turns a TIFF or HEIC is its own word; EXIF only repeats it.
    ...(header.orientation !== undefined && { orientation: header.orientation }),
    ...(header.decodingGamma !== undefined && { decodingGamma: header.decodingGamma }),
    hasExif: exif !== undefined,
    reasons,
  };
}

/** Whether an orientation swaps width and height (5 to 8). */
export const swapsSides = (orientation: number): boolean => orientation >= 5;
