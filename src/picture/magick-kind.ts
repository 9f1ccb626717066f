import type { MagickKind } from './magick.ts';
import type { PictureMeta } from './picture.ts';

/**
 * Whether a picture goes through the decoder that page and terminal share, and as what. JPEG, WebP and ordinary PNG of 8
 * bits are left to the browser and to libvips, which are several times faster.
 */
export function magickKind({
  format,
  bitsPerChannel = 8,
  decodingGamma,
}: PictureMeta): MagickKind | undefined {
  if (format === 'jpeg' || format === 'webp') return undefined;
  const ordinary = bitsPerChannel <= 8 && decodingGamma === undefined;
  return format === 'png' && ordinary ? undefined : format;
}
