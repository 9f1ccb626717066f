import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp, { type Sharp } from 'sharp';
import { describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { flattenOnWhite } from '../../src/picture/alpha.ts';
import { readPicture, readPictureAt } from '../../src/picture/decode-node.ts';
import { GREATEST_MEGAPIXELS } from '../../src/picture/formats.ts';
import { inspect } from '../../src/picture/inspect.ts';
import type { Picture } from '../../src/picture/picture.ts';
import { tiffBlock, withExif } from '../exif.ts';

const plain = (width = 60, height = 40) =>
  sharp({ create: { width, height, channels: 3, background: { r: 200, g: 60, b: 40 } } });
const bytesOf = async (image: Sharp): Promise<Uint8Array> => new Uint8Array(await image.toBuffer());

describe('size and kind', () => {
  it.each([
    ['jpeg', (s: Sharp) => s.jpeg()],
    ['jpeg', (s: Sharp) => s.jpeg({ progressive: true })],
    ['png', (s: Sharp) => s.png()],
    ['png', (s: Sharp) => s.png({ progressive: true })],
    ['png', (s: Sharp) => s.png({ palette: true })],
    ['tiff', (s: Sharp) => s.tiff({ compression: 'lzw' })],
    ['tiff', (s: Sharp) => s.tiff({ compression: 'packbits' })],
    ['tiff', (s: Sharp) => s.tiff({ compression: 'jpeg' })],
    ['tiff', (s: Sharp) => s.tiff({ tile: true, tileWidth: 16, tileHeight: 32 })],
    ['tiff', (s: Sharp) => s.tiff({ bigtiff: true, compression: 'deflate' })],
    ['avif', (s: Sharp) => s.avif({ effort: 1 })],
    ['webp', (s: Sharp) => s.webp()],
    ['webp', (s: Sharp) => s.webp({ lossless: true })],
    ['webp', (s: Sharp) => s.webp({ quality: 20 }).withExif({ IFD0: { Model: 'x' } })],
  ] as const)('%s', async (format, encode) => {
    const meta = await inspect(await bytesOf(encode(plain())), 'a');
    expect(meta).toMatchObject({ format, storedWidthPx: 60, storedHeightPx: 40, orientation: 1 });
  });

  it('a grey JPEG is read as three equal channels', async () => {
    const grey = await bytesOf(plain().greyscale().jpeg());
    const picture = await readPicture(grey, 'grey.jpg');
    expect(picture.channels).toBe(3);
    expect(picture.data).toHaveLength(60 * 40 * 3);
    expect(picture.data[0]).toBe(picture.data[1]);
  });

  it('a name that says otherwise is noted, not refused', async () => {
    const png = await bytesOf(plain().png());
    const meta = await inspect(png, 'photo.JPG');
    expect(meta.reasons).toMatchObject([{ code: 'picture-name', level: 'note' }]);
    expect((await inspect(png, 'photo.PNG')).reasons).toEqual([]);
    expect((await inspect(png, 'photo')).reasons).toEqual([]);
  });

  it('what stands after the end of a JPEG is left alone', async () => {
    const jpeg = await bytesOf(plain().jpeg());
    const film = new Uint8Array([...jpeg, ...new TextEncoder().encode('ftypmp42 a short film')]);
    expect(await inspect(film, 'a.jpg')).toMatchObject({ storedWidthPx: 60 });
    expect((await readPicture(film, 'a.jpg')).widthPx).toBe(60);
  });

  it('a picture over the limit is refused before it is decoded, with both numbers', async () => {
    const png = await bytesOf(
      sharp({ create: { width: 9000, height: 6000, channels: 3, background: 'white' } }).png(),
    );
    const refused = await readPicture(png, 'big.png').catch((e: unknown) => e as Refusal);
    expect(refused).toBeInstanceOf(Refusal);
    expect((refused as Refusal).message).toMatch(/54\.0 megapixels.*\b50\b/);
    expect(GREATEST_MEGAPIXELS).toBe(50);
  });

  it('where it lies it is read up to 150 megapixels, the file let go before its pixels come', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'snugline-'));
    const path = join(folder, 'big.tif');
    try {
      const background = { r: 200, g: 60, b: 40 };
      await sharp({ create: { width: 9000, height: 6000, channels: 3, background } })
        .tiff({ compression: 'none' })
        .toFile(path);
      const { widthPx, heightPx, channels, data } = await readPictureAt(path);
      expect([widthPx, heightPx, channels]).toEqual([9000, 6000, 3]);
      expect([...data.subarray(data.length - 3)]).toEqual([200, 60, 40]);
      const tiff = readFileSync(path);
      expect(tiff.length).toBeGreaterThan(3 * 54e6);
      await expect(inspect(tiff, 'big.tif', () => 53)).rejects.toThrow(/54\.0 megapixels.*\b53\b/);
    } finally {
      rmSync(folder, { recursive: true });
    }
  });
});

