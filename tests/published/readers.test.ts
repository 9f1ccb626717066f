import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { inspect } from '../../src/picture/inspect.ts';
import { readPicture } from '../../src/picture/decode-node.ts';
import type { Picture } from '../../src/picture/picture.ts';
import { hasOpenData, openBytes, openFiles } from '../open-data.ts';

// Files that others made to try readers with; what is known of each comes from their makers (SOURCES.md beside them).
const JPEG = 'readers/jpeg';
const PNG = 'readers/png';
const TURNED = 'readers/orientation_jpeg';

/** Mean absolute difference of two pictures of one size, the second one mirrored as asked. */
function difference(a: Picture, b: Picture, mirrorX: boolean, mirrorY: boolean): number {
  const { widthPx: w, heightPx: h, channels } = a;
  let sum = 0;
  for (let y = 0; y < h; y++) {
    for (let x = 0; x < w; x++) {
      const at = ((mirrorY ? h - 1 - y : y) * w + (mirrorX ? w - 1 - x : x)) * channels;
      for (let c = 0; c < channels; c++)
        sum += Math.abs(a.data[(y * w + x) * channels + c]! - b.data[at + c]!);
    }
  }
  return sum / (w * h * channels);
}

/** A picture as libvips reads it, untouched by profiles: 16 bits rounded to 8, grey three times. */
async function byLibvips(bytes: Uint8Array): Promise<Uint8Array> {
  const image = sharp(bytes, { failOn: 'error' });
  const { depth, channels = 3 } = await image.metadata();
  const deep = depth === 'ushort';
  if (deep) image.toColourspace(channels >= 3 ? 'rgb16' : 'grey16');
  else image.toColourspace('srgb');
  const { data, info } = await image
    .raw({ depth: deep ? 'ushort' : 'uchar' })
    .toBuffer({ resolveWithObject: true });
  const values = deep ? new Uint16Array(data.buffer, data.byteOffset, data.length / 2) : data;
  const out = new Uint8Array(info.width * info.height * 3);
  for (let k = 0; k < out.length; k++) {
    const at = Math.floor(k / 3) * info.channels + (info.channels < 3 ? 0 : k % 3);
    out[k] = deep ? Math.round(values[at]! / 257) : values[at]!;
  }
  return out;
}

const meanOf = (a: ArrayLike<number>): number =>
  Array.from(a).reduce((sum, v) => sum + v, 0) / a.length;

function greatestDifference(a: ArrayLike<number>, b: ArrayLike<number>): number {
  expect(a.length).toBe(b.length);
  let greatest = 0;
  for (let k = 0; k < a.length; k++) greatest = Math.max(greatest, Math.abs(a[k]! - b[k]!));
  return greatest;
}

const codeOf = async (folder: string, name: string): Promise<string> => {
  try {
    await readPicture(openBytes(folder, name), name);
    return 'read';
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    expect(error.message).toContain(name);
    return error.reason.code;
  }
};

describe.skipIf(!hasOpenData(TURNED))(
  'EXIF orientation (recurser/exif-orientation-examples)',
  () => {
    it('all eight end upright and equal', async () => {
      const names = openFiles(TURNED);
      expect(names).toHaveLength(8);
      const pictures = await Promise.all(
        names.map((name) => readPicture(openBytes(TURNED, name), name)),
      );
      const upright = pictures[0]!;
      pictures.forEach((picture, k) => {
        expect(picture.meta.orientation).toBe(k + 1);
        expect([picture.widthPx, picture.heightPx]).toEqual([1800, 1200]);
        const stored = [picture.meta.storedWidthPx, picture.meta.storedHeightPx];
        expect(stored).toEqual(k + 1 >= 5 ? [1200, 1800] : [1800, 1200]);
        // Each was compressed on its own, so single pixels differ; a wrong turn or mirror differs everywhere.
        const right = difference(picture, upright, false, false);
        for (const [mirrorX, mirrorY] of [
          [true, false],
          [false, true],
          [true, true],
        ] as const)
          expect(right, names[k]).toBeLessThan(difference(picture, upright, mirrorX, mirrorY) / 5);
      });
    });
  },
);

