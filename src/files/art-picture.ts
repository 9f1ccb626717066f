import { PDFDocument, PDFName, PDFRawStream, type PDFImage, type PDFRef } from '@cantoo/pdf-lib';
import { unzlibSync } from 'fflate';
import type { ArtSheet } from '../artwork/artwork.ts';
import { Refusal } from '../base/reason.ts';
import { IDENTITY, type Affine } from '../geometry/affine.ts';
import { inspect, swapsSides } from '../picture/inspect.ts';
import type { Decoded, MagickKind } from '../picture/magick.ts';
import { patience } from '../picture/magick-host.ts';
import type { PictureMeta } from '../picture/picture.ts';
import { sniff } from '../picture/sniff.ts';

/** The decoder that page and terminal share, for what a PDF cannot hold as it is. */
export type DecodePixels = (
  bytes: Uint8Array,
  kind: MagickKind,
  name: string,
  seconds: number,
) => Promise<Decoded>;

/** What a picture that names no density is taken for, dots per inch; its size is then for the operator to say. */
const PLAIN_DPI = 300;

const KINDS = { png: 'PNG', jpeg: 'JPEG', tiff: 'TIFF' } as const;

/**
 * A picture as a PDF of one page, as large as its density makes it. A JPEG goes in as it is, without what it says of where and
 * by whom it was taken; colour profiles are kept.
 *
 * @throws Refusal `artwork-kind`, and as `inspect` and the decoder do
 */
export async function pageOfPicture(
  bytes: Uint8Array,
  name: string,
  decode: DecodePixels,
): Promise<{ pdf: Uint8Array; kind: ArtSheet['kind'] }> {
  const { kind: format } = sniff(bytes);
  if (format !== 'png' && format !== 'jpeg' && format !== 'tiff')
    throw new Refusal('artwork-kind', { file: name });
  const meta = await inspectArt(bytes, name, format);
  const doc = await PDFDocument.create();
  const embedded = async (): Promise<{ ref: PDFRef; widthPx: number; heightPx: number }> => {
    if (format === 'tiff') {
      const seconds = patience(((meta?.storedWidthPx ?? 0) * (meta?.storedHeightPx ?? 0)) / 1e6);
      return fromPixels(doc, await decode(bytes.slice(), 'tiff', name, seconds));
    }
    const image = await embed(doc, bytes, format, name);
    const profile = format === 'png' ? profileOfPng(bytes) : profileOfJpeg(bytes);
    if (profile) colourBy(doc, image.ref, profile);
    return { ref: image.ref, widthPx: image.width, heightPx: image.height };
  };
  const { ref, widthPx, heightPx } = await embedded();
  const orientation = format === 'tiff' ? 1 : (meta?.orientation ?? 1);
  const k = 72 / (meta?.densityDpi ?? PLAIN_DPI);
  const [w, h] = swapsSides(orientation) ? [heightPx, widthPx] : [widthPx, heightPx];
  const page = doc.addPage([w * k, h * k]);
  const key = page.node.newXObject('I', ref).asString();
  const [a, b, c, d, e, f] = upright(orientation);
  const cm = [a * w * k, b * h * k, c * w * k, d * h * k, e * w * k, f * h * k];
  page.node.set(
    PDFName.Contents,
    doc.context.register(doc.context.flateStream(`q ${cm.join(' ')} cm ${key} Do Q`)),
  );
  return { pdf: await doc.save({ useObjectStreams: false }), kind: KINDS[format] };
}

/** What the file says of itself; nothing where it is CMYK, which cannot be measured in but can be printed. */
async function inspectArt(
  bytes: Uint8Array,
  name: string,
  format: keyof typeof KINDS,
): Promise<PictureMeta | undefined> {
  try {
    return await inspect(bytes, name);
  } catch (error) {
    const cmyk = error instanceof Refusal && error.reason.code === 'picture-cmyk';
    if (cmyk && format === 'jpeg') return undefined;
    throw error;
  }
}

async function embed(
  doc: PDFDocument,
  bytes: Uint8Array,
  format: 'png' | 'jpeg',
  name: string,
): Promise<PDFImage> {
  try {
    const image =
      format === 'png' ? await doc.embedPng(bytes) : await doc.embedJpg(withoutWords(bytes));
    await image.embed();
    return image;
  } catch (error) {
    throw new Refusal('picture-undecodable', {
      name,
      why: error instanceof Error ? error.message : String(error),
    });
  }
}

/** Where the unit square of the stored picture lies when it is upright, by EXIF orientation (CIPA DC-008, 4.6.4). */
function upright(orientation: number): Affine {
  const ways: Readonly<Record<number, Affine>> = {
    2: [-1, 0, 0, 1, 1, 0],
    3: [-1, 0, 0, -1, 1, 1],
    4: [1, 0, 0, -1, 0, 1],
    5: [0, -1, -1, 0, 1, 1],
    6: [0, -1, 1, 0, 0, 1],
    7: [0, 1, 1, 0, 0, 0],
    8: [0, 1, -1, 0, 1, 0],
  };
  return ways[orientation] ?? IDENTITY;
}

