import { readFileSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { readJobFile } from '../../src/job/job-file.ts';
import { newJob } from '../../src/job/job.ts';
import { expectSound } from './faults.ts';
import { clear, drop, enter, go, openApp, type Desk } from './page.ts';

const fixture = (name: string): Buffer =>
  readFileSync(new URL(`../../fixtures/${name}`, import.meta.url));
const card = { name: 'card.jpg', type: 'image/jpeg', bytes: fixture('o01-card.jpg') };

const field = (page: Page, label: RegExp): Promise<string> =>
  page.getByRole('textbox', { name: label }).first().inputValue();

let desk: Desk;
beforeAll(async () => {
  desk = await openApp();
});
afterAll(() => desk.close());

it('stopping ends the work, keeps what was entered, and the work can go on', async () => {
  const { page } = desk;
  await page.getByRole('button', { name: 'New job', exact: true }).click();
  await enter(page, /^X, across/, '140.1');
  await drop(page, [card]);
  await page.getByRole('button', { name: 'Stop', exact: true }).click({ timeout: 30_000 });
  await page.getByText('Stopped.').waitFor();
  await page.getByRole('button', { name: 'Go on', exact: true }).click();
  await page.getByText(/^The sheet was found/).waitFor({ timeout: 90_000 });
  await go(page, 'Sheet');
  expect(await field(page, /^X, across/)).toBe('140.10');
});

it('a job saved as one file comes back whole, its picture included, in a browser that never saw it', async () => {
  const { page: first } = desk;
  await go(first, 'Outline');
  await enter(first, /how thick\?/, '0.8');
  await first.getByText(/^U of the edge/).waitFor({ timeout: 120_000 });
  await go(first, 'Release');
  const [saved] = await Promise.all([
    first.waitForEvent('download'),
    first.getByRole('button', { name: 'Save the job', exact: true }).click(),
  ]);
  expect(saved.suggestedFilename()).toBe('S-0001.job.zip');
  const bytes = readFileSync(await saved.path());
  await desk.close();
  desk = await openApp();
  const { page, errors } = desk;
  await drop(page, [{ name: 'kept.job.zip', type: 'application/zip', bytes }]);
  await page.waitForFunction(() => document.title.startsWith('Picture'));
  await go(page, 'Sheet');
  expect(await field(page, /^X, across/)).toBe('140.10');
  await go(page, 'Outline');
  await page.getByText(/^U of the edge/).waitFor({ timeout: 120_000 });
  expect(errors).toEqual([]);

  // Cut off behind what was entered: the figures are there, the picture is asked for.
  const cut = bytes.subarray(0, Math.floor(bytes.length / 2));
  await drop(page, [{ name: 'cut.job.zip', type: 'application/zip', bytes: cut }]);
  await page
    .getByText(/^The job file is damaged: it is cut off.*the picture "card.jpg" is missing/)
    .first()
    .waitFor();
  await expectSound(page, 'job-file-damaged');
  await go(page, 'Sheet');
  expect(await field(page, /^X, across/)).toBe('140.10');
});

it('the text of a job alone, as earlier files held it, is opened and asks for its picture', async () => {
  const { page, errors } = desk;
  const bytes = Buffer.from(
    JSON.stringify({
      ...newJob('S-0100', 'Old'),
      version: 1,
      sheet: { ...newJob('', '').sheet, spansMm: { x: 140.1 } },
      picture: { name: 'card.jpg', digest: '0'.repeat(64) },
    }),
  );
  await drop(page, [{ name: 'kept.json', type: 'application/json', bytes }]);
  await page
    .getByText(/^The job file does not hold the picture "card.jpg"/)
    .first()
    .waitFor();
  await go(page, 'Sheet');
  expect(await field(page, /^X, across/)).toBe('140.10');

  // Another picture is taken, but said to be another.
  await drop(page, [{ ...card, name: 'other.jpg', bytes: fixture('o10-messenger.jpg') }]);
  await page
    .getByText(/^"other.jpg" is not the picture this job was made with/)
    .first()
    .waitFor();
  expect(errors).toEqual([]);
});

it('a kept job that cannot be read can be saved to a file, and opened as far as it goes', async () => {
  const { page } = desk;
  await page.evaluate(
    () =>
      new Promise<void>((resolve, reject) => {
        const opening = indexedDB.open('snugline');
        opening.onsuccess = () => {
          const db = opening.result;
          const write = db.transaction('jobs', 'readwrite');
          const jobs = write.objectStore('jobs');
          jobs.getAll().onsuccess = (e) => {
            const { result } = e.target as IDBRequest<{ text: string }[]>;
            const one = result.find(
              (j) => j.text.includes('card.jpg') && !j.text.includes('00000'),
            );
            jobs.put({
              ...one!,
              text: one!.text.replace(/"widthMm": [\d.]+/, '"widthMm": broken'),
            });
          };
          write.oncomplete = () => {
            db.close();
            resolve();
          };
          write.onerror = () => reject(new Error('not written'));
        };
      }),
  );
  await page.reload();
  await go(page, 'Jobs');
  const [saved] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('button', { name: 'Save it to a file' }).click(),
  ]);
  await expectSound(page, 'job-unreadable');
  const { job, pictures } = readJobFile(readFileSync(await saved.path()));
  expect(job.sheet.spansMm.x).toBe(140.1);
  expect(pictures.map((p) => p.name)).toEqual(['card.jpg']);
  await page.getByRole('button', { name: 'Open what can be read' }).click();
  await page
    .getByText(/^What could not be read of this job stands as in a new one: width/)
    .first()
    .waitFor();
  expect(await field(page, /^X, across/)).toBe('140.10');
  await page.getByRole('button', { name: 'I have looked through' }).first().click();
  await page
    .getByText(/^What could not be read of this job/)
    .first()
    .waitFor({ state: 'detached' });
});

it('what is let go of while a job file is still being read goes to that job, and makes none of its own', async () => {
  const { page, errors } = desk;
  await clear(page);
  const job = Buffer.from(JSON.stringify(newJob('S-0101', 'Two at once')));
  await drop(page, [{ name: 'job.json', type: 'application/json', bytes: job }], [card]);
  await page.getByText('card.jpg', { exact: true }).first().waitFor();
  await page.getByRole('region', { name: 'Title block' }).getByText('S-0101').waitFor();
  await go(page, 'Jobs');
  expect(await page.getByRole('button', { name: /^Take off the list: / }).count()).toBe(1);
  await clear(page);
  expect(errors).toEqual([]);
});
