import { expect, it } from 'vitest';
import { expectSound } from './faults.ts';
import { drop, openApp } from './page.ts';

it('the handbook opens by keys at the page of the step, a warning at its own, and gives the focus back', async () => {
  const { page, errors, close } = await openApp();
  try {
    const press = page.getByRole('button', { name: 'Handbook', exact: true }).first();
    await press.focus();
    await page.keyboard.press('Enter');
    const book = page.getByRole('dialog', { name: 'Handbook' });
    await book.getByRole('heading', { name: 'Keeping jobs' }).waitFor();
    await expectSound(page, 'handbook');
    await page.keyboard.press('Escape');
    await book.waitFor({ state: 'hidden' });
    expect(await press.evaluate((e) => e === document.activeElement)).toBe(true);

    // An empty file is no picture: the warning leads to the page on pictures.
    await drop(page, [{ name: 'a.jpg', type: 'image/jpeg', bytes: new Uint8Array(0) }]);
    await page
      .getByRole('button', { name: 'Handbook: Photograph' })
      .first()
      .click({ timeout: 60_000 });
    await book.getByRole('heading', { name: '3. Photograph' }).waitFor();
    await book.getByRole('button', { name: 'Shut' }).click();
    await book.waitFor({ state: 'hidden' });
    expect(errors).toEqual([]);
  } finally {
    await close();
  }
});
