import { Refusal } from '../base/reason.ts';
import type { Format } from './picture.ts';

/** Largest picture that is decoded in the page: 50 MP is 200 MB of pixels, which a tab on a phone still holds. */
export const GREATEST_MEGAPIXELS = 50;
/** In the terminal, of formats that libvips reads: A4 at 1200 dpi, with the glass round it, is 145 MP. */
export const GREATEST_MEGAPIXELS_TERMINAL = 150;
/** Largest file that is taken into memory: 50 MP of four 16-bit channels, uncompressed, is 400 MB. */
export const GREATEST_FILE_MB = 512;

/** How files of each format are named. */
export const EXTENSIONS: Readonly<Record<Format, readonly string[]>> = {
  jpeg: ['jpg', 'jpeg', 'jpe', 'jfif'],
  png: ['png'],
  webp: ['webp'],
  tiff: ['tif', 'tiff'],
  heic: ['heic', 'heif', 'hif'],
  avif: ['avif', 'heif'],
};

/** Every kind of picture that is read, as a file chooser takes it. */
export const PICTURE_FILES = Object.entries(EXTENSIONS)
  .flatMap(([format, extensions]) => [`image/${format}`, ...extensions.map((e) => `.${e}`)])
  .filter((kind, k, all) => all.indexOf(kind) === k)
  .join(',');

/** Refuses a file that is too large to be taken into memory, before it is. */
export function refuseTooHeavy(bytes: number, name: string): void {
  if (bytes > GREATEST_FILE_MB * 1e6)
    throw new Refusal('picture-too-heavy', {
      name,
      megabytes: Math.ceil(bytes / 1e6),
      greatest: GREATEST_FILE_MB,
    });
}