describe.skipIf(!hasOpenData(PNG))('PNG (PngSuite and others)', () => {
  it('every file that was broken on purpose is refused by name', async () => {
    const broken = openFiles(PNG).filter(
      (name) => /^x.*\.png$/.test(name) || name === 'truncated.png',
    );
    expect(broken).toHaveLength(15);
    for (const name of broken)
      expect(
        ['picture-damaged', 'picture-truncated', 'picture-none'],
        `${name} should be refused`,
      ).toContain(await codeOf(PNG, name));
  });

  it('all of 16 bits are read', async () => {
    const deep = openFiles(PNG).filter((name) => /g16|c16|a16|16-bit|monkey16/.test(name));
    expect(deep.length).toBeGreaterThan(10);
    for (const name of deep) {
      expect(await codeOf(PNG, name), name).toBe('read');
      const { bitsPerChannel } = await inspect(openBytes(PNG, name), name);
      expect(bitsPerChannel, name).toBe(16);
    }
  });

  it('16 bits are rounded to 8', async () => {
    const name = 'g04n0g16.png';
    const { data } = await readPicture(openBytes(PNG, name), name);
    expect(greatestDifference(data, await byLibvips(openBytes(PNG, name)))).toBe(0);
    // Its first samples by libpng through OpenCV 4.6: 39291, 38141, 34973 (blue, green, red); its profile is sRGB.
    const [red, green, blue] = (await readPicture(openBytes(PNG, 'monkey16.png'), 'monkey16.png'))
      .data;
    [34973, 38141, 39291].forEach((v, k) =>
      expect(Math.abs([red!, green!, blue!][k]! - v / 257)).toBeLessThanOrEqual(1),
    );
  });

  it.each([
    // gAMA is the exponent that the samples were coded with (PNG, third edition, 11.3.2.2). PngSuite draws the same
    // picture for every gamma; so light is the same in all of them, up to the steps of 8 bits.
    ['g03n0g16.png', 1 / 0.35],
    ['g05n0g16.png', 1 / 0.55],
    ['g07n0g16.png', 1 / 0.7],
  ])('%s: its gamma is undone', async (name, gamma) => {
    const { data, meta } = await readPicture(openBytes(PNG, name), name);
    expect(meta.decodingGamma).toBeCloseTo(gamma, 3);
    const usual = await readPicture(openBytes(PNG, 'g04n0g16.png'), 'g04n0g16.png');
    expect(usual.meta.decodingGamma).toBeUndefined();
    expect(Math.abs(meanOf(data) - meanOf(usual.data))).toBeLessThan(3);
  });

  it.each([
    // Densities: PngSuite (cdun2c08: 1000 px/m), and the pHYs chunk for the others; 1 in = 0.0254 m.
    ['cdun2c08.png', 25.4],
    ['trim-mc.png', 11811 * 0.0254],
    ['pil168.png', 2834 * 0.0254],
    ['cdfn2c08.png', undefined],
    ['cdhn2c08.png', undefined],
    ['cdsn2c08.png', undefined],
  ])('%s: density %s dpi', async (name, dpi) => {
    const { densityDpi } = await inspect(openBytes(PNG, name), name);
    if (dpi === undefined) expect(densityDpi).toBeUndefined();
    else expect(densityDpi).toBeCloseTo(dpi, 6);
  });
});

