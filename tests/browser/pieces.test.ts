/** Several pieces in one picture: asked about, laid on each other, one pocket for all; the figures are those of the terminal. */
import { readFileSync } from 'node:fs';
import { beforeAll, expect, it } from 'vitest';
import { DEFAULT_TRACE, traceFiles } from '../../src/cli/trace.ts';
import { expectSound } from './faults.ts';
import { drop, enter, go, lastingPage, type Desk } from './page.ts';

// A rendered photo: four tokens of one kind, one more face down, and an oval (tests/accuracy/pieces.ts).
const NAME = 'k01-pieces.jpg';
const bytes = readFileSync(new URL(`../../fixtures/${NAME}`, import.meta.url));
const SPANS = { x: 140.12, y: 139.88, d: 141.43 };

let desk: Desk;
beforeAll(async () => {
  desk = await lastingPage();
});

it('makes one pocket for the pieces of one kind', async () => {
  const { page, errors } = desk;
  await page.getByRole('button', { name: 'New job', exact: true }).click();
  await go(page, 'Sheet');
  await page.getByRole('radio', { name: 'white', exact: true }).check({ force: true });
  await enter(page, /^X, across/, String(SPANS.x));
  await enter(page, /^Y, along/, String(SPANS.y));
  await enter(page, /^D, diagonal/, String(SPANS.d));
  await drop(page, [{ name: NAME, type: 'image/jpeg', bytes }]);
  await go(page, 'Outline');
  await page.getByText('What does the picture show?').waitFor({ timeout: 120_000 });
  await enter(page, /how thick\?/, '1.52');
  await page.getByText(/6 blanks were found/).waitFor({ timeout: 120_000 });
  await page.getByRole('radio', { name: 'yes: one pocket for all' }).check({ force: true });
  await page
    .getByText(/lies upside down/)
    .first()
    .waitFor({ timeout: 60_000 });
  await page
    .getByText(/is a different item/)
    .first()
    .waitFor();
  await expectSound(page, 'pieces-of-one-kind');
  const differ = await page.getByText('differ by up to').locator('xpath=..').innerText();

  const { trace } = await traceFiles([{ name: NAME, bytes }], {
    ...DEFAULT_TRACE,
    thicknessMm: 1.52,
    spansMm: SPANS,
    pieces: true,
  });
  const { facts } = trace.reasons.find((r) => r.code === 'pieces-measured')!;
  expect(differ).toContain(
    `${Number(facts.spreadMm).toFixed(2)} ± ${Number(facts.uMm).toFixed(2)} mm`,
  );
  expect(differ).toMatch(/blanks 1, 2, 3, 4/);

  // One pocket for the tokens, one for the oval, each four times on the bed of a new job.
  await go(page, 'Bed');
  await page.getByLabel(/8 pockets on it/).waitFor({ timeout: 60_000 });
  await page.keyboard.press('Control+z');
  await page.getByLabel(/24 pockets on it/).waitFor({ timeout: 60_000 });
  expect(errors).toEqual([]);
});
