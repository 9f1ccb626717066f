import sharp from 'sharp';
import { Refusal } from '../base/reason.ts';
import { finish, type Pixels } from './finish.ts';
import { GREATEST_MEGAPIXELS, refuseTooHeavy } from './formats.ts';
import { inspect } from './inspect.ts';
import { magickKind } from './magick-kind.ts';
import { patience } from './magick-host.ts';
import { decodeWithMagick } from './magick-node.ts';
import type { Picture } from './picture.ts';
import { withoutColourChunks } from './png.ts';

/**
 * A picture file, decoded under Node: upright, converted to sRGB by its profile, transparency laid on white.
 *
 * @throws Refusal as `inspect` does, `picture-too-heavy`, and `picture-undecodable` or `picture-slow` where the pixels
 *   are damaged
 */
export async function readPicture(bytes: Uint8Array, name: string): Promise<Picture> {
  refuseTooHeavy(bytes.length, name);
  const meta = await inspect(bytes, name);
  const plain = meta.format === 'png' ? joined(withoutColourChunks(bytes)) : bytes;
  const kind = magickKind(meta);
  const pixels = kind
    ? await decodeWithMagick(
        plain,
        kind,
        name,
        patience((meta.storedWidthPx * meta.storedHeightPx) / 1e6),
      )
    : await decodeWithSharp(plain, name);
  return finish(name, meta, pixels);
}

async function decodeWithSharp(bytes: Uint8Array, name: string): Promise<Pixels> {
  const { data, info } = await sharp(bytes, {
    failOn: 'warning',
    limitInputPixels: GREATEST_MEGAPIXELS * 1e6,
    autoOrient: true,
  })
    .toColourspace('srgb')
    .raw()
    .toBuffer({ resolveWithObject: true })
    .catch((error: unknown) => {
      throw new Refusal('picture-undecodable', { name, why: firstLine(error) });
    });
  if (info.channels !== 3 && info.channels !== 4)
    throw new Error(`sharp gave ${info.channels} channels for an sRGB picture`);
  return { widthPx: info.width, heightPx: info.height, channels: info.channels, data };
}

const joined = (parts: readonly Uint8Array[]): Uint8Array =>
  parts.length === 1 ? parts[0]! : Buffer.concat(parts);

const firstLine = (error: unknown): string =>
  (error instanceof Error ? error.message : String(error)).split('\n')[0]!.trim();
