import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { drop, enter, go, openApp, type Desk } from './page.ts';

const fixture = (name: string): Buffer =>
  readFileSync(new URL(`../../fixtures/${name}`, import.meta.url));
const card = { name: 'card.jpg', type: 'image/jpeg', bytes: fixture('o01-card.jpg') };

let desk: Desk;
beforeAll(async () => {
  desk = await openApp();
});
afterAll(() => desk.browser.close());

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
  expect(
    await page
      .getByRole('textbox', { name: /^X, across/ })
      .first()
      .inputValue(),
  ).toBe('140.10');
});

it('a job saved as a file comes back with all that was entered, and asks for its picture', async () => {
  const { page: first } = desk;
  await go(first, 'Outline');
  await enter(first, /how thick\?/, '0.8');
  await first.getByText(/^U of the edge/).waitFor({ timeout: 120_000 });
  await go(first, 'Release');
  const [saved] = await Promise.all([
    first.waitForEvent('download'),
    first.getByRole('button', { name: 'Save the job', exact: true }).click(),
  ]);
  const bytes = readFileSync(await saved.path());

  // In a browser that has never seen the picture.
  await desk.browser.close();
  desk = await openApp();
  const { page, errors } = desk;
  await drop(page, [{ name: 'kept.json', type: 'application/json', bytes }]);
  await page
    .getByText(/^A job file holds what was entered, not the picture "card.jpg"/)
    .first()
    .waitFor();
  await go(page, 'Sheet');
  expect(
    await page
      .getByRole('textbox', { name: /^X, across/ })
      .first()
      .inputValue(),
  ).toBe('140.10');

  // Another picture is taken, but said to be another.
  await drop(page, [{ ...card, name: 'other.jpg', bytes: fixture('o10-messenger.jpg') }]);
  await page
    .getByText(/^"other.jpg" is not the picture this job was made with/)
    .first()
    .waitFor();
  await drop(page, [card]);
  await go(page, 'Outline');
  await page.getByText(/^U of the edge/).waitFor({ timeout: 120_000 });
  expect(errors).toEqual([]);
});
