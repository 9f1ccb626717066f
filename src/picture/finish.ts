import { reason, Refusal, type Reason } from '../base/reason.ts';
import { flattenOnWhite } from './alpha.ts';
import { swapsSides } from './inspect.ts';
import type { Picture, PictureMeta } from './picture.ts';

/** Pixels as a decoder gave them: 8 bits, upright, sRGB unless the file names a gamma of its own. */
export interface Pixels {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly channels: 3 | 4;
  readonly data: Uint8Array | Uint8ClampedArray;
  readonly profileUsed?: boolean;
  /** Told where the decoder itself has laid transparent places on white. */
  readonly transparent?: boolean;
}

/**
 * What is left to do with the pixels of any decoder: hold them against the header, undo a gamma, lay transparency on white.
 *
 * @throws Refusal `picture-damaged` where the decoder found another size than the header tells
 */
export function finish(name: string, meta: PictureMeta, pixels: Pixels): Picture {
  const { widthPx, heightPx, channels, data } = pixels;
  const swapped = swapsSides(meta.orientation);
  const told = swapped
    ? [meta.storedHeightPx, meta.storedWidthPx]
    : [meta.storedWidthPx, meta.storedHeightPx];
  if (told[0] !== widthPx || told[1] !== heightPx)
    throw new Refusal('picture-damaged', {
      name,
      what: `its header tells ${told[0]} x ${told[1]} px and its pixels are ${widthPx} x ${heightPx}`,
    });
  const reasons: Reason[] = [...(meta.reasons ?? [])];
  if (pixels.profileUsed === false) reasons.push(reason('picture-profile', { name }));
  if (meta.decodingGamma !== undefined) undoGamma(data, channels, meta.decodingGamma);
  const flattened = channels === 4 && meta.format !== 'jpeg' && flattenOnWhite(data);
  if (flattened || pixels.transparent === true)
    reasons.push(reason('picture-transparent', { name }));
  return { name, widthPx, heightPx, channels, data, meta: { ...meta, reasons } };
}

/** Samples to sRGB, in place: light is the sample raised to `gamma`. Source: PNG (third edition), 11.3.2.2; IEC 61966-2-1. */
function undoGamma(data: Uint8Array | Uint8ClampedArray, channels: 3 | 4, gamma: number): void {
  const table = Uint8Array.from({ length: 256 }, (_, v) => {
    const light = (v / 255) ** gamma;
    const coded = light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055;
    return Math.round(255 * coded);
  });
  for (let k = 0; k < data.length; k += channels)
    for (let c = k; c < k + 3; c++) data[c] = table[data[c]!]!;
}
