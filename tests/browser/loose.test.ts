import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import type { Locator } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { newJob } from '../../src/job/job.ts';
import { writeJobFile } from '../../src/job/job-file.ts';
import { calipersOf } from '../support/calipers.ts';
import { drop, enter, go, openApp, type Desk } from './page.ts';

const read = (path: string): Uint8Array =>
  new Uint8Array(readFileSync(new URL(`../../${path}`, import.meta.url)));
const NAME = 'o03-opener-rider.jpg';

/** The job of the blank, measured as tests/accuracy/cases.json has it, on a bed of the loaded sheet's size. */
function jobFile(): Uint8Array {
  const bytes = read(`fixtures/${NAME}`);
  const digest = createHash('sha256').update(bytes).digest('hex');
  const job = newJob('L-1', 'Loose openers');
  return writeJobFile(
    {
      ...job,
      picture: { name: NAME, digest },
      thicknessMm: { 1: 10.02 },
      widestMm: 8.82,
      face: 'print',
      sheet: {
        ...job.sheet,
        kept: 'today',
        spansMm: { x: 140.09, y: 139.91, d: 141.41 },
        riderSizeMm: 50,
        riderSpansMm: { 50: 49.97 },
      },
      bed: { ...job.bed, widthMm: 297, depthMm: 420 },
    },
    [{ name: NAME, digest, bytes: bytes as Uint8Array<ArrayBuffer> }],
  );
}

const truth = JSON.parse(Buffer.from(read('fixtures/o03-opener-rider.truth.json')).toString()) as {
  blanks: { role: string; widest: [number, number][][] }[];
};

let desk: Desk;
beforeAll(async () => {
  desk = await openApp();
});
afterAll(() => desk.close());

it('places pieces that lie on the bed without a board, and makes their print', async () => {
  const { page } = desk;
  await drop(page, [{ name: 'openers.snugline', type: 'application/zip', bytes: jobFile() }]);
  await page
    .getByRole('navigation', { name: 'Steps' })
    .getByText('1 blank')
    .waitFor({ state: 'attached', timeout: 120_000 });
  await go(page, 'Release');
  await page.getByRole('radio', { name: 'Artwork' }).first().click();
  const square =
    '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="90mm" viewBox="0 0 1 1"><rect width="1" height="1" fill="#b1263c"/></svg>';
  await drop(page, [
    { name: 'red.svg', type: 'image/svg+xml', bytes: new TextEncoder().encode(square) },
  ]);
  await go(page, 'Board');
  await page.getByRole('radio', { name: 'No board' }).click();
  await enter(page, /^X, cross to cross/, '140.17');
  await enter(page, /^Y, cross to cross/, '139.89');
  await enter(page, /^D, cross to cross/, '141.45');
  await enter(page, /^How many laid/, '4');
  await drop(page, [
    { name: 'e01-load.jpg', type: 'image/jpeg', bytes: read('fixtures/e01-load.jpg') },
  ]);
  await page.getByText('The print lands within').waitFor({ timeout: 120_000 });
  // Four are said to lie there; the photo shows three.
  await page
    .getByText(/Of blank 1, 4 were laid, and 3 are placed/)
    .first()
    .waitFor();
  await enter(page, /^How many laid/, '3');
  await page
    .getByText(/Of blank 1, 4 were laid/)
    .first()
    .waitFor({ state: 'detached' });
  await page.getByText('The print lands within').waitFor({ timeout: 120_000 });
  expect(await page.getByText(/^blank 1, turned /).count()).toBe(3);
  // The photo itself is shown, each piece's edge over it where it lies: the truth's middles, within its own size.
  await page.getByRole('application', { name: /3 things found in it, all placed/ }).waitFor();
  // Nothing is printed by an outline that no caliper was held against.
  await page.getByText(/^Nothing is printed by an outline that is not settled/).waitFor();
  expect(await page.getByRole('button', { name: 'Make the files of this load' }).count()).toBe(0);
  await page.getByRole('button', { name: 'To check' }).first().click();
  const [width, height] = calipersOf(truth.blanks.find((b) => b.role !== 'support')!.widest[0]!);
  await page.getByRole('button', { name: '0.00', exact: true }).click();
  await enter(page, /^Width: your reading/, width.toFixed(2));
  await enter(page, /^Height: your reading/, height.toFixed(2));
  await page.getByRole('button', { name: /^Check\s*2 of 2 agree/ }).waitFor();
  await go(page, 'Board');
  await page.getByRole('button', { name: 'Make the files of this load' }).click();
  const [file] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('button', { name: 'Download load-print.pdf' }).click({ timeout: 120_000 }),
  ]);
  const pdf = readFileSync(await file.path());
  expect(pdf.subarray(0, 5).toString()).toBe('%PDF-');
  // The page is the bed: 297 x 420 mm in points (ISO 32000-1, 14.11.2).
  const box = /\/MediaBox \[\s*0 0 ([\d.]+) ([\d.]+)\s*\]/.exec(pdf.toString('latin1'))!;
  expect(Number(box[1])).toBeCloseTo((297 * 72) / 25.4, 2);
  expect(Number(box[2])).toBeCloseTo((420 * 72) / 25.4, 2);
  expect(desk.errors).toEqual([]);
}, 300_000);

it('goes from the spans to the placed load by keys alone', async () => {
  const own = await openApp();
  const { page } = own;
  await drop(page, [{ name: 'openers.snugline', type: 'application/zip', bytes: jobFile() }]);
  await page
    .getByRole('navigation', { name: 'Steps' })
    .getByText('1 blank')
    .waitFor({ state: 'attached', timeout: 120_000 });
  /** Tab until this has the focus. */
  const tabTo = async (what: Locator): Promise<void> => {
    for (let k = 0; k < 120; k++) {
      await page.keyboard.press('Tab');
      if (
        (await what.count()) > 0 &&
        (await what.first().evaluate((e) => e === document.activeElement))
      )
        return;
    }
    throw new Error('no way there by Tab');
  };
  await tabTo(
    page.getByRole('navigation', { name: 'Steps' }).getByRole('button', { name: /^Board/ }),
  );
  await page.keyboard.press('Enter');
  await tabTo(page.getByRole('radio', { name: 'A board' }));
  await page.keyboard.press('ArrowRight');
  for (const [field, value] of [
    [/^X, cross to cross/, '140.17'],
    [/^Y, cross to cross/, '139.89'],
    [/^D, cross to cross/, '141.45'],
    [/^How many laid/, '3'],
  ] as const) {
    await tabTo(page.getByRole('textbox', { name: field }));
    await page.keyboard.type(value);
    await page.keyboard.press('Enter');
  }
  const chosen = page.waitForEvent('filechooser');
  await tabTo(page.getByLabel('Choose photos'));
  await page.keyboard.press('Enter');
  await (await chosen).setFiles(new URL('../../fixtures/e01-load.jpg', import.meta.url).pathname);
  await page.getByText('The print lands within').waitFor({ timeout: 120_000 });
  const photo = page.getByRole('application', { name: /3 things found in it, all placed/ });
  await photo.waitFor();
  await tabTo(photo);
  const text = photo.locator('text').first();
  const before = await text.boundingBox();
  await page.keyboard.press('ArrowLeft');
  await expect.poll(async () => (await text.boundingBox())!.x - before!.x).toBeGreaterThan(20);
  await tabTo(page.getByRole('radio', { name: 'In the photo' }));
  await page.keyboard.press('ArrowRight');
  await page.getByRole('img', { name: /^The bed: 3 pieces that lie on it/ }).waitFor();
  expect(own.errors).toEqual([]);
  await own.close();
}, 300_000);