describe('HEIC and AVIF', () => {
  // A file of 160 x 112 px by libheif's own encoder (1.15), and one by libvips.
  const crop = (): Uint8Array =>
    new Uint8Array(readFileSync(new URL('../../fixtures/crop.heic', import.meta.url)));

  it('size, depth and EXIF of a HEIC', async () => {
    expect(await inspect(crop(), 'crop.heic')).toMatchObject({
      format: 'heic',
      storedWidthPx: 160,
      storedHeightPx: 112,
      bitsPerChannel: 8,
      orientation: 1,
      camera: 'Invented One',
      hasExif: true,
      reasons: [],
    });
  });

  it('AVIF of 10 bits', async () => {
    const avif = await bytesOf(plain(64, 48).avif({ bitdepth: 10, effort: 1 }));
    const picture = await readPicture(avif, 'a.avif');
    expect(picture).toMatchObject({ widthPx: 64, heightPx: 48, channels: 3 });
    expect(picture.meta.bitsPerChannel).toBe(10);
    [200, 60, 40].forEach((v, k) => expect(Math.abs(picture.data[k]! - v)).toBeLessThan(6));
  });

  /** The file with another property in the place of its pixi (bits per channel), whose 8 bytes hold it. */
  const withProperty = (type: string, body: readonly number[]): Uint8Array => {
    const bytes = crop();
    const at = Buffer.from(bytes.buffer).indexOf('pixi');
    expect(at).toBeGreaterThan(0);
    bytes.set([...Buffer.from(type), ...body], at);
    return bytes;
  };
  const mean = (p: Picture, left: number, top: number, w: number, h: number): number => {
    let sum = 0;
    for (let y = top; y < top + h; y++)
      for (let x = left; x < left + w; x++) sum += p.data[(y * p.widthPx + x) * p.channels]!;
    return sum / (w * h);
  };
  /** The four quarters of a picture by their mean, clockwise from the upper left. */
  const quarters = (p: Picture): number[] => {
    const [w, h] = [p.widthPx / 2, p.heightPx / 2];
    return [mean(p, 0, 0, w, h), mean(p, w, 0, w, h), mean(p, w, h, w, h), mean(p, 0, h, w, h)];
  };
  it.each([
    // Where each quarter of the upright picture comes from, clockwise from the upper left (ISO/IEC 23008-12, irot, imir).
    ['irot', 1, 8, [1, 2, 3, 0]],
    ['irot', 2, 3, [2, 3, 0, 1]],
    ['irot', 3, 6, [3, 0, 1, 2]],
    ['imir', 0, 4, [3, 2, 1, 0]],
    ['imir', 1, 2, [1, 0, 3, 2]],
  ] as const)('%s %d is orientation %d', async (type, value, orientation, from) => {
    const upright = quarters(await readPicture(crop(), 'crop.heic'));
    const picture = await readPicture(withProperty(type, [value]), 'crop.heic');
    expect(picture.meta).toMatchObject({ orientation, storedWidthPx: 160, storedHeightPx: 112 });
    expect(picture.widthPx).toBe(orientation >= 5 ? 112 : 160);
    quarters(picture).forEach((v, k) => expect(v).toBeCloseTo(upright[from[k]!]!, -0.5));
  });

  it('other primaries without a profile are said', async () => {
    const bytes = withProperty('colr', [...Buffer.from('nclx'), 0, 9, 0, 13]);
    const { reasons } = await inspect(bytes, 'crop.heic');
    expect(reasons).toMatchObject([{ code: 'picture-gamut', level: 'doubt' }]);
  });

  it('an HDR tone curve is refused', async () => {
    // colr of type nclx: primaries, then transfer (ITU-T H.273: 9 is BT.2020, 16 is PQ).
    const bytes = withProperty('colr', [...Buffer.from('nclx'), 0, 9, 0, 16]);
    await expect(inspect(bytes, 'crop.heic')).rejects.toMatchObject({
      reason: { code: 'picture-hdr' },
    });
  });
});

