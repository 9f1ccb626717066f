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
