import { MM_PER_INCH } from '../base/measure.ts';
import { Refusal } from '../base/reason.ts';
import { equalDensity, view, type Density, type Header } from './header.ts';

const SOS = 0xda;
const EOI = 0xd9;
const APP0 = 0xe0;
const APP1 = 0xe1;
const APP2 = 0xe2;
/** The depth that is read: baseline and progressive, in practice always 8. */
const BITS = 8;
const isAlone = (marker: number): boolean =>
  marker === 0x01 || (marker >= 0xd0 && marker <= 0xd7) || marker === 0xd8;
/** SOF0 to SOF15 without DHT, JPG and DAC, which lie among them. */
const isFrame = (marker: number): boolean =>
  marker >= 0xc0 && marker <= 0xcf && marker !== 0xc4 && marker !== 0xc8 && marker !== 0xcc;

/**
 * Walks a JPEG from SOI to EOI without decoding it.
 * What stands after EOI (a second picture, a short film) is left alone: phones put it there.
 *
 * @throws Refusal `picture-truncated`, `picture-damaged`, `picture-kind`, `picture-cmyk`, `picture-deep`
 * Source: ITU-T T.81, annex B (markers, frame header); JFIF 1.02 (density); ICC.1, annex B (profile).
 */
export function readJpeg(bytes: Uint8Array, name: string): Header {
  const data = view(bytes);
  let frame: { widthPx: number; heightPx: number } | undefined;
  let exif: Uint8Array | undefined;
  let density: Density | undefined;
  let hasProfile: true | undefined;
  const damaged = (what: string): never => {
    throw new Refusal('picture-damaged', { name, what });
  };
  const truncated = (): never => {
    throw new Refusal('picture-truncated', { name, bytes: bytes.length });
  };

  let at = 2;
  for (;;) {
    if (at >= bytes.length) truncated();
    if (bytes[at] !== 0xff) damaged(`byte ${at} should begin a segment and does not`);
    while (bytes[at] === 0xff) at++;
    if (at >= bytes.length) truncated();
    const marker = bytes[at++]!;
    if (marker === EOI) break;
    if (isAlone(marker)) continue;
    if (at + 2 > bytes.length) truncated();
    const length = data.getUint16(at);
    if (length < 2) damaged(`the segment at byte ${at} has a length of ${length}`);
    if (at + length > bytes.length) truncated();
    const body = bytes.subarray(at + 2, at + length);
    if (isFrame(marker)) {
      if (frame) damaged('it has two frame headers');
      frame = readFrame(marker, body, name) ?? damaged('its frame header is too short');
    } else if (marker === APP0 && density === undefined) {
      density = jfifDensity(body);
    } else if (marker === APP1 && !exif && startsWith(body, 'Exif\0')) {
      exif = body.subarray(6);
    } else if (marker === APP2 && startsWith(body, 'ICC_PROFILE\0')) {
      hasProfile = true;
    }
    at += length;
    if (marker === SOS) {
      if (!frame) damaged('its pixels come before its size');
      at = skipScan(bytes, at);
    }
  }
  if (!frame) return damaged('it ends before its size is told');
  return {
    ...frame,
    bits: BITS,
    ...(exif && { exif }),
    ...(density && { density }),
    ...(hasProfile && { hasProfile }),
    reasons: [],
  };
}

function readFrame(
  marker: number,
  body: Uint8Array,
  name: string,
): { widthPx: number; heightPx: number } | undefined {
  if (body.length < 6) return undefined;
  const [precision, , , , , components] = body;
  if (marker > 0xc2) {
    const kind = `a${marker === 0xc3 ? ' lossless' : 'n arithmetic-coded or hierarchical'} JPEG`;
    throw new Refusal('picture-kind', { name, kind });
  }
  if (precision !== BITS)
    throw new Refusal('picture-deep', { name, bits: precision!, format: 'JPEG', greatest: BITS });
  if (components === 4) throw new Refusal('picture-cmyk', { name, format: 'JPEG' });
  if (components !== 1 && components !== 3)
    throw new Refusal('picture-damaged', {
      name,
      what: `it claims ${components} colour components`,
    });
  return { heightPx: view(body).getUint16(1), widthPx: view(body).getUint16(3) };
}

/** JFIF density: unit 1 per inch, 2 per cm; unit 0 is an aspect ratio and no density. */
function jfifDensity(body: Uint8Array): Density | undefined {
  if (!startsWith(body, 'JFIF\0') || body.length < 12) return undefined;
  const unit = body[7];
  const found = equalDensity(view(body).getUint16(8), view(body).getUint16(10));
  if (found === undefined || (unit !== 1 && unit !== 2)) return undefined;
  if (unit === 1) return { dpi: found, unit: 'inch', source: 'JFIF' };
  return { dpi: (found * MM_PER_INCH) / 10, unit: 'cm', source: 'JFIF' };
}

/** The place of the next marker after entropy-coded data: 0xFF followed by neither a stuffed zero nor a restart. */
function skipScan(bytes: Uint8Array, from: number): number {
  for (let at = bytes.indexOf(0xff, from); at >= 0; at = bytes.indexOf(0xff, at + 1)) {
    const next = bytes[at + 1];
    if (next !== undefined && next !== 0 && next !== 0xff && !(next >= 0xd0 && next <= 0xd7))
      return at;
  }
  return bytes.length;
}

const startsWith = (bytes: Uint8Array, text: string): boolean =>
  [...text].every((c, k) => bytes[k] === c.charCodeAt(0));
