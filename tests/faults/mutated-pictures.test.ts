import { readFileSync } from 'node:fs';
import sharp, { type Sharp } from 'sharp';
import { describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { readPicture } from '../../src/picture/decode-node.ts';
import { mutate, numbers, withRightChecksums } from '../support/mutate.ts';

const EACH = 300;
/** Per format; a file alone may take no longer either. */
const SECONDS = 60;
const SEED = Number(process.env.FC_SEED ?? 20260101);

const small = (): Sharp =>
  sharp(readFileSync(new URL('../../fixtures/o10-messenger.jpg', import.meta.url)))
    .extract({ left: 400, top: 300, width: 200, height: 140 })
    .resize(100, 70);
const exif = { IFD0: { Model: 'Invented One', Orientation: '6' }, IFD2: { FocalLength: '57/10' } };
const deep = (): Sharp => small().toColourspace('rgb16');

const SEEDS: Readonly<Record<string, () => Promise<Uint8Array>>> = {
  'photo.jpg': () => small().withExif(exif).jpeg({ quality: 90 }).toBuffer(),
  'progressive.jpg': () => small().jpeg({ progressive: true }).toBuffer(),
  'photo.webp': () => small().webp().toBuffer(),
  'exact.webp': () => small().webp({ lossless: true }).toBuffer(),
  'scan.png': () => small().withIccProfile('p3').png().toBuffer(),
  'deep.png': () => deep().png().toBuffer(),
  'lzw.tif': () => small().withIccProfile('p3').tiff({ compression: 'lzw' }).toBuffer(),
  'tiles.tif': () =>
    small()
      .tiff({
        compression: 'deflate',
        predictor: 'horizontal',
        tile: true,
        tileWidth: 32,
        tileHeight: 32,
      })
      .toBuffer(),
  'jpeg.tif': () => small().tiff({ compression: 'jpeg' }).toBuffer(),
  'fax.tif': () =>
    small()
      .greyscale()
      .threshold()
      .toColourspace('b-w')
      .tiff({ compression: 'ccittfax4', bitdepth: 1 })
      .toBuffer(),
  'deep.tif': () => deep().tiff({ compression: 'none' }).toBuffer(),
  'photo.avif': () => small().avif({ effort: 1 }).toBuffer(),
  'photo.heic': async () => readFileSync(new URL('../../fixtures/crop.heic', import.meta.url)),
};

describe('a damaged file is read or refused by name, soon, and nothing else', () => {
  it.each(Object.keys(SEEDS))(
    `%s, ${EACH} ways`,
    async (name) => {
      const random = numbers(SEED);
      const whole = new Uint8Array(await SEEDS[name]!());
      expect((await readPicture(whole, name)).widthPx, 'the seed itself is read').toBeGreaterThan(
        0,
      );
      let refused = 0;
      for (let k = 0; k < EACH; k++) {
        const bent = mutate(whole, random);
        const bytes = name.endsWith('.png') && k % 2 === 1 ? withRightChecksums(bent) : bent;
        try {
          const { widthPx, heightPx, channels, data } = await readPicture(bytes, name);
          expect(data).toHaveLength(widthPx * heightPx * channels);
        } catch (error) {
          if (!(error instanceof Refusal))
            throw new Error(`number ${k} of seed ${SEED}`, { cause: error });
          expect(error.message, `number ${k} of seed ${SEED}`).toContain(name);
          expect(error.reason.code).not.toBe('picture-slow');
          refused++;
        }
      }
      expect(refused, 'the damage was damage').toBeGreaterThan(EACH / 4);
    },
    SECONDS * 1000,
  );
});
