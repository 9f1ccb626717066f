import { MM_PER_INCH } from '../base/measure.ts';
import { Refusal, type Reason } from '../base/reason.ts';
import { equalDensity, judgeCodePoints, view, type Density, type Header } from './header.ts';

const SIGNATURE = [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a];
/** Bit depths that a colour type may have. */
const DEPTHS: Readonly<Record<number, readonly number[]>> = {
  0: [1, 2, 4, 8, 16],
  2: [8, 16],
  3: [1, 2, 4, 8],
  4: [8, 16],
  6: [8, 16],
};
/** gAMA value of the sRGB curve, 1/2.2 in units of 1e-5, and how far from it a value may lie and still mean it. */
const SRGB_GAMMA = 45455;
const GAMMA_SLACK = 2000;
/** Chunks about colour that one decoder follows and another does not; what they say is followed here. */
const COLOUR_CHUNKS = ['gAMA', 'cHRM', 'cICP', 'mDCV', 'cLLI', 'sBIT'];

const CRC_TABLE = Uint32Array.from({ length: 256 }, (_, n) => {
  let c = n;
  for (let k = 0; k < 8; k++) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
  return c >>> 0;
});
function crc32(bytes: Uint8Array, from: number, to: number): number {
  let c = 0xffffffff;
  for (let k = from; k < to; k++) c = CRC_TABLE[(c ^ bytes[k]!) & 0xff]! ^ (c >>> 8);
  return (c ^ 0xffffffff) >>> 0;
}

/**
 * Walks a PNG's chunks without decoding it and holds every checksum against its chunk.
 *
 * @throws Refusal `picture-truncated`, `picture-damaged`, `picture-animated`, `picture-hdr`
 * Source: PNG specification, third edition (chunks, CRC, pHYs, gAMA, eXIf, acTL, cICP).
 */
export function readPng(bytes: Uint8Array, name: string): Header {
  const damaged = (what: string): never => {
    throw new Refusal('picture-damaged', { name, what });
  };
  const truncated = (): never => {
    throw new Refusal('picture-truncated', { name, bytes: bytes.length });
  };
  if (SIGNATURE.some((b, k) => bytes[k] !== b)) {
    if (bytes.length < SIGNATURE.length) truncated();
    damaged('its first eight bytes are changed, as by a transfer in text mode');
  }
  const data = view(bytes);
  let header: { widthPx: number; heightPx: number; bits: number } | undefined;
  let exif: Uint8Array | undefined;
  let density: Density | undefined;
  let gamma: number | undefined;
  let profiled = false;
  let reasons: readonly Reason[] = [];
  let pixels = false;

  for (let at = SIGNATURE.length; ;) {
    if (at + 12 > bytes.length) truncated();
    const length = data.getUint32(at);
    const type = String.fromCharCode(...bytes.subarray(at + 4, at + 8));
    if (!/^[A-Za-z]{4}$/.test(type)) damaged(`byte ${at} should begin a chunk and does not`);
    const end = at + 8 + length;
    if (end + 4 > bytes.length) truncated();
    if (data.getUint32(end) !== crc32(bytes, at + 4, end))
      damaged(`the checksum of its ${type} chunk is wrong`);
    const body = bytes.subarray(at + 8, end);
    if (!header && type !== 'IHDR') damaged('its first chunk is not its header');
    if (type === 'IHDR') header = readHeader(body) ?? damaged('its header is not valid');
    if (type === 'acTL') throw new Refusal('picture-animated', { name });
    if (type === 'eXIf') exif = body;
    if (type === 'iCCP' || type === 'sRGB') profiled = true;
    if (type === 'gAMA' && length === 4) gamma = view(body).getUint32(0);
    if (type === 'cICP' && length === 4) reasons = judgeCodePoints(body[0]!, body[1]!, name);
    if (type === 'IDAT') pixels = true;
    if (type === 'pHYs' && length === 9 && body[8] === 1) {
      const perMetre = equalDensity(view(body).getUint32(0), view(body).getUint32(4));
      if (perMetre !== undefined)
        density = { dpi: (perMetre * MM_PER_INCH) / 1000, unit: 'metre', source: 'pHYs' };
    }
    if (type === 'IEND') break;
    at = end + 4;
  }
  if (!header) return damaged('it has no header');
  if (!pixels) damaged('it holds no pixels');
  const curved =
    !profiled && gamma !== undefined && gamma > 0 && Math.abs(gamma - SRGB_GAMMA) > GAMMA_SLACK;
  return {
    ...header,
    ...(exif && { exif }),
    ...(density && { density }),
    ...(curved && { decodingGamma: 1e5 / gamma! }),
    reasons: profiled ? [] : reasons,
  };
}

function readHeader(
  body: Uint8Array,
): { widthPx: number; heightPx: number; bits: number } | undefined {
  if (body.length !== 13) return undefined;
  const [bits, colour, compression, filter, interlace] = body.subarray(8);
  if (!DEPTHS[colour!]?.includes(bits!) || compression !== 0 || filter !== 0 || interlace! > 1)
    return undefined;
  return { widthPx: view(body).getUint32(0), heightPx: view(body).getUint32(4), bits: bits! };
}

/**
 * The parts of a whole PNG without the chunks about colour that decoders treat differently; a profile (iCCP) and the
 * sRGB chunk stay. Joined they are a PNG again.
 */
export function withoutColourChunks(bytes: Uint8Array): Uint8Array[] {
  const data = view(bytes);
  const parts: Uint8Array[] = [];
  let kept = 0;
  for (let at = SIGNATURE.length; at + 12 <= bytes.length;) {
    const type = String.fromCharCode(...bytes.subarray(at + 4, at + 8));
    const end = at + 12 + data.getUint32(at);
    if (COLOUR_CHUNKS.includes(type)) {
      parts.push(bytes.subarray(kept, at));
      kept = end;
    }
    if (type === 'IEND') break;
    at = end;
  }
  parts.push(bytes.subarray(kept));
  return parts;
}
