import type { Point } from '../base/measure.ts';
import type { Picture } from './picture.ts';

/** Quarter turns counter-clockwise that bring an upright picture back to how the file stores it, by EXIF orientation. */
const BACK: Readonly<Record<number, number>> = { 3: 2, 6: 1, 8: 3 };

/** Where a place of the upright picture lies in the picture as `asStored` has it. */
export const storedPlace =
  ({ meta, widthPx, heightPx }: Omit<Picture, 'data'>) =>
  ({ x, y }: Point<'picture'>): Point<'picture'> => {
    const [w, h] = [widthPx, heightPx];
    switch (BACK[meta.orientation] ?? 0) {
      case 1:
        return { x: y, y: w - 1 - x };
      case 2:
        return { x: w - 1 - x, y: h - 1 - y };
      case 3:
        return { x: h - 1 - y, y: x };
      default:
        return { x, y };
    }
  };

/**
 * The picture as its file stores it, without the turn that its orientation asks for: pictures that one camera took upright and
 * on its side then share one lens. Mirrored ones (orientations 2, 4, 5, 7) are left as they are.
 */
export function asStored(picture: Picture): Picture {
  const quarters = BACK[picture.meta.orientation] ?? 0;
  if (quarters === 0) return picture;
  const { widthPx: w, heightPx: h, channels, data } = picture;
  const [width, height] = quarters === 2 ? [w, h] : [h, w];
  const out = new Uint8Array(data.length);
  for (let y = 0, from = 0; y < h; y++) {
    for (let x = 0; x < w; x++, from += channels) {
      // One quarter counter-clockwise takes (x, y) to (y, w - 1 - x).
      const u = quarters === 1 ? y : quarters === 2 ? w - 1 - x : h - 1 - y;
      const v = quarters === 1 ? w - 1 - x : quarters === 2 ? h - 1 - y : x;
      const to = (v * width + u) * channels;
      for (let c = 0; c < channels; c++) out[to + c] = data[from + c]!;
    }
  }
  const meta = { ...picture.meta, orientation: 1 };
  return { ...picture, widthPx: width, heightPx: height, data: out, meta };
}