describe('EXIF', () => {
  // Tags and types: CIPA DC-008 (Exif), 4.6; blocks made by hand so that every unit can be tried.
  const read = async (exif: Parameters<typeof tiffBlock>[0]) =>
    inspect(withExif(await bytesOf(plain().jpeg()), tiffBlock(exif)), 'a.jpg');

  it('focal length, 35 mm equivalent, sizes, zoom, names', async () => {
    expect(
      await read({
        make: 'Invented',
        model: 'Invented One',
        lens: 'Invented 5.7 mm',
        focalLength: [57, 10],
        focalLength35: 26,
        width: 4032,
        height: 3024,
        zoom: [15, 10],
        orientation: 6,
      }),
    ).toMatchObject({
      camera: 'Invented One',
      lens: 'Invented 5.7 mm',
      focalLengthMm: 5.7,
      focalLength35Mm: 26,
      exifWidthPx: 4032,
      exifHeightPx: 3024,
      digitalZoom: 1.5,
      orientation: 6,
      hasExif: true,
    });
  });

  it.each([
    [8, 'portrait'],
    [7, 'portrait'],
    [6, 'panorama'],
    [1, undefined],
    [0, undefined],
  ])('a picture that was composed, as phones note it: %d', async (rendered, composed) => {
    expect((await read({ rendered })).composed).toBe(composed);
  });

  it.each([
    [2, 254, 10],
    [3, 100, 10],
    [4, 10, 10],
    [5, 1, 1000],
    [undefined, 254, 10],
  ])('focal plane resolution in unit %s: %d is %d px/mm', async (unit, value, perMm) => {
    const meta = await read({ planeX: [value, 1], ...(unit && { planeUnit: unit }) });
    expect(meta.focalPlanePxPerMm).toBeCloseTo(perMm, 9);
  });

  it('figures that cannot be are left out', async () => {
    const meta = await read({
      focalLength: [0, 0],
      focalLength35: 0,
      zoom: [0, 1],
      orientation: 9,
    });
    expect(meta.focalLengthMm).toBeUndefined();
    expect(meta.focalLength35Mm).toBeUndefined();
    expect(meta.digitalZoom).toBeUndefined();
    expect(meta.orientation).toBe(1);
  });

  it('a damaged block is said to be so; the picture is still read', async () => {
    const jpeg = await bytesOf(plain().jpeg());
    const garbage = new TextEncoder().encode('this is no TIFF header at all');
    const meta = await inspect(withExif(jpeg, garbage), 'a.jpg');
    expect(meta.reasons).toMatchObject([{ code: 'picture-exif', level: 'note' }]);
    expect(meta).toMatchObject({ storedWidthPx: 60, orientation: 1 });
  });

  it('is read from PNG and WebP as from JPEG', async () => {
    const exif = { IFD0: { Model: 'Invented' }, IFD2: { FocalLength: '57/10' } };
    for (const encode of ['png', 'webp', 'jpeg'] as const) {
      const meta = await inspect(await bytesOf(plain().withExif(exif)[encode]()), 'a');
      expect(meta, encode).toMatchObject({ camera: 'Invented', focalLengthMm: 5.7, hasExif: true });
    }
  });
});

describe('transparency', () => {
  it('is laid on white and said', async () => {
    const half = { r: 0, g: 0, b: 0, alpha: 0.5 };
    const png = await bytesOf(
      sharp({ create: { width: 4, height: 4, channels: 4, background: half } }).png(),
    );
    const picture = await readPicture(png, 'a.png');
    expect(picture.meta.reasons).toMatchObject([{ code: 'picture-transparent' }]);
    // Porter-Duff "over" on white with alpha 128/255: 255 · (1 - 128/255) = 127.
    expect([...picture.data.slice(0, 4)]).toEqual([127, 127, 127, 255]);
  });

  it('an opaque alpha channel is no transparency', async () => {
    const png = await bytesOf(plain(4, 4).ensureAlpha().png());
    const picture = await readPicture(png, 'a.png');
    expect(picture.meta.reasons).toEqual([]);
    expect([...picture.data.slice(0, 4)]).toEqual([200, 60, 40, 255]);
    expect(flattenOnWhite(new Uint8Array([1, 2, 3, 255]))).toBe(false);
  });
});

describe('colour', () => {
  it('a wide-gamut picture is converted to sRGB by its profile', async () => {
    // Display P3 185, 71, 50 is sRGB 200, 60, 40 to a few counts (CSS Color Level 4, sample conversions of the same primaries).
    const p3 = await bytesOf(
      sharp(Buffer.from([200, 60, 40]), { raw: { width: 1, height: 1, channels: 3 } })
        .resize(8, 8)
        .withIccProfile('p3')
        .png(),
    );
    const { data } = await readPicture(p3, 'p3.png');
    [200, 60, 40].forEach((c, k) => expect(Math.abs(data[k]! - c)).toBeLessThanOrEqual(2));
    const raw = await sharp(p3).metadata();
    expect(raw.icc, 'the file carries a profile').toBeDefined();
  });
});
