import sharp from 'sharp';
import { expect, it } from 'vitest';
import { drop, go, openSample } from './page.ts';

it('artwork is dropped, placed by keys and by dragging, seen in every pocket, undone, and kept', async () => {
  const { page, errors } = await openSample();
  await go(page, 'Release');
  // What is no file of the plan is held against it, said to be none, and may be artwork: a press takes it as that.
  const mark = Buffer.from(
    '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"><path d="M0 0h9v9z"/></svg>',
  );
  await drop(page, [{ name: 'mark.svg', type: 'image/svg+xml', bytes: mark }]);
  await page.getByRole('button', { name: 'Take it as artwork' }).click({ timeout: 60_000 });
  await page.getByRole('button', { name: 'Take mark.svg off' }).click({ timeout: 60_000 });
  await page.getByRole('button', { name: 'Take mark.svg off' }).waitFor({ state: 'detached' });
  const bytes = await sharp({
    create: { width: 600, height: 400, channels: 3, background: '#c03060' },
  })
    .png()
    .toBuffer();
  await drop(page, [{ name: 'swan.png', type: 'image/png', bytes }]);
  const held = page.getByRole('application', { name: /^Artwork/ });
  await held.waitFor({ timeout: 120_000 });
  // Once faint and once clipped in the large pocket, once in each of the three on the bed.
  await expect.poll(() => page.locator('svg image').count(), { timeout: 60_000 }).toBe(5);
  const field = page.getByRole('textbox', { name: 'To the right' });
  await held.focus();
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('Shift+ArrowRight');
  await expect.poll(() => field.inputValue(), { timeout: 60_000 }).toBe('1.10');

  const grab = (await page.locator('.grab').boundingBox())!;
  const from = { x: grab.x + grab.width / 2, y: grab.y + grab.height / 2 };
  await page.mouse.move(from.x + 20, from.y + 20);
  await page.mouse.down();
  await page.mouse.move(from.x + 70, from.y + 20, { steps: 3 });
  await page.mouse.up();
  await expect
    .poll(async () => Number(await field.inputValue()), { timeout: 60_000 })
    .toBeGreaterThan(3);

  await page.getByRole('button', { name: 'Add a white layer' }).click();
  await page.getByRole('textbox', { name: 'White, name of the separation' }).waitFor();
  await page.keyboard.press('Control+z');
  await page.getByRole('button', { name: 'Add a white layer' }).waitFor();

  // Names and numbers: four pieces on three pockets are two loads.
  await drop(page, [
    {
      name: 'names.csv',
      type: 'text/csv',
      bytes: Buffer.from('Name,No.\nAda,7\nBo,8\nCy,9\nBartholomew Featherstonehaugh,10\n'),
    },
  ]);
  await page.getByText('4 pieces: 2 loads of 3 pockets').waitFor({ timeout: 60_000 });
  const words = page.getByRole('application', { name: /^Words of line 1, Ada/ });
  await words.waitFor({ timeout: 60_000 });
  await words.focus();
  await page.keyboard.press('ArrowUp');
  const line = page.getByRole('group', { name: 'Line 1 of words' });
  await expect
    .poll(() => line.getByRole('textbox', { name: 'To the rear' }).inputValue(), {
      timeout: 60_000,
    })
    .toBe('1.00');
  await page.getByRole('button', { name: 'Piece before' }).click();
  await page.getByRole('application', { name: /Words of line 1, Bartholomew/ }).waitFor();
  await line.getByRole('textbox', { name: 'Room along the line' }).fill('20');
  await page.keyboard.press('Enter');
  await page
    .getByText(/longer than 20.00 mm at full size would be "Bartholomew Featherstonehaugh"/)
    .first()
    .waitFor({
      timeout: 60_000,
    });

  // The other side: pieces are turned over, and what is dropped there lies on their backs alone.
  await go(page, 'Bed');
  await page.getByRole('radio', { name: 'both, left over right' }).check();
  await go(page, 'Release');
  await page
    .getByRole('group', { name: 'Side of the pieces' })
    .getByRole('radio', { name: 'the back' })
    .check();
  const rear = Buffer.from(
    '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"><path d="M0 0h9v9z"/></svg>',
  );
  await drop(page, [{ name: 'maker.svg', type: 'image/svg+xml', bytes: rear }]);
  await page.getByRole('button', { name: 'Take maker.svg off' }).waitFor({ timeout: 60_000 });
  await held.waitFor({ timeout: 60_000 });
  expect(await page.getByRole('button', { name: 'Take swan.png off' }).count()).toBe(0);
  expect(errors).toEqual([]);
});
