import { expect, it } from 'vitest';
import type { PictureFile } from '../../src/job/run.ts';
import type { PictureMeta } from '../../src/picture/picture.ts';
import type { ShownPicture } from '../../src/picture/shown-browser.ts';
import { ShownPictures } from '../../src/ui/picture/shown.ts';

const meta = {} as PictureMeta;
const file = (digest: string): PictureFile => ({ name: digest, digest, bytes: new Blob() });

function watched() {
  const closed: string[] = [];
  const asked: string[] = [];
  const answers: (() => void)[] = [];
  const pictures = new ShownPictures(({ digest }) => {
    asked.push(digest);
    const bitmap = (name: string) => ({ close: () => closed.push(`${name} ${digest}`) });
    const shown = { whole: bitmap('whole'), small: bitmap('small') } as unknown as ShownPicture;
    return new Promise((resolve) => answers.push(() => resolve(shown)));
  });
  return { pictures, asked, closed, answers };
}

it('decodes a picture once for all drawings that come and go, until another is shown', async () => {
  const { pictures, asked, closed, answers } = watched();
  const first = pictures.take(file('a'), meta);
  const beside = pictures.take(file('a'), meta);
  answers[0]!();
  expect(await first.ready).toBe(await beside.ready);
  first.release();
  beside.release();
  const later = pictures.take(file('a'), meta);
  await later.ready;
  expect(asked).toEqual(['a']);
  later.release();
  expect(closed).toEqual([]);
  const other = pictures.take(file('b'), meta);
  answers[1]!();
  await other.ready;
  expect(closed).toEqual(['whole a', 'small a']);
  expect(asked).toEqual(['a', 'b']);
});

it('asks anew for a picture whose answer never came, and frees one that comes too late', async () => {
  const { pictures, asked, closed, answers } = watched();
  pictures.take(file('a'), meta).release();
  const again = pictures.take(file('a'), meta);
  expect(asked).toEqual(['a', 'a']);
  answers[1]!();
  const shown = await again.ready;
  answers[0]!();
  await Promise.resolve();
  await Promise.resolve();
  expect(closed).toEqual(['whole a', 'small a']);
  expect(await pictures.take(file('a'), meta).ready).toBe(shown);
});
