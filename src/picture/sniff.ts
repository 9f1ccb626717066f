import type { Format } from './picture.ts';

/** What a file is by its content, whatever its name says. */
export type Sniffed =
  | { readonly kind: Format }
  /** A picture, but of a kind that is not read. `what` completes "It looks like ...". */
  | { readonly kind: 'other picture'; readonly what: string }
  | { readonly kind: 'no picture'; readonly what: string };

const ascii = (bytes: Uint8Array, from: number, to: number): string =>
  String.fromCharCode(...bytes.subarray(from, to));

/** Beginnings that give a kind of file away. Source: the formats' own specifications (from memory). */
const BEGINNINGS: readonly (readonly [begins: string, picture: boolean, what: string])[] = [
  ['IIRO', true, 'a camera raw file'],
  ['IIRS', true, 'a camera raw file'],
  ['IIU\0', true, 'a camera raw file'],
  ['FUJIFILMCCD-RAW', true, 'a camera raw file'],
  ['GIF8', true, 'a GIF'],
  ['BM', true, 'a BMP'],
  ['8BPS', true, 'a layered picture of an editing program'],
  ['\xff\x0a', true, 'a JPEG XL picture'],
  ['\0\0\0\x0cJXL ', true, 'a JPEG XL picture'],
  ['\0\0\0\x0cjP  ', true, 'a JPEG 2000 picture'],
  ['%PDF', false, 'a PDF'],
  ['%!PS', false, 'PostScript or EPS'],
  ['PK\x03\x04', false, 'a zip archive or an office document'],
  ['\x1f\x8b', false, 'a compressed archive'],
  ['7z\xbc\xaf', false, 'a compressed archive'],
  ['Rar!', false, 'a compressed archive'],
  ['\x1aE\xdf\xa3', false, 'a video'],
  ['ID3', false, 'a sound recording'],
  ['OggS', false, 'a sound recording'],
  ['\x7fELF', false, 'a program'],
  ['MZ', false, 'a program'],
];

/** TIFF and BigTIFF in both orders of bytes. */
const TIFF_BEGINNINGS = ['II*\0', 'MM\0*', 'II+\0', 'MM\0+'];
const HEIC_BRANDS = ['heic', 'heix', 'heim', 'heis', 'hevc', 'hevx', 'mif1', 'msf1'];
const AVIF_BRANDS = ['avif', 'avis'];
/** Places in a file type box for the brands that are compatible; more are not looked at. */
const MOST_BRANDS = 32;

/** Says what the bytes look like; JPEG from its first two bytes, PNG also when a text-mode transfer has bent its signature. */
export function sniff(bytes: Uint8Array): Sniffed {
  if (bytes[0] === 0xff && bytes[1] === 0xd8) return { kind: 'jpeg' };
  if (ascii(bytes, 1, 4) === 'PNG') return { kind: 'png' };
  const start = ascii(bytes, 0, 16);
  if (start.startsWith('RIFF')) {
    const form = start.slice(8, 12);
    if (form === 'WEBP') return { kind: 'webp' };
    return { kind: 'no picture', what: form === 'WAVE' ? 'a sound recording' : 'a video' };
  }
  if (TIFF_BEGINNINGS.includes(start.slice(0, 4)))
    return start.slice(8, 10) === 'CR'
      ? { kind: 'other picture', what: 'a camera raw file' }
      : { kind: 'tiff' };
  if (start.slice(4, 8) === 'ftyp') return sniffBoxes(bytes);
  for (const [begins, picture, what] of BEGINNINGS) {
    if (start.startsWith(begins)) return { kind: picture ? 'other picture' : 'no picture', what };
  }
  return { kind: 'no picture', what: looksLikeText(bytes) ?? 'data of an unknown kind' };
}

/** ISO base media files say what they are in their brands (ISO/IEC 14496-12): a major one and those it is compatible with. */
function sniffBoxes(bytes: Uint8Array): Sniffed {
  const end = Math.min(((bytes[2] ?? 0) << 8) | (bytes[3] ?? 0), 16 + 4 * MOST_BRANDS);
  const brands = [ascii(bytes, 8, 12)];
  for (let at = 16; at + 4 <= end; at += 4) brands.push(ascii(bytes, at, at + 4));
  const [major] = brands;
  if (major === 'crx ') return { kind: 'other picture', what: 'a camera raw file' };
  if (AVIF_BRANDS.includes(major!)) return { kind: 'avif' };
  if (HEIC_BRANDS.includes(major!)) {
    const general = major === 'mif1' || major === 'msf1';
    const avif = general && brands.includes('avif') && !brands.includes('heic');
    return { kind: avif ? 'avif' : 'heic' };
  }
  return { kind: 'no picture', what: 'a video' };
}

function looksLikeText(bytes: Uint8Array): string | undefined {
  const head = bytes.subarray(0, 512);
  if (head.some((b) => b < 9 || (b > 13 && b < 32 && b !== 27))) return undefined;
  const words = ascii(head, 0, head.length).trimStart().toLowerCase();
  if (words.includes('<svg')) return 'an SVG drawing';
  if (words.startsWith('<!doctype html') || words.startsWith('<html')) return 'a web page';
  return 'text';
}
