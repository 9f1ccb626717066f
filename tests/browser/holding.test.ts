import { fileURLToPath } from 'node:url';
import type { Page } from 'playwright-core';
import { expect, it } from 'vitest';
import { faults } from './faults.ts';
import { enter, go, openSample } from './page.ts';

/** Chooses by keys alone: arrows move through the cells of a choice. */
async function choose(page: Page, name: string): Promise<void> {
  const radio = page.getByRole('radio', { name, exact: true });
  await radio.focus();
  await page.keyboard.press('Space');
  await page.waitForFunction((e) => (e as HTMLInputElement).checked, await radio.elementHandle());
}

interface Spot {
  readonly x: number;
  readonly y: number;
}

/** A finger pressed on one place and lifted at another. The browser must not take it for scrolling: that ends the drag. */
async function finger(page: Page, from: Spot, to: Spot): Promise<void> {
  const browser = await page.context().newCDPSession(page);
  await browser.send('Emulation.setTouchEmulationEnabled', { enabled: true });
  const touch = (type: 'touchStart' | 'touchMove', { x, y }: Spot) =>
    browser.send('Input.dispatchTouchEvent', { type, touchPoints: [{ x, y, id: 1 }] });
  await touch('touchStart', from);
  for (let k = 1; k <= 6; k++)
    await touch('touchMove', {
      x: from.x + ((to.x - from.x) * k) / 6,
      y: from.y + ((to.y - from.y) * k) / 6,
    });
  await browser.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: [] });
  await browser.send('Emulation.setTouchEmulationEnabled', { enabled: false });
  await browser.detach();
}

