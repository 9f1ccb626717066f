import { reason, Refusal } from '../base/reason.ts';
import { flattenOnWhite } from './alpha.ts';
import { inspect } from './inspect.ts';
import type { Picture, PictureMeta } from './picture.ts';
import { pixelsOf } from './yuv.ts';

/** Rows read back at once: a whole 50 MP read-back would hold the pixels three times. */
const STRIP_ROWS = 2048;

type Pixels = Pick<Picture, 'widthPx' | 'heightPx' | 'channels' | 'data'>;

/**
 * A picture file, decoded in a worker: upright, in sRGB, transparency laid on white.
 *
 * @throws Refusal as `inspect` does, and `picture-undecodable` where the pixels are damaged
 */
export async function readPicture(file: Blob, name: string): Promise<Picture> {
  const bytes = new Uint8Array(await file.arrayBuffer());
  const meta = await inspect(bytes, name);
  const pixels = (await fromPlanes(bytes, meta)) ?? (await fromCanvas(file, name));
  const transparent = meta.format !== 'jpeg' && flattenOnWhite(pixels.data);
  return {
    name,
    ...pixels,
    meta: transparent
      ? { ...meta, reasons: [...(meta.reasons ?? []), reason('picture-transparent', { name })] }
      : meta,
  };
}

/**
 * Straight from the planes that the decoder has: half the time of reading a canvas back. Only where the browser gives them and
 * they are what nearly every phone writes: sRGB, colour at half size. Otherwise undefined.
 */
async function fromPlanes(bytes: Uint8Array, meta: PictureMeta): Promise<Pixels | undefined> {
  if (meta.format !== 'jpeg' || meta.hasProfile || typeof ImageDecoder === 'undefined')
    return undefined;
  const decoder = new ImageDecoder({ data: bytes, type: 'image/jpeg' });
  try {
    const { image } = await decoder.decode();
    try {
      const { format, codedWidth, codedHeight, colorSpace } = image;
      // The frame says how it is turned; its planes are as stored.
      const asStored = codedWidth === meta.storedWidthPx && codedHeight === meta.storedHeightPx;
      const plain =
        colorSpace.fullRange && (colorSpace.matrix as string | null) === 'smpte170m' && asStored;
      if (format !== 'I420' || !plain) return undefined;
      const rect = { x: 0, y: 0, width: codedWidth, height: codedHeight };
      const data = new Uint8Array(image.allocationSize({ rect }));
      const layout = await image.copyTo(data, { rect });
      return pixelsOf(
        { widthPx: codedWidth, heightPx: codedHeight, data, layout },
        meta.orientation,
      );
    } finally {
      image.close();
    }
  } catch {
    // What is wrong is told by the other way.
    return undefined;
  } finally {
    decoder.close();
  }
}

/** By a canvas. The browser turns by EXIF orientation and converts by the profile of its own accord. */
async function fromCanvas(file: Blob, name: string): Promise<Pixels> {
  let bitmap: ImageBitmap;
  try {
    bitmap = await createImageBitmap(file);
  } catch (error) {
    throw new Refusal('picture-undecodable', {
      name,
      why: error instanceof Error ? error.message : String(error),
    });
  }
  const { width, height } = bitmap;
  const data = new Uint8ClampedArray(width * height * 4);
  try {
    const strip = new OffscreenCanvas(width, Math.min(STRIP_ROWS, height));
    const context = strip.getContext('2d', { willReadFrequently: true, colorSpace: 'srgb' })!;
    for (let y = 0; y < height; y += STRIP_ROWS) {
      const rows = Math.min(STRIP_ROWS, height - y);
      context.clearRect(0, 0, width, rows);
      context.drawImage(bitmap, 0, -y);
      data.set(context.getImageData(0, 0, width, rows).data, y * width * 4);
    }
  } finally {
    bitmap.close();
  }
  return { widthPx: width, heightPx: height, channels: 4, data };
}
