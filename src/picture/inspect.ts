import { reason, Refusal, type Reason } from '../base/reason.ts';
import { readExif } from './exif.ts';
import { readJpeg } from './jpeg.ts';
import type { PictureMeta } from './picture.ts';
import { readPng } from './png.ts';
import { sniff } from './sniff.ts';
import { readWebp } from './webp.ts';

/** Largest picture that is decoded: 50 MP is 200 MB of pixels, which a tab on a phone still holds. */
export const GREATEST_MEGAPIXELS = 50;

const READERS = { jpeg: readJpeg, png: readPng, webp: readWebp };
const EXTENSIONS = { jpeg: ['jpg', 'jpeg', 'jpe', 'jfif'], png: ['png'], webp: ['webp'] };

/**
 * Reads what a picture file says about itself, and whether it is whole, before anything is decoded.
 * The kind is told by the content; a name that says otherwise is only noted.
 *
 * @param bytes the whole file
 * @param name as the operator knows it; used in sentences
 * @throws Refusal `picture-empty`, `picture-other`, `picture-none`, `picture-truncated`, `picture-damaged`,
 *   `picture-zero-size`, `picture-too-large`, `picture-kind`, `picture-cmyk`, `picture-deep`, `picture-animated`
 */
export async function inspect(bytes: Uint8Array, name: string): Promise<PictureMeta> {
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
  if (megapixels > GREATEST_MEGAPIXELS)
    throw new Refusal('picture-too-large', {
      name,
      widthPx,
      heightPx,
      megapixels: megapixels.toFixed(1),
      greatest: GREATEST_MEGAPIXELS,
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
    orientation: 1,
    ...(header.densityDpi !== undefined && { densityDpi: header.densityDpi }),
    ...(header.hasProfile && { hasProfile: header.hasProfile }),
    ...exif?.meta,
    hasExif: exif !== undefined,
    reasons,
  };
}

/** Whether an orientation swaps width and height (5 to 8). */
export const swapsSides = (orientation: number): boolean => orientation >= 5;
