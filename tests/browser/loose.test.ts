import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
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
    .getByText(/Of blank 1 4 were laid, and 3 are placed/)
    .first()
    .waitFor();
  await enter(page, /^How many laid/, '3');
  await page
    .getByText(/Of blank 1 4 were laid/)
    .first()
    .waitFor({ state: 'detached' });
  await page.getByText('The print lands within').waitFor({ timeout: 120_000 });
  expect(await page.getByText(/^blank 1, turned /).count()).toBe(3);
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
