import { Refusal } from '../base/reason.ts';
import { finish, type Pixels } from './finish.ts';
import { refuseTooHeavy } from './formats.ts';
import { inspect } from './inspect.ts';
import { decodeWithMagick } from './magick-browser.ts';
import { patience } from './magick-host.ts';
import { magickKind } from './magick-kind.ts';
import type { Picture, PictureMeta } from './picture.ts';
import { withoutColourChunks } from './png.ts';
import { pixelsOf } from './yuv.ts';

/** Rows read back at once: a whole 50 MP read-back would hold the pixels three times. */
const STRIP_ROWS = 2048;

/**
 * A picture file, decoded in a worker: upright, in sRGB, transparency laid on white.
 *
 * @throws Refusal as `inspect` does, `picture-too-heavy`, and `picture-undecodable` or `picture-slow` where the pixels
 *   are damaged
 */
export async function readPicture(file: Blob, name: string): Promise<Picture> {
  refuseTooHeavy(file.size, name);
  const bytes = new Uint8Array(await file.arrayBuffer());
  const meta = await inspect(bytes, name);
  const parts = meta.format === 'png' ? withoutColourChunks(bytes) : [bytes];
  const plain = parts.length === 1 ? file : new Blob(parts as BlobPart[], { type: 'image/png' });
  const kind = magickKind(meta);
  const pixels = kind
    ? await decodeWithMagick(
        parts.length === 1 ? bytes : new Uint8Array(await plain.arrayBuffer()),
        kind,
        name,
        patience((meta.storedWidthPx * meta.storedHeightPx) / 1e6),
      )
    : ((await fromPlanes(bytes, meta)) ?? (await fromCanvas(plain, name, meta.format !== 'jpeg')));
  return finish(name, meta, pixels);
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
async function fromCanvas(file: Blob, name: string, mayBeTransparent: boolean): Promise<Pixels> {
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
  let transparent = false;
  try {
    const canvas = new OffscreenCanvas(width, Math.min(STRIP_ROWS, height));
    const context = canvas.getContext('2d', { willReadFrequently: true, colorSpace: 'srgb' })!;
    for (let y = 0; y < height; y += STRIP_ROWS) {
      const rows = Math.min(STRIP_ROWS, height - y);
      context.clearRect(0, 0, width, rows);
      context.drawImage(bitmap, 0, -y);
      let strip = context.getImageData(0, 0, width, rows).data;
      if (mayBeTransparent && isTransparent(strip)) {
        // A canvas keeps colours times alpha; laid on white there and then they are not rounded twice.
        transparent = true;
        context.globalCompositeOperation = 'destination-over';
        context.fillStyle = 'white';
        context.fillRect(0, 0, width, rows);
        context.globalCompositeOperation = 'source-over';
        strip = context.getImageData(0, 0, width, rows).data;
      }
      data.set(strip, y * width * 4);
    }
  } finally {
    bitmap.close();
  }
  return { widthPx: width, heightPx: height, channels: 4, data, transparent };
}

function isTransparent(rgba: Uint8ClampedArray): boolean {
  for (let k = 3; k < rgba.length; k += 4) if (rgba[k] !== 255) return true;
  return false;
}
