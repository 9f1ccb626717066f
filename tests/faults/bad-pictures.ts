/** Pictures that cannot be measured, made on the fly, each with the code of the sentence that must answer it. */
import { readFileSync } from 'node:fs';
import { deflateSync } from 'node:zlib';
import sharp, { type Sharp } from 'sharp';
import type { Code } from '../../src/base/catalogue.ts';

export interface BadPicture {
  /** File name as the operator has it. */
  readonly file: string;
  readonly what: string;
  /** The answer; any of these where more than one is right. */
  readonly codes: readonly Code[];
  readonly bytes: () => Promise<Uint8Array>;
}

const fixture = (name: string): Uint8Array =>
  readFileSync(new URL(`../../fixtures/${name}`, import.meta.url));

const jpeg = (image: Sharp): Promise<Uint8Array> => image.jpeg({ quality: 90 }).toBuffer();

const plain = (width: number, height: number, grey: number): Sharp =>
  sharp({ create: { width, height, channels: 3, background: { r: grey, g: grey, b: grey } } });

/** The fixture's picture upright, half as large. */
const half = (name: string): Sharp => sharp(fixture(name)).autoOrient().resize({ width: 1500 });

function crc32(bytes: Uint8Array): number {
  let crc = 0xffffffff;
  for (const byte of bytes) {
    crc ^= byte;
    for (let k = 0; k < 8; k++) crc = (crc >>> 1) ^ (crc & 1 ? 0xedb88320 : 0);
  }
  return ~crc >>> 0;
}

/** One chunk of a PNG file. Source: PNG (W3C, third edition), 5.3. */
function chunk(type: string, data: Uint8Array): Buffer {
  const body = Buffer.concat([Buffer.from(type, 'latin1'), data]);
  const length = Buffer.alloc(4);
  length.writeUInt32BE(data.length);
  const crc = Buffer.alloc(4);
  crc.writeUInt32BE(crc32(body));
  return Buffer.concat([length, body, crc]);
}

/** A PNG whose header says a size and whose pixels do not matter. */
function headerOnlyPng(width: number, height: number): Uint8Array {
  const header = Buffer.alloc(13);
  header.writeUInt32BE(width, 0);
  header.writeUInt32BE(height, 4);
  header.set([8, 2, 0, 0, 0], 8);
  return Buffer.concat([
    Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]),
    chunk('IHDR', header),
    chunk('IDAT', deflateSync(Buffer.alloc(64))),
    chunk('IEND', Buffer.alloc(0)),
  ]);
}

/**
 * A TIFF of 8-bit grey whose directory says a size; its one strip is 8 bytes long.
 * Source: TIFF 6.0 (Adobe, 1992), section 2 (directory entries), section 4 (baseline grey).
 */
export function headerOnlyTiff(
  width: number,
  height: number,
  more?: readonly [tag: number, type: number, value: number],
): Uint8Array {
  const fields = [
    [256, 4, width],
    [257, 4, height],
    [258, 3, 8],
    [259, 3, 1],
    [262, 3, 1],
    [273, 4, 8],
    [278, 4, height],
    [279, 4, 8],
    ...(more ? [more] : []),
  ] as const;
  const out = Buffer.alloc(16 + 2 + 12 * fields.length + 4);
  out.write('II*\0', 'latin1');
  out.writeUInt32LE(16, 4);
  out.writeUInt16LE(fields.length, 16);
  fields.forEach(([tag, type, value], k) => {
    const at = 18 + 12 * k;
    out.writeUInt16LE(tag, at);
    out.writeUInt16LE(type, at + 2);
    out.writeUInt32LE(1, at + 4);
    if (type === 3) out.writeUInt16LE(value, at + 8);
    else out.writeUInt32LE(value, at + 8);
  });
  return out;
}

