import type { Page } from 'playwright-core';
import { expect, it } from 'vitest';
import { expectSound } from './faults.ts';
import { enter, go, openSample } from './page.ts';

/** Chooses by keys alone. */
async function choose(page: Page, name: string): Promise<void> {
  const radio = page.getByRole('radio', { name, exact: true });
  await radio.focus();
  await page.keyboard.press('Space');
  await page.waitForFunction((e) => (e as HTMLInputElement).checked, await radio.elementHandle());
}

it('a board of its own size is entered, seated by a stop, pins or screws, and refused with the way out', async () => {
  const { page, errors } = await openSample();
  await go(page, 'Bed');
  await page.getByText('The board covers the bed', { exact: true }).click();
  await choose(page, 'has its own size');
  await enter(page, /^Board, width/, '360,5');
  await enter(page, /^Board, depth/, '260');
  await enter(page, /^Its corner from zero, across/, '20');
  await page.getByText('Board 360.5 x 260 mm', { exact: true }).waitFor();
  await page.getByText(/board 360\.5 × 260 on bed 420 × 300/).waitFor();
  await choose(page, 'two pins');
  await page.getByText('Board 360.5 x 260 mm, on two pins', { exact: true }).waitFor();
  // What the play over the distance of the pins lets it do: 0.05 over 411 mm, and half of the play at the least.
  await page
    .getByText(/the board may turn by 0\.007°, and its farthest corner lie 0\.0[3-6] mm off/)
    .waitFor();
  await expectSound(page, 'bed-pins');

  // Pins too near each other: refused, in a sentence, and the way out mends it.
  await enter(page, /^Pin 2, from the left/, '52');
  await enter(page, /^Pin 2, from the front/, '248');
  const near = page.getByText(/The pins of the board stand 20 mm apart/).first();
  await near.waitFor({ timeout: 30_000 });
  await enter(page, /^Pin 2, from the left/, '368,5');
  await enter(page, /^Pin 2, from the front/, '12');
  await near.waitFor({ state: 'detached' });

  await enter(page, /^Board, width/, '500');
  await page
    .getByText(/reaches 100 mm beyond the bed of 420 x 300 mm/)
    .first()
    .waitFor({ timeout: 30_000 });
  await enter(page, /^Board, width/, '14 1/4 in');
  await page.getByText(/^Board 361\.95 x 260 mm/).waitFor();

  await choose(page, 'screws');
  await enter(page, /^Heads stand above the board/, '2,5');
  await page.getByRole('button', { name: 'One more screw' }).click();
  await page.getByRole('textbox', { name: /^Screw 3, from the left/ }).waitFor();
  await expectSound(page, 'bed-screws');
  await page.getByRole('button', { name: 'Take screw 3 out' }).click();
  await page
    .getByRole('textbox', { name: /^Screw 3/ })
    .first()
    .waitFor({ state: 'detached' });
  await choose(page, 'corner stop');
  await page.getByText(/Push the board against both arms/).waitFor();
  await expectSound(page, 'bed-stop');

  for (const [width, height] of [
    [1024, 768],
    [390, 844],
  ] as const) {
    await choose(page, 'two pins');
    await page.setViewportSize({ width, height });
    await page.getByRole('textbox', { name: /^Pin 1, from the left/ }).scrollIntoViewIfNeeded();
    const across = await page.evaluate(() => document.documentElement.scrollWidth);
    expect(across).toBeLessThanOrEqual(width);
  }
  // By touch: what is pressed is as high as a finger needs.
  const cell = (await page
    .locator('label', { has: page.getByRole('radio', { name: 'two pins' }) })
    .boundingBox())!;
  expect(cell.height).toBeGreaterThanOrEqual(44);
  await page.setViewportSize({ width: 1440, height: 900 });

  await choose(page, 'covers the bed');
  await page.getByText('The board covers the bed', { exact: true }).waitFor();
  expect(errors).toEqual([]);
}, 180_000);
