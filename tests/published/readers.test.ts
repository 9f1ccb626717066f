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

  it('16 bits are refused, in words', async () => {
    const deep = openFiles(PNG).filter((name) => /g16|c16|a16|16-bit|monkey16/.test(name));
    expect(deep.length).toBeGreaterThan(10);
    for (const name of deep) expect(await codeOf(PNG, name), name).toBe('picture-deep');
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

describe.each([
  ['readers/heic', 'picture-other', /JPEG or PNG at full size/],
  ['readers/tiff', 'picture-other', /JPEG or PNG at full size/],
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
