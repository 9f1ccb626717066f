import { magickKind } from './magick-kind.ts';
import type { Picture, PictureMeta } from './picture.ts';

/** Whether the browser can show the file itself, or must be given its decoded pixels. */
export const browserShows = (meta: PictureMeta): boolean => magickKind(meta) === undefined;

/** A picture as it is drawn: whole, and small, so that one of 50 MP can be moved without a stutter. */
export interface ShownPicture {
  readonly whole: ImageBitmap;
  readonly small: ImageBitmap;
}

/** Longest side of the small one, px. */
const SMALL_PX = 1600;

/** For workers: to make a bitmap smaller holds up the thread that asks for it. */
export async function withSmall(whole: ImageBitmap): Promise<ShownPicture> {
  const share = Math.min(1, SMALL_PX / Math.max(whole.width, whole.height));
  const small = await createImageBitmap(whole, {
    resizeWidth: Math.round(whole.width * share),
    resizeHeight: Math.round(whole.height * share),
    resizeQuality: 'high',
  });
  return { whole, small };
}

/** Rows that are handed to the canvas at once. */
const STRIP_ROWS = 1024;

/** A decoded picture as something that can be drawn and crosses from a worker to the page. */
export function bitmapOf({ widthPx, heightPx, channels, data }: Picture): ImageBitmap {
  const canvas = new OffscreenCanvas(widthPx, heightPx);
  const context = canvas.getContext('2d', { colorSpace: 'srgb' })!;
  for (let y = 0; y < heightPx; y += STRIP_ROWS) {
    const rows = Math.min(STRIP_ROWS, heightPx - y);
    const strip = new ImageData(widthPx, rows);
    const from = y * widthPx * channels;
    if (channels === 4) strip.data.set(data.subarray(from, from + strip.data.length));
    else {
      for (let k = 0, at = from; k < strip.data.length; k += 4, at += 3) {
        strip.data[k] = data[at]!;
        strip.data[k + 1] = data[at + 1]!;
        strip.data[k + 2] = data[at + 2]!;
        strip.data[k + 3] = 255;
      }
    }
    context.putImageData(strip, 0, y);
  }
  return canvas.transferToImageBitmap();
}

/** Quality of a JPEG for paper, as the browser counts it. */
const QUALITY = 0.85;

/** A part of a picture as a JPEG, px: only pixels, none of what its file says. */
export async function jpegOf(
  picture: Picture,
  {
    left,
    top,
    right,
    bottom,
  }: {
    readonly left: number;
    readonly top: number;
    readonly right: number;
    readonly bottom: number;
  },
  mostPx: number,
): Promise<{ readonly jpeg: Uint8Array; readonly widthPx: number; readonly heightPx: number }> {
  const whole = bitmapOf(picture);
  const [w, h] = [right - left, bottom - top];
  const share = Math.min(1, mostPx / Math.max(w, h));
  const [widthPx, heightPx] = [Math.round(w * share), Math.round(h * share)];
  const small = await createImageBitmap(whole, left, top, w, h, {
    resizeWidth: widthPx,
    resizeHeight: heightPx,
    resizeQuality: 'high',
  });
  whole.close();
  const canvas = new OffscreenCanvas(widthPx, heightPx);
  canvas.getContext('2d')!.drawImage(small, 0, 0);
  small.close();
  const blob = await canvas.convertToBlob({ type: 'image/jpeg', quality: QUALITY });
  return { jpeg: new Uint8Array(await blob.arrayBuffer()), widthPx, heightPx };
}
