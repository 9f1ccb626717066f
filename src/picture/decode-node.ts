import { open } from 'node:fs/promises';
import { basename } from 'node:path';
import sharp from 'sharp';
import { Refusal } from '../base/reason.ts';
import { finish, type Pixels } from './finish.ts';
import { GREATEST_MEGAPIXELS, GREATEST_MEGAPIXELS_TERMINAL, refuseTooHeavy } from './formats.ts';
import { inspect } from './inspect.ts';
import { magickKind } from './magick-kind.ts';
import { patience } from './magick-host.ts';
import { decodeWithMagick } from './magick-node.ts';
import type { Format, Picture, PictureMeta } from './picture.ts';
import { withoutColourChunks } from './png.ts';

/**
 * A picture file, decoded under Node: upright, converted to sRGB by its profile, transparency laid on white.
 *
 * @throws Refusal as `inspect` does, `picture-too-heavy`, and `picture-undecodable` or `picture-slow` where the pixels
 *   are damaged
 */
export async function readPicture(bytes: Uint8Array, name: string): Promise<Picture> {
  refuseTooHeavy(bytes.length, name);
  return decoded(bytes, name, await inspect(bytes, name));
}

/**
 * The same of a file where it lies; of one that libvips reads up to 150 megapixels. Of those over 50 only the pixels are kept in
 * memory, 3 bytes each: the file is let go before they are decoded.
 *
 * @throws Refusal as `readPicture` does; errors of the file system as they are
 */
export async function readPictureAt(path: string): Promise<Picture> {
  const name = basename(path);
  const file = await open(path);
  try {
    const { size } = await file.stat();
    refuseTooHeavy(size, name);
    if (size <= LETS_GO_BYTES) {
      const bytes = await file.readFile();
      const meta = await inspect(bytes, name, greatestOf);
      return await decoded(bytes, name, meta);
    }
    // Only a buffer that can shrink gives its memory back at once, and not when it is next looked for garbage.
    const memory = new ArrayBuffer(size, { maxByteLength: size });
    const bytes = new Uint8Array(memory);
    for (let at = 0; at < size;) {
      const { bytesRead } = await file.read(bytes, at, Math.min(PIECE_BYTES, size - at), at);
      if (bytesRead === 0) break;
      at += bytesRead;
    }
    const meta = await inspect(bytes, name, greatestOf);
    if (megapixelsOf(meta) <= GREATEST_MEGAPIXELS) return await decoded(bytes, name, meta);
    const plain = withoutColours(bytes, meta);
    const from = plain === bytes ? path : plain;
    memory.resize(0);
    return finish(name, meta, await decodeWithSharp(from, name));
  } finally {
    await file.close();
  }
}

/** Smaller files are not worth letting go. */
const LETS_GO_BYTES = 64e6;
const PIECE_BYTES = 2 ** 26;

const megapixelsOf = ({ storedWidthPx, storedHeightPx }: PictureMeta): number =>
  (storedWidthPx * storedHeightPx) / 1e6;

/** The file itself where it is no PNG that says something about its colours. */
function withoutColours(bytes: Uint8Array, { format }: PictureMeta): Uint8Array {
  const parts = format === 'png' ? withoutColourChunks(bytes) : [bytes];
  return parts.length === 1 ? bytes : Buffer.concat(parts);
}

async function decoded(bytes: Uint8Array, name: string, meta: PictureMeta): Promise<Picture> {
  const plain = withoutColours(bytes, meta);
  const megapixels = megapixelsOf(meta);
  const kind = megapixels > GREATEST_MEGAPIXELS ? undefined : magickKind(meta);
  const pixels = kind
    ? await decodeWithMagick(plain, kind, name, patience(megapixels))
    : await decodeWithSharp(plain, name);
  return finish(name, meta, pixels);
}

/** Past what the page takes, libvips decodes: it needs no more memory than for the pixels, and knows no HEIC. */
const greatestOf = (format: Format): number =>
  format === 'heic' || format === 'avif' ? GREATEST_MEGAPIXELS : GREATEST_MEGAPIXELS_TERMINAL;

/** @param file its bytes, or where it lies */
async function decodeWithSharp(file: Uint8Array | string, name: string): Promise<Pixels> {
  const { data, info } = await sharp(file, {
    failOn: 'warning',
    limitInputPixels: GREATEST_MEGAPIXELS_TERMINAL * 1e6,
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

const firstLine = (error: unknown): string =>
  (error instanceof Error ? error.message : String(error)).split('\n')[0]!.trim();
