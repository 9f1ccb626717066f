import { deflateSync, crc32 } from 'node:zlib';
import sharp from 'sharp';

/** Colours over the whole of a space, dark and light: 17 x 17 x 17 of them, as 289 x 17 px of three bytes. */
const SIDE = 17;
export const WIDTH = SIDE * SIDE;
export const HEIGHT = SIDE;
export const COLOURS = Uint8Array.from({ length: SIDE ** 3 * 3 }, (_, k) =>
  Math.round((255 / (SIDE - 1)) * (Math.floor(Math.floor(k / 3) / SIDE ** (k % 3)) % SIDE)),
);

/**
 * Adobe RGB (1998): its primaries adapted to D50 for a profile, and its exponent.
 * Source: Adobe RGB (1998) Color Image Encoding, 4.3 (from memory).
 */
export const ADOBE_1998 = {
  name: 'wide, as Adobe RGB (1998)',
  rXYZ: [0.60974, 0.31111, 0.01947],
  gXYZ: [0.20528, 0.62567, 0.06087],
  bXYZ: [0.14919, 0.06322, 0.74457],
  curve: [563 / 256, 1, 0, 0, 0],
};

/** The same bytes with a profile said to be theirs; nothing is converted. */
export async function profiled(
  icc: Uint8Array,
  format: 'png' | 'jpeg' | 'tiff',
): Promise<Uint8Array> {
  const image = sharp(COLOURS, { raw: { width: WIDTH, height: HEIGHT, channels: 3 } });
  if (format === 'png') return profiledPng(await image.png().toBuffer(), icc);
  if (format === 'tiff') return profiledTiff(icc);
  const jpeg = await image.jpeg({ quality: 100, chromaSubsampling: '4:4:4' }).toBuffer();
  return profiledJpeg(jpeg, icc);
}

/** iCCP after the header. Source: PNG (third edition), 11.3.2.3. */
function profiledPng(png: Buffer, icc: Uint8Array): Uint8Array {
  const body = Buffer.concat([Buffer.from('iCCPwide\0\0', 'latin1'), deflateSync(icc)]);
  const frame = Buffer.alloc(8);
  frame.writeUInt32BE(body.length - 4, 0);
  frame.writeUInt32BE(crc32(body), 4);
  const afterHeader = 8 + 25;
  return Buffer.concat([
    png.subarray(0, afterHeader),
    frame.subarray(0, 4),
    body,
    frame.subarray(4),
    png.subarray(afterHeader),
  ]);
}

/** APP2 after SOI. Source: ICC.1:2022, B.4. */
function profiledJpeg(jpeg: Buffer, icc: Uint8Array): Uint8Array {
  const head = Buffer.alloc(18);
  head.writeUInt16BE(0xffe2, 0);
  head.writeUInt16BE(16 + icc.length, 2);
  head.write('ICC_PROFILE\0', 4, 'latin1');
  head.set([1, 1], 16);
  return Buffer.concat([jpeg.subarray(0, 2), head, icc, jpeg.subarray(2)]);
}

/** Uncompressed RGB, big-endian, the profile in tag 34675. Source: TIFF 6.0, sections 2 and 6; ICC.1:2022, B.3. */
function profiledTiff(icc: Uint8Array): Uint8Array {
  const bitsAt = 8 + COLOURS.length;
  const iccAt = bitsAt + 6;
  const directoryAt = iccAt + icc.length + (icc.length % 2);
  const fields = [
    [256, 4, 1, WIDTH],
    [257, 4, 1, HEIGHT],
    [258, 3, 3, bitsAt],
    [259, 3, 1, 1],
    [262, 3, 1, 2],
    [273, 4, 1, 8],
    [277, 3, 1, 3],
    [278, 4, 1, HEIGHT],
    [279, 4, 1, COLOURS.length],
    [34675, 7, icc.length, iccAt],
  ] as const;
  const out = Buffer.alloc(directoryAt + 2 + 12 * fields.length + 4);
  out.write('MM\0*', 'latin1');
  out.writeUInt32BE(directoryAt, 4);
  out.set(COLOURS, 8);
  for (let k = 0; k < 3; k++) out.writeUInt16BE(8, bitsAt + 2 * k);
  out.set(icc, iccAt);
  out.writeUInt16BE(fields.length, directoryAt);
  fields.forEach(([tag, type, count, value], k) => {
    const at = directoryAt + 2 + 12 * k;
    out.writeUInt16BE(tag, at);
    out.writeUInt16BE(type, at + 2);
    out.writeUInt32BE(count, at + 4);
    if (type === 3 && count === 1) out.writeUInt16BE(value, at + 8);
    else out.writeUInt32BE(value, at + 8);
  });
  return out;
}