it('notches are moved by keys and by dragging; a board no laser may cut and a head strike shut the files', async () => {
  const { page, errors } = await openSample();
  const steps = page.getByRole('navigation');
  await go(page, 'Pocket');

  // What a warning asks for is a press: the doubt of the edge is taken into the clearance, and undone again.
  const short = page.getByText(
    /^The clearance of 0\.3 mm is less than what blank 1 is uncertain by/,
  );
  await short.first().waitFor({ timeout: 20_000 });
  await page.getByRole('button', { name: /^Take 0\.\d\d mm of clearance$/ }).click();
  await short.first().waitFor({ state: 'detached', timeout: 20_000 });
  await page.keyboard.press('Control+z');
  await short.first().waitFor({ timeout: 20_000 });

  await page.getByText(/^Which one\? Advised: /).click();
  await enter(page, /^Pieces in this run/, '200');
  await page.getByText('You have what makes it: laser.', { exact: false }).waitFor();

  await choose(page, 'half round');
  const grip = page.getByRole('slider', { name: 'Finger notch 1', exact: true });
  await grip.waitFor();
  const place = async (): Promise<number> =>
    Number.parseFloat((await grip.getAttribute('aria-valuetext')) ?? '');
  const first = await place();
  await grip.focus();
  await page.keyboard.press('ArrowRight');
  await expect.poll(place, { timeout: 20_000 }).toBeCloseTo(first + 0.4, 1);

  const from = (await grip.boundingBox())!;
  await page.mouse.move(from.x + from.width / 2, from.y + from.height / 2);
  await page.mouse.down();
  await page.mouse.move(from.x + from.width / 2, from.y + 90, { steps: 4 });
  await page.mouse.up();
  await expect
    .poll(async () => Math.abs((await place()) - first), { timeout: 20_000 })
    .toBeGreaterThan(2);

  const [mouse, at] = [await place(), (await grip.boundingBox())!];
  const middle = { x: at.x + at.width / 2, y: at.y + at.height / 2 };
  await finger(page, middle, { x: middle.x, y: middle.y - 60 });
  await expect.poll(async () => Math.abs((await place()) - mouse)).toBeGreaterThan(1);

  // More room along a stretch, whose ends are moved as notches are.
  await page.getByText(/^The same clearance in every direction/).click();
  await page.getByRole('button', { name: 'A stretch with its own clearance' }).click();
  await enter(page, /^Clearance along stretch A/, '1.2');
  const end = page.getByRole('slider', { name: 'End of stretch A', exact: true });
  const before = Number.parseFloat((await end.getAttribute('aria-valuetext'))!);
  await end.focus();
  await page.keyboard.press('Shift+ArrowRight');
  await expect
    .poll(async () => Number.parseFloat((await end.getAttribute('aria-valuetext'))!))
    .toBeCloseTo(before + 2, 1);

  await choose(page, 'mill');
  await choose(page, 'diagonal');
  await choose(page, 'whole edge');
  expect(await faults(page)).toEqual([]);

  await choose(page, 'laser');
  await page.getByLabel('The board', { exact: true }).selectOption('foamed PVC');
  await page
    .getByText(/No laser may cut foamed PVC.*hydrochloric acid/)
    .first()
    .waitFor();
  await steps.getByText('shut').waitFor();
  expect(await faults(page)).toEqual([]);
  await page.getByRole('button', { name: 'Take a knife' }).click();
  await steps.getByText('shut').waitFor({ state: 'detached', timeout: 20_000 });

  // A board under a name of her own comes back with its figures.
  await page.getByLabel('The board', { exact: true }).selectOption('acrylic (PMMA)');
  await page.getByText('Keep it as a board of your own').click();
  await page.getByLabel('What you call this board').fill('blue 5');
  await enter(page, /^Growth with heat/, '90');
  await page.getByRole('button', { name: /^Keep thickness, clearance/ }).click();
  const board = page.getByLabel('The board', { exact: true });
  await expect.poll(() => board.inputValue()).toBe('own blue 5');
  expect(await faults(page)).toEqual([]);

  // A cutter, what its cut test tells, and cut files that are corrected by it where that is said.
  await page.getByLabel('Cutter', { exact: true }).selectOption('drag knife');
  await page.getByRole('button', { name: 'Take this cutter' }).click();
  await page.getByText('Cut test: not measured').click();
  for (const [name, read] of [
    ['A to B', '380.8'],
    ['A to D', '259.9'],
    ['A to C', '461.1'],
  ] as const)
    await enter(page, new RegExp(`^${name}`), read);
  await page.getByText(/^The cutter cuts 0\.21 % long along x/).waitFor();
  expect(await faults(page)).toEqual([]);
  await page.getByRole('button', { name: 'Correct cut files by it' }).click();
  await page.getByText(/^Cut test of .*: cut files are corrected by it$/).waitFor();
  await page.getByRole('button', { name: 'Allow for no scale of the cutter' }).click();
  await page.getByText(/^Cut test of .*: cut files are not corrected by it$/).waitFor();

  await go(page, 'Bed');
  // The same of a printer: its bed profile, by which artwork is corrected.
  await page.getByLabel('Printer', { exact: true }).selectOption('small flatbed');
  await page
    .getByRole('button', { name: 'Move the job there' })
    .or(page.getByText('Bed profile: not measured'))
    .first()
    .waitFor();
  const there = page.getByRole('button', { name: 'Move the job there' });
  if (await there.isVisible()) await there.click();
  await page.getByText('Bed profile: not measured').click();
  await enter(page, /^A to B/, '380.8');
  await page
    .getByText(/does not tell the printer's scale along y/)
    .first()
    .waitFor();
  await enter(page, /^A to D/, '259.4');
  await page.getByText(/^Bed profile of .*: artwork is corrected by it$/).waitFor();
  await page.getByText(/0\.21 % long along x, 0\.23 % short along y/).waitFor();
  expect(await faults(page)).toEqual([]);
  await choose(page, 'lines this printer printed');
  await page.getByText(/^Bed profile of .*: not corrected by it$/).waitFor();
  await page.getByRole('button', { name: /^Take off what was read on/ }).click();
  await page.getByText('Bed profile: not measured').waitFor();
  // A photo of the crosses tells it too, of the bed that they were made for (tests/unit/bed-photo.test.ts holds its figures).
  const [width, depth] = [/^Bed, width/, /^Bed, depth/].map((name) =>
    page.getByRole('textbox', { name }),
  );
  const was = [await width!.inputValue(), await depth!.inputValue()] as const;
  await enter(page, /^Bed, width/, '400');
  await enter(page, /^Bed, depth/, '280');
  const photo = new URL('../../fixtures/b01-bed.jpg', import.meta.url);
  await page.getByLabel('Or a photo of all crosses').setInputFiles(fileURLToPath(photo));
  await page.getByText(/^Read off b01-bed\.jpg/).waitFor({ timeout: 60_000 });
  await page.getByRole('row', { name: /^Scale along x \+ 0\.2\d+ %/ }).waitFor();
  await page.getByRole('button', { name: /^Take off what was read on/ }).click();
  await enter(page, /^Bed, width/, was[0]);
  await enter(page, /^Bed, depth/, was[1]);

  const pocket = page.getByRole('button', { name: /^Pocket 1, blank/ });
  const across = async (): Promise<number> =>
    Number(/at (-?[\d.]+) and/.exec((await pocket.getAttribute('aria-label')) ?? '')![1]);
  const lay = await across();
  await pocket.focus();
  await page.keyboard.press('ArrowLeft');
  await expect.poll(across, { timeout: 20_000 }).toBeCloseTo(lay - 1, 2);
  expect(await page.getByRole('radio', { name: 'freely', exact: true }).isChecked()).toBe(true);
  await page.keyboard.press('.');
  await page.getByRole('button', { name: /^Pocket 1, .*turned by 345/ }).waitFor();
  const held = (await pocket.boundingBox())!;
  const [hx, hy] = [held.x + held.width / 2, held.y + held.height / 2];
  await page.mouse.move(hx, hy);
  await page.mouse.down();
  await page.mouse.move(hx - 60, hy + 3, { steps: 6 });
  await page.mouse.up();
  await expect.poll(across, { timeout: 20_000 }).toBeLessThan(lay - 5);
  const gone = await across();
  expect(await faults(page)).toEqual([]);
  await page.keyboard.press('Control+z');
  await expect.poll(across, { timeout: 20_000 }).toBeGreaterThan(gone + 4);
  const back = (await pocket.boundingBox())!;
  const hand = { x: back.x + back.width / 2, y: back.y + back.height / 2 };
  await finger(page, hand, { x: hand.x - 60, y: hand.y + 3 });
  await expect.poll(across, { timeout: 20_000 }).toBeLessThan(lay - 5);

  await choose(page, 'head to tail');
  await page.getByText('confirm with the machine').waitFor();
  await enter(page, /^Head, if it is set by hand/, '12.9');
  await page.getByText(/^HEAD STRIKE/).waitFor({ timeout: 20_000 });
  await steps.getByText('shut').waitFor();
  expect(await faults(page)).toEqual([]);
  expect(errors).toEqual([]);
});