export const BAD_PICTURES: readonly BadPicture[] = [
  {
    file: 'nothing.jpg',
    what: 'an empty file',
    codes: ['picture-empty'],
    bytes: async () => new Uint8Array(0),
  },
  {
    file: 'notes.jpg',
    what: 'words that are named a picture',
    codes: ['picture-none'],
    bytes: async () => new TextEncoder().encode('Key board, 10 mm, beech.\n'),
  },
  {
    file: 'layers.psd',
    what: 'a picture of a kind that is not read',
    codes: ['picture-other'],
    bytes: async () => new TextEncoder().encode('8BPS\0\x01 layers'),
  },
  {
    file: 'half.jpg',
    what: 'a JPEG of which only the first half arrived',
    codes: ['picture-truncated'],
    bytes: async () => fixture('o01-card.jpg').subarray(0, 600_000),
  },
  {
    file: 'flipped.png',
    what: 'a PNG with a changed byte in its header',
    codes: ['picture-damaged', 'picture-undecodable'],
    bytes: async () => {
      const bytes = Buffer.from(await plain(40, 30, 200).png().toBuffer());
      bytes[19]! ^= 0x10;
      return bytes;
    },
  },
  {
    file: 'no-width.png',
    what: 'a picture without width',
    codes: ['picture-zero-size', 'picture-damaged'],
    bytes: async () => headerOnlyPng(0, 300),
  },
  {
    file: 'poster.png',
    what: 'a picture that would not fit into memory',
    codes: ['picture-too-large'],
    bytes: async () => headerOnlyPng(30_000, 30_000),
  },
  {
    file: 'proof.jpg',
    what: 'a JPEG in CMYK',
    codes: ['picture-cmyk'],
    bytes: () => jpeg(plain(64, 48, 120).toColourspace('cmyk')),
  },
  {
    file: 'proof.tif',
    what: 'a TIFF in CMYK',
    codes: ['picture-cmyk'],
    bytes: () => plain(64, 48, 120).toColourspace('cmyk').tiff().toBuffer(),
  },
  {
    file: 'light.tif',
    what: 'a TIFF of floating-point numbers',
    codes: ['picture-kind'],
    bytes: async () => headerOnlyTiff(40, 30, [339, 3, 3]),
  },
  {
    file: 'half.tif',
    what: 'a TIFF of which only a part arrived',
    codes: ['picture-truncated'],
    bytes: async () =>
      (await plain(640, 480, 120).tiff({ compression: 'none' }).toBuffer()).subarray(0, 400_000),
  },
  {
    file: 'half.heic',
    what: 'a HEIC of which only a part arrived',
    codes: ['picture-truncated'],
    bytes: async () => fixture('crop.heic').subarray(0, 1500),
  },
  {
    file: 'wide.tif',
    what: 'a TIFF that would not fit into memory',
    codes: ['picture-too-large'],
    bytes: async () => headerOnlyTiff(24_000, 9000),
  },
  {
    file: 'table.jpg',
    what: 'a picture without a reference sheet',
    codes: ['no-sheet'],
    bytes: () =>
      jpeg(
        sharp(fixture('o01-card.jpg'))
          .autoOrient()
          .extract({ left: 0, top: 0, width: 3000, height: 300 })
          .resize(2000, 1500, { fit: 'fill' }),
      ),
  },
  {
    file: 'lens-cap.jpg',
    what: 'a black picture',
    codes: ['no-sheet'],
    bytes: () => jpeg(plain(1600, 1200, 0)),
  },
  {
    file: 'selfie.jpg',
    what: 'a picture that was mirrored',
    codes: ['sheet-mirrored'],
    bytes: () => jpeg(half('o01-card.jpg').flop()),
  },
  {
    file: 'two-sheets.jpg',
    what: 'two reference sheets in one picture',
    codes: ['several-sheets'],
    bytes: async () => {
      const one = await half('o01-card.jpg').toBuffer();
      return jpeg(
        plain(3000, 2000, 90).composite([
          { input: one, left: 0, top: 0 },
          { input: one, left: 1500, top: 0 },
        ]),
      );
    },
  },
  {
    file: 'thumbnail.jpg',
    what: 'a picture too small for the marks',
    codes: ['no-sheet', 'too-few-marks', 'message-unreadable', 'blurred'],
    bytes: () => jpeg(sharp(fixture('o01-card.jpg')).autoOrient().resize({ width: 260 })),
  },
  {
    file: 'corner.jpg',
    what: 'a picture that shows one corner of the sheet',
    codes: ['too-few-marks', 'message-unreadable', 'no-sheet'],
    bytes: () =>
      jpeg(
        sharp(fixture('o01-card.jpg'))
          .autoOrient()
          .extract({ left: 0, top: 0, width: 900, height: 700 }),
      ),
  },
  {
    file: 'shaken.jpg',
    what: 'a blurred and shaken picture',
    codes: ['blurred'],
    bytes: async () => fixture('o09-blurred.jpg'),
  },
];