describe.skipIf(!hasOpenData(JPEG))('JPEG (several projects’ own test files)', () => {
  it.each([
    ['truncated.jpg', 'picture-truncated'],
    ['corrupt-header.jpg', 'picture-truncated'],
    ['broken-app14-length-beyond-eof.jpg', 'picture-truncated'],
    ['broken-bogus-segment-length.jpg', 'picture-damaged'],
    ['broken-no-sof-ascii-transfer-mode.jpg', 'picture-truncated'],
    ['app-200dpi-broken.jpg', 'picture-damaged'],
    ['gradient_ls.jpg', 'picture-kind'],
    ['monkey12.jpg', 'picture-deep'],
    ['pil_sample_cmyk.jpg', 'picture-cmyk'],
    ['pil_sample_rgb.jpg', 'read'],
    ['exif-ifd-offset.jpg', 'read'],
    ['multiple_exif.jpg', 'read'],
    ['testorig.jpg', 'read'],
  ])('%s: %s', async (name, code) => {
    expect(await codeOf(JPEG, name)).toBe(code);
  });

  it.each([
    ['exif-200dpcm.jpg', 508],
    ['app-200dpi.jpg', 200],
    ['rgb.jpg', 300],
    ['exif-72dpi-int.jpg', 72],
    ['exif-dpi-zerodivision.jpg', undefined],
    ['no-dpi-in-exif.jpg', undefined],
    // 1 x 2 px/cm: the axes do not agree, so there is no one density.
    ['jfif_unit_cm.jpg', undefined],
  ])('%s: density %s dpi', async (name, dpi) => {
    const { densityDpi } = await inspect(openBytes(JPEG, name), name);
    if (dpi === undefined) expect(densityDpi).toBeUndefined();
    else expect(densityDpi).toBeCloseTo(dpi, 6);
  });
});

describe.skipIf(!hasOpenData('photos'))('photographs', () => {
  it('tell camera, lens and focal length', async () => {
    const name = 'singlemarkersoriginal.jpg';
    expect(await inspect(openBytes('photos', name), name)).toMatchObject({
      focalLengthMm: 4.25,
      focalLength35Mm: 26,
      exifWidthPx: 640,
      exifHeightPx: 480,
    });
  });
});

const TIFF = 'readers/tiff';
describe.skipIf(!hasOpenData(TIFF))('TIFF (image-tiff, Pillow, sharp)', () => {
  it.each([
    ['cmyk-3c-16b.tiff', 'picture-cmyk'],
    ['fogra-0-100-100-0.tif', 'picture-cmyk'],
    ['tiled-cmyk-i8.tif', 'picture-cmyk'],
    ['gradient-3c-32b-float.tiff', 'picture-kind'],
    ['fuzz_colormap-shl-overflow.tiff', 'picture-damaged'],
    ['fuzz_graydepth-invert-overflow-5a0aad5024cc4ff3.tiff', 'picture-damaged'],
    ['fuzz_graydepth-invert-overflow-9f2f479685f84884.tiff', 'picture-damaged'],
    ['fuzz_sample-get-lzw-stuck.tiff', 'picture-truncated'],
  ])('%s is refused: %s', async (name, code) => {
    expect(await codeOf(TIFF, name)).toBe(code);
  });

  it.each([
    // Strips and tiles, LZW, Deflate, fax 2 and 4 with reversed bits, JPEG; grey, RGB, YCbCr, palette; planar; BigTIFF.
    ['16_bit_noise.tif', 16],
    ['16bit.MM.deflate.tif', 16],
    ['16bit.cropped.tif', 16],
    ['8bit_depth.tiff', 8],
    ['BigTIFF.tif', 8],
    ['compression.tif', 1],
    ['g4-fillorder-test.tif', 1],
    ['minisblack-1c-16b.tiff', 16],
    ['multipage.tiff', 1],
    ['planar-rgb-u8.tif', 8],
    ['quad-tile.jpg.tiff', 8],
    ['rgb-3c-16b.tiff', 16],
    ['tiff_wrong_bits_per_sample_2.tiff', 8],
  ])('%s, %d bits, is read as libvips reads it', async (name, bits) => {
    const bytes = openBytes(TIFF, name);
    const { data, channels, meta } = await readPicture(bytes, name);
    expect(meta.bitsPerChannel).toBe(bits);
    expect(channels).toBe(3);
    expect(greatestDifference(data, await byLibvips(bytes))).toBe(0);
  });

  it('12 bits are read', async () => {
    const name = '12bit.cropped.tif';
    const { data, meta } = await readPicture(openBytes(TIFF, name), name);
    expect(meta.bitsPerChannel).toBe(12);
    // libvips does not read it; libtiff through OpenCV 4.6 does: 0 to 480 of 65535, which is a mean of 0.0965 of 255.
    expect(Math.max(...data)).toBe(2);
    expect(meanOf(data)).toBeCloseTo(0.0965, 4);
  });

  it.each([
    // Pages as Pillow 9.4 counts them (n_frames).
    ['compression.tif', 2],
    ['multipage.tiff', 3],
  ])('%s: that only the first of %d pages was read is said', async (name, pages) => {
    const { reasons } = await inspect(openBytes(TIFF, name), name);
    expect(reasons).toMatchObject([{ code: 'picture-pages', level: 'note', facts: { pages } }]);
  });

  it.each([
    // SOURCES.md: what each file's resolution fields say.
    ['8bit_depth.tiff', 25.4, 'cm'],
    ['16_bit_noise.tif', 6153 * 2.54, 'cm'],
    ['g4-fillorder-test.tif', 300, 'inch'],
    // 100 without a unit, and 0.
    ['compression.tif', undefined, undefined],
    ['multipage.tiff', undefined, undefined],
    ['BigTIFF.tif', undefined, undefined],
  ])('%s: density %s dpi, written per %s', async (name, dpi, unit) => {
    const meta = await inspect(openBytes(TIFF, name), name);
    if (dpi === undefined) expect(meta.densityDpi).toBeUndefined();
    else expect(meta.densityDpi).toBeCloseTo(dpi, 6);
    expect(meta.densityUnit).toBe(unit);
    expect(meta.densitySource).toBe(dpi === undefined ? undefined : 'TIFF');
  });
});

