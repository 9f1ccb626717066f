import { Refusal } from '../base/reason.ts';
import { view, type Header } from './header.ts';

const ANIMATED = 0x02;

/**
 * Walks a WebP's chunks without decoding it.
 *
 * @throws Refusal `picture-truncated`, `picture-damaged`, `picture-animated`
 * Source: RFC 9649 (container, VP8X, VP8L); RFC 6386, 9.1 (VP8 key frame).
 */
export function readWebp(bytes: Uint8Array, name: string): Header {
  const damaged = (what: string): never => {
    throw new Refusal('picture-damaged', { name, what });
  };
  const data = view(bytes);
  const declared = bytes.length >= 12 ? data.getUint32(4, true) + 8 : Infinity;
  if (declared > bytes.length)
    throw new Refusal('picture-truncated', { name, bytes: bytes.length });
  let size: { widthPx: number; heightPx: number } | undefined;
  let exif: Uint8Array | undefined;
  for (let at = 12; at + 8 <= declared;) {
    const type = String.fromCharCode(...bytes.subarray(at, at + 4));
    const length = data.getUint32(at + 4, true);
    const body = bytes.subarray(at + 8, at + 8 + length);
    if (at + 8 + length > declared) damaged(`its ${type.trim()} chunk runs past its end`);
    if (type === 'VP8X' && body[0]! & ANIMATED) throw new Refusal('picture-animated', { name });
    if (type === 'VP8 ')
      size = lossySize(body) ?? damaged('its pixels do not begin as they should');
    if (type === 'VP8L')
      size = losslessSize(body) ?? damaged('its pixels do not begin as they should');
    if (type === 'EXIF')
      exif = String.fromCharCode(...body.subarray(0, 4)) === 'Exif' ? body.subarray(6) : body;
    at += 8 + length + (length & 1);
  }
  if (!size) return damaged('it holds no pixels');
  return { ...size, bits: 8, ...(exif && { exif }), reasons: [] };
}

function lossySize(body: Uint8Array): { widthPx: number; heightPx: number } | undefined {
  const isKeyFrame = (body[0]! & 1) === 0;
  if (body.length < 10 || !isKeyFrame) return undefined;
  if (body[3] !== 0x9d || body[4] !== 0x01 || body[5] !== 0x2a) return undefined;
  const data = view(body);
  return { widthPx: data.getUint16(6, true) & 0x3fff, heightPx: data.getUint16(8, true) & 0x3fff };
}

function losslessSize(body: Uint8Array): { widthPx: number; heightPx: number } | undefined {
  if (body.length < 5 || body[0] !== 0x2f) return undefined;
  const bits = view(body).getUint32(1, true);
  return { widthPx: (bits & 0x3fff) + 1, heightPx: ((bits >>> 14) & 0x3fff) + 1 };
}
