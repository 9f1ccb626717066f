import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { newJob, writeJob } from '../../src/job/job.ts';
import { expectSound } from './faults.ts';
import { drop, openApp, type Desk } from './page.ts';

const card = readFileSync(new URL('../../fixtures/o01-card.jpg', import.meta.url));
let desk: Desk;
beforeAll(async () => {
  desk = await openApp();
});
afterAll(() => desk.close());

it('measures many pictures as jobs of one setup, tells each verdict in a table, and opens each', async () => {
  const { page, errors } = desk;
  const job = newJob('S-0001', 'Cards');
  const setup = {
    ...job,
    sheet: { ...job.sheet, stage: 'white', spansMm: { x: 140, y: 140, d: 140 } },
    thicknessMm: { '1': 0.8 },
  };
  await drop(page, [
    { name: 'cards.json', type: 'application/json', bytes: Buffer.from(writeJob(setup)) },
  ]);
  await page.waitForFunction(() => document.title.startsWith('Picture, Cards'));
  await page.getByRole('button', { name: /^Jobs/ }).click();
  await page.getByText(/^Each is set up as "Cards"/).waitFor();
  await page.getByLabel('Many pictures, one job each').setInputFiles([
    { name: 'first.jpg', mimeType: 'image/jpeg', buffer: card },
    { name: 'notes.jpg', mimeType: 'image/jpeg', buffer: Buffer.from('no picture') },
  ]);
  await page.getByText('2 of 2 pictures done').waitFor({ timeout: 120_000 });
  const table = page.getByRole('region', { name: 'Many pictures' });
  const row = (name: string): Promise<string> =>
    table.getByRole('row').filter({ hasText: name }).innerText();
  expect(await row('first')).toMatch(/(ok|doubtful)\s+± 0\.\d+ mm/);
  expect(await row('notes')).toMatch(/refused[\s\S]*is not a picture/);

  await expectSound(page, 'batch');

  // The job says of the picture what the table says.
  const u = /± [\d.]+ mm/.exec(await row('first'))![0];
  await table.getByRole('button', { name: 'first' }).click();
  await page.waitForFunction(() => document.title.startsWith('Outline, first'));
  await page
    .getByRole('region', { name: 'Title block' })
    .getByText(u, { exact: true })
    .waitFor({ timeout: 60_000 });
  expect(errors).toEqual([]);
});
