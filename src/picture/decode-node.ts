import sharp from 'sharp';
import { reason, Refusal } from '../base/reason.ts';
import { flattenOnWhite } from './alpha.ts';
import { GREATEST_MEGAPIXELS, inspect } from './inspect.ts';
import type { Picture } from './picture.ts';

/**
 * A picture file, decoded under Node: upright, converted to sRGB by its profile, transparency laid on white.
 *
 * @throws Refusal as `inspect` does, and `picture-undecodable` where the pixels are damaged
 */
export async function readPicture(bytes: Uint8Array, name: string): Promise<Picture> {
  const meta = await inspect(bytes, name);
  const image = sharp(bytes, {
    failOn: 'warning',
    limitInputPixels: GREATEST_MEGAPIXELS * 1e6,
    autoOrient: true,
  }).toColourspace('srgb');
  const decoded = await image
    .raw()
    .toBuffer({ resolveWithObject: true })
    .catch((error: unknown) => {
      throw new Refusal('picture-undecodable', { name, why: firstLine(error) });
    });
  const { data, info } = decoded;
  if (info.channels !== 3 && info.channels !== 4)
    throw new Error(`sharp gave ${info.channels} channels for an sRGB picture`);
  const transparent = info.channels === 4 && flattenOnWhite(data);
  return {
    name,
    widthPx: info.width,
    heightPx: info.height,
    channels: info.channels,
    data,
    meta: transparent
      ? { ...meta, reasons: [...(meta.reasons ?? []), reason('picture-transparent', { name })] }
      : meta,
  };
}

const firstLine = (error: unknown): string =>
  (error instanceof Error ? error.message : String(error)).split('\n')[0]!.trim();
