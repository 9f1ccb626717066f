import { readFile } from 'node:fs/promises';
import type { ShippedFont } from '../artwork/run.ts';

const FILES: Readonly<Record<ShippedFont, string>> = {
  plain: './fonts/NotoSans-Medium.ttf',
  script: './fonts/DancingScript-SemiBold.ttf',
};

/** The fonts that come with the program, under Node. */
export const loadFont = async (font: ShippedFont): Promise<Uint8Array> =>
  new Uint8Array(await readFile(new URL(FILES[font], import.meta.url)));