/** Pixels as an image, what is transparent as its mask. */
function fromPixels(
  doc: PDFDocument,
  { widthPx, heightPx, channels, data }: Decoded,
): { ref: PDFRef; widthPx: number; heightPx: number } {
  const count = widthPx * heightPx;
  let colours = data;
  let mask: Uint8Array | undefined;
  if (channels === 4) {
    colours = new Uint8Array(3 * count);
    mask = new Uint8Array(count);
    for (let k = 0; k < count; k++) {
      colours[3 * k] = data[4 * k]!;
      colours[3 * k + 1] = data[4 * k + 1]!;
      colours[3 * k + 2] = data[4 * k + 2]!;
      mask[k] = data[4 * k + 3]!;
    }
    if (mask.every((v) => v === 255)) mask = undefined;
  }
  const { context } = doc;
  const common = {
    Type: 'XObject',
    Subtype: 'Image',
    Width: widthPx,
    Height: heightPx,
    BitsPerComponent: 8,
  };
  const soft =
    mask && context.register(context.flateStream(mask, { ...common, ColorSpace: 'DeviceGray' }));
  const image = context.flateStream(colours, {
    ...common,
    ColorSpace: 'DeviceRGB',
    ...(soft && { SMask: soft }),
  });
  return { ref: context.register(image), widthPx, heightPx };
}

/** Gives an image the colour space of a profile, where that has as many components. */
function colourBy(doc: PDFDocument, image: PDFRef, profile: Uint8Array): void {
  const space = new TextDecoder('latin1').decode(profile.subarray(16, 20));
  const device = { 'RGB ': 'DeviceRGB', GRAY: 'DeviceGray', CMYK: 'DeviceCMYK' }[space];
  const stream = doc.context.lookup(image);
  if (!device || !(stream instanceof PDFRawStream)) return;
  const key = PDFName.of('ColorSpace');
  if (stream.dict.lookup(key) !== PDFName.of(device)) return;
  const n = { DeviceRGB: 3, DeviceGray: 1, DeviceCMYK: 4 }[device];
  const icc = doc.context.register(doc.context.flateStream(profile, { N: n!, Alternate: device }));
  stream.dict.set(key, doc.context.obj(['ICCBased', icc]));
}

/** Source: PNG specification, third edition, 11.3.2.3: name, zero, method, deflated profile. */
function profileOfPng(bytes: Uint8Array): Uint8Array | undefined {
  const data = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  for (let at = 8; at + 12 <= bytes.length;) {
    const length = data.getUint32(at);
    const type = String.fromCharCode(...bytes.subarray(at + 4, at + 8));
    if (type === 'IDAT') return undefined;
    if (type === 'iCCP') {
      const body = bytes.subarray(at + 8, at + 8 + length);
      try {
        return unzlibSync(body.subarray(body.indexOf(0) + 2));
      } catch {
        return undefined;
      }
    }
    at += 12 + length;
  }
  return undefined;
}

/** Segments of a JPEG before its first scan: marker, and where they begin and end. */
function segments(bytes: Uint8Array): { marker: number; from: number; to: number }[] {
  const data = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const all: { marker: number; from: number; to: number }[] = [];
  for (let at = 2; at + 4 <= bytes.length && bytes[at] === 0xff;) {
    const marker = bytes[at + 1]!;
    if (marker === 0xda) break;
    if (marker === 0xff) {
      at++;
      continue;
    }
    const to = at + 2 + data.getUint16(at + 2);
    all.push({ marker, from: at, to });
    at = to;
  }
  return all;
}

const begins = (bytes: Uint8Array, at: number, text: string): boolean =>
  [...text].every((c, k) => bytes[at + k] === c.charCodeAt(0));

/** Source: ICC.1:2022, B.4: parts numbered from 1, in APP2. */
function profileOfJpeg(bytes: Uint8Array): Uint8Array | undefined {
  const parts = segments(bytes)
    .filter(({ marker, from }) => marker === 0xe2 && begins(bytes, from + 4, 'ICC_PROFILE\0'))
    .sort((a, b) => bytes[a.from + 16]! - bytes[b.from + 16]!)
    .map(({ from, to }) => bytes.subarray(from + 18, to));
  if (parts.length === 0) return undefined;
  const all = new Uint8Array(parts.reduce((n, p) => n + p.length, 0));
  parts.reduce((at, p) => (all.set(p, at), at + p.length), 0);
  return all;
}

/** The same pixels without where, when and by whom: APP0 and the colour transform (APP14) stay, comments and the rest go. */
function withoutWords(bytes: Uint8Array): Uint8Array {
  const all = segments(bytes);
  const gone = all.filter(
    ({ marker }) => (marker > 0xe0 && marker <= 0xef && marker !== 0xee) || marker === 0xfe,
  );
  const out = new Uint8Array(bytes.length - gone.reduce((n, s) => n + s.to - s.from, 0));
  let [from, at] = [0, 0];
  for (const s of [...gone, { from: bytes.length, to: bytes.length }]) {
    out.set(bytes.subarray(from, s.from), at);
    at += s.from - from;
    from = s.to;
  }
  return out;
}
