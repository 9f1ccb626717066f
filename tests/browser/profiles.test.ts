/** Profiles on screen: a lens learnt from photos of a checkerboard, kept, chosen by itself; a scan without marks. */
import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { tiffBlock, withExif } from '../exif.ts';
import { drop, enter, go, openApp, type Desk } from './page.ts';

// Seven photographs of OpenCV's sample data (fixtures/stereo_pair), told to be of one invented camera.
const exif = tiffBlock({ make: 'Invented', model: 'One', focalLength: [50, 10] });
const shots = [1, 2, 3, 4, 5, 6, 7].map((k) => {
  const name = `left0${k}.jpg`;
  const bytes = readFileSync(new URL(`../../fixtures/stereo_pair/${name}`, import.meta.url));
  return { name, mimeType: 'image/jpeg', buffer: Buffer.from(withExif(bytes, exif)) };
});
const scan = readFileSync(new URL('../../fixtures/s02-fish-scan.jpg', import.meta.url));

let desk: Desk;
beforeAll(async () => {
  desk = await openApp();
});
afterAll(() => desk.close());

it('a lens profile is made from photos of a checkerboard, and used by itself', async () => {
  const { page, errors } = desk;
  await page.getByRole('button', { name: 'New job', exact: true }).click();
  await go(page, 'Picture');
  await page.getByText('Make a lens profile from photos of a sheet').click();
  await page.getByRole('radio', { name: 'a checkerboard' }).check({ force: true });
  await enter(page, /^corners inside, across/, '9');
  await enter(page, /^corners inside, along/, '6');
  await enter(page, /^side of a square/, '25');

  // Too few, and it says how many and where the frame is still empty.
  await page.getByLabel('Choose the photos').setInputFiles(shots.slice(0, 2));
  await page.getByText(/^2 of at least 5 photos/).waitFor({ timeout: 120_000 });
  await page
    .getByText(/^The (upper|lower) (left|right) corner has/)
    .first()
    .waitFor();
  const make = page.getByRole('button', { name: 'Make the profile and keep it' });
  expect(await make.isDisabled()).toBe(true);
  await page.getByLabel('Add more').setInputFiles(shots.slice(2));
  await page.getByText('7 photos can be used.').waitFor({ timeout: 120_000 });
  await make.click();
  await page.getByText(/^Kept on this machine/).waitFor({ timeout: 60_000 });
  // OpenCV's own calibration of all thirteen pictures gives 533.0 px (tests/published/lens-profile.test.ts); of these
  // seven it gives 532.9 ± 0.84 px, k = 1 (OpenCV 4.6, one f, k1 k2 p1 p2, corner window 5 x 5).
  const shown = await page
    .getByText('focal length', { exact: true })
    .locator('xpath=following-sibling::dd[1]')
    .innerText();
  const [f, u] = shown.match(/[\d.]+/g)!.map(Number) as [number, number];
  expect(Math.abs(f - 532.9)).toBeLessThan(2 * Math.hypot(0.84, u / 2));

  // It outlives the page, and serves a picture of that camera without being asked.
  await page.reload();
  await go(page, 'Picture');
  await page.getByText('1 profile kept on this machine').waitFor({ timeout: 60_000 });
  const [photo] = shots as [(typeof shots)[0]];
  await drop(page, [{ name: photo.name, type: photo.mimeType, bytes: photo.buffer }]);
  const inUse = page.getByText(/^Known from a saved profile: Invented One/);
  await inUse.waitFor({ timeout: 60_000 });
  await page.getByRole('button', { name: 'Measure without it' }).click();
  await inUse.waitFor({ state: 'detached' });
  await page.getByText(/^Known from nothing|^Known from the/).waitFor();
  await page
    .getByRole('button', { name: /^Undo: lens profile/ })
    .first()
    .click();
  await inUse.waitFor();
  await page.reload();
  await inUse.waitFor({ timeout: 60_000 });
  expect(errors).toEqual([]);
});

it('a scan with nothing beside it asks for its density, and says what that is worth', async () => {
  const { page, errors } = desk;
  await go(page, 'Jobs');
  await page.getByRole('button', { name: 'New job', exact: true }).click();
  await page.getByRole('radio', { name: 'scanner, alone' }).check({ force: true });
  await go(page, 'Picture');
  await drop(page, [{ name: 's02-fish-scan.jpg', type: 'image/jpeg', bytes: scan }]);
  await page
    .getByText(/^Nothing tells the scale of this scan/)
    .first()
    .waitFor({ timeout: 90_000 });
  await enter(page, /^Density that was set/, '300');
  await page
    .getByText(/^The scale comes from 300 dots per inch alone/)
    .first()
    .waitFor({ timeout: 60_000 });
  await page
    .getByText(/Lay the strip of marks beside the blanks, or make a profile/)
    .first()
    .waitFor();
  await page.getByText('The picture can be measured.').waitFor();
  expect(errors).toEqual([]);
});
