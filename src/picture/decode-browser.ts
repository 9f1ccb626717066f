import { reason, Refusal } from '../base/reason.ts';
import { flattenOnWhite } from './alpha.ts';
import { inspect } from './inspect.ts';
import type { Picture } from './picture.ts';

/** Rows read back at once: a whole 50 MP read-back would hold the pixels three times. */
const STRIP_ROWS = 2048;

/**
 * A picture file, decoded in a worker: upright, in sRGB, transparency laid on white.
 * The browser turns by EXIF orientation and converts by the profile of its own accord.
 *
 * @throws Refusal as `inspect` does, and `picture-undecodable` where the pixels are damaged
 */
export async function readPicture(file: Blob, name: string): Promise<Picture> {
  const meta = await inspect(new Uint8Array(await file.arrayBuffer()), name);
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
  const transparent = meta.format !== 'jpeg' && flattenOnWhite(data);
  return {
    name,
    widthPx: width,
    heightPx: height,
    channels: 4,
    data,
    meta: transparent
      ? { ...meta, reasons: [...(meta.reasons ?? []), reason('picture-transparent', { name })] }
      : meta,
  };
}
