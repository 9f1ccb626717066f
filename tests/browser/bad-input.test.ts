import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { catalogue, type Code } from '../../src/base/catalogue.ts';
import { BAD_PICTURES } from '../faults/bad-pictures.ts';
import { drop, enter, go, openApp, type Desk } from './page.ts';

const fixture = (name: string): Buffer =>
  readFileSync(new URL(`../../fixtures/${name}`, import.meta.url));

/** What a code's remedy begins with, before the first fact: enough to know the sentence on the screen. */
const remedyOf = (code: Code): string =>
  catalogue[code]
    .remedy(new Proxy({}, { get: () => '\u0000' }))
    .split('\u0000')[0]!
    .trim();

let desk: Desk;
beforeAll(async () => {
  desk = await openApp();
  await desk.page.getByRole('button', { name: 'New job', exact: true }).click();
});
afterAll(async () => {
  expect(desk.foreign).toEqual([]);
  await desk.close();
});

describe('pictures that cannot be measured, dropped on the page', () => {
  it.each(BAD_PICTURES)('$what is answered by a sentence with a way out', async (bad) => {
    const { page } = desk;
    await drop(page, [{ name: bad.file, type: '', bytes: await bad.bytes() }]);
    await page.getByRole('heading', { name: bad.file }).waitFor();
    await page.getByText('This picture cannot be measured.').waitFor({ timeout: 90_000 });
    const said = await page.getByRole('region', { name: 'What to know' }).first().innerText();
    const answered = bad.codes.filter((code) => said.includes(remedyOf(code)));
    expect(answered, said).not.toEqual([]);
    // Another picture can be given at once.
    expect(await page.getByText('Choose a picture').first().isVisible()).toBe(true);
  });

  it('a picture and a job file at once are not guessed between', async () => {
    const { page } = desk;
    const one = fixture('o10-messenger.jpg');
    await drop(page, [
      { name: 'a.jpg', type: 'image/jpeg', bytes: one },
      { name: 'b.json', type: 'application/json', bytes: Buffer.from('{}') },
    ]);
    await page
      .getByText(/^2 files came at once/)
      .first()
      .waitFor();
    await page
      .getByText(/^Drop one job file/)
      .first()
      .waitFor();
  });

  it('a file that is no job is not taken for one', async () => {
    const { page } = desk;
    await drop(page, [
      { name: 'old.json', type: 'application/json', bytes: new TextEncoder().encode('{"a":1}') },
    ]);
    await page
      .getByText(/^This is not a job file/)
      .first()
      .waitFor();
  });
});

describe('figures that cannot be, typed into their fields', () => {
  it('a span beyond what a printer does is asked for again', async () => {
    const { page } = desk;
    await go(page, 'Sheet');
    await enter(page, /^X, across/, '152');
    await page
      .getByText(/152 mm is 8\.6 % away from the 140 mm/)
      .first()
      .waitFor();
    await page
      .getByText(/print the sheet again at 100 %/)
      .first()
      .waitFor();
    await enter(page, /^X, across/, 'wide');
    await page
      .getByText(/"wide"/)
      .first()
      .waitFor();
  });

  it('a thickness that is missing, zero, or in letters is answered, and nothing is traced', async () => {
    const { page } = desk;
    await drop(page, [{ name: 'card.jpg', type: 'image/jpeg', bytes: fixture('o01-card.jpg') }]);
    await go(page, 'Outline');
    await page.getByText(/^Without its thickness/).waitFor({ timeout: 60_000 });
    await enter(page, /how thick\?/, '0');
    await page.getByText(/^A blank 0 mm thick cannot be measured/).waitFor();
    await enter(page, /how thick\?/, 'thin');
    await page.getByText(/"thin"/).waitFor();
    await enter(page, /how thick\?/, '900');
    await page.getByText(/^900 mm is thicker/).waitFor();
    await page.getByText(/^Without its thickness/).waitFor();
    expect(await page.getByText(/^U of the edge/).count()).toBe(0);
  });

  it('a size of paper that is none is answered', async () => {
    const { page } = desk;
    await go(page, 'Sheet');
    await page.getByRole('radio', { name: 'other' }).check();
    await enter(page, /^Width x height/, 'big');
    await page.getByText(/^"big" is no size of paper/).waitFor();
    await enter(page, /^Width x height/, '20x20');
    await page
      .getByText(/cannot be laid out/)
      .first()
      .waitFor();
  });
});