const TURNED_TIFF = 'readers/orientation_tiff';
describe.skipIf(!hasOpenData(TURNED_TIFF))('TIFF orientation (Pillow)', () => {
  it('all eight end upright and equal', async () => {
    const names = openFiles(TURNED_TIFF);
    expect(names).toHaveLength(8);
    const pictures = await Promise.all(
      names.map((name) => readPicture(openBytes(TURNED_TIFF, name), name)),
    );
    pictures.forEach((picture, k) => {
      expect([picture.widthPx, picture.heightPx]).toEqual([590, 88]);
      expect(picture.meta).toMatchObject({
        orientation: k + 1,
        storedWidthPx: k + 1 >= 5 ? 88 : 590,
        densityDpi: 96,
      });
      const right = difference(picture, pictures[0]!, false, false);
      for (const [mirrorX, mirrorY] of [
        [true, false],
        [false, true],
        [true, true],
      ] as const)
        expect(right, names[k]).toBeLessThan(
          difference(picture, pictures[0]!, mirrorX, mirrorY) / 5,
        );
    });
  });
});

const HEIC = 'readers/heic';
describe.skipIf(!hasOpenData(HEIC))('HEIC (libheif)', () => {
  it.each([
    // SOURCES.md: sizes as libheif's own examples have them; the second is stored padded.
    ['example.heic', 1280, 854, []],
    ['rainbow.heic', 451, 461, []],
    ['with-alpha-512x512.heic', 512, 512, ['picture-transparent']],
  ])('%s: %d x %d px', async (name, widthPx, heightPx, codes) => {
    const picture = await readPicture(openBytes(HEIC, name), name);
    expect(picture).toMatchObject({ widthPx, heightPx });
    expect(picture.meta).toMatchObject({ format: 'heic', orientation: 1, bitsPerChannel: 8 });
    expect(picture.meta.reasons!.map(({ code }) => code)).toEqual(codes);
    expect(meanOf(picture.data), 'there is something in it').toBeGreaterThan(20);
  });
});

describe.each([
  ['readers/pdf', 'picture-none', /a PDF/],
  ['readers/eps', 'picture-none', /PostScript|unknown/],
] as const)('%s', (folder, code, words) => {
  it.skipIf(!hasOpenData(folder))('is told by its content, whatever its name', async () => {
    for (const name of openFiles(folder)) {
      const refused = await inspect(openBytes(folder, name), 'IMG_0001.jpg').catch(
        (e: unknown) => e,
      );
      expect(refused, name).toBeInstanceOf(Refusal);
      expect((refused as Refusal).reason.code, name).toBe(code);
      expect((refused as Refusal).message, name).toMatch(words);
    }
  });
});
