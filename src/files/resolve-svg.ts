import { Resvg } from '@resvg/resvg-wasm';

/**
 * What the library makes of an SVG, without any font of this machine. It must have been loaded.
 * @throws Error where it cannot be read
 */
export function resolved(bytes: Uint8Array): string {
  let tree;
  try {
    tree = new Resvg(bytes, { font: { loadSystemFonts: false } });
  } catch (error) {
    throw error instanceof Error ? error : new Error(String(error));
  }
  try {
    return tree.toString();
  } finally {
    tree.free();
  }
}
