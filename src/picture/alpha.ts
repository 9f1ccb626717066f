/**
 * Lays a picture with transparency on white, in place, and makes it opaque.
 *
 * @param rgba four bytes a pixel, not premultiplied
 * @returns whether any pixel was not opaque
 */
export function flattenOnWhite(rgba: Uint8Array | Uint8ClampedArray): boolean {
  let wasTransparent = false;
  for (let k = 3; k < rgba.length; k += 4) {
    const alpha = rgba[k]!;
    if (alpha === 255) continue;
    wasTransparent = true;
    for (let c = k - 3; c < k; c++)
      rgba[c] = Math.round((rgba[c]! * alpha + 255 * (255 - alpha)) / 255);
    rgba[k] = 255;
  }
  return wasTransparent;
}
