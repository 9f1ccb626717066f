/** Several photos of one blank on screen: laid together, looked at in turn, taken off; the figures of the terminal. */
import { readFileSync } from 'node:fs';
import { beforeAll, expect, it } from 'vitest';
import { holdAgainst } from '../../src/check/checked.ts';
import { INSTRUMENTS } from '../../src/check/reading.ts';
import { DEFAULT_TRACE, traceFiles } from '../../src/cli/trace.ts';
import { drop, enter, go, lastingPage, type Desk } from './page.ts';

// Two rendered photos of a flower 40 mm thick (fixtures/README.md), and what was entered for it.
const photos = ['m01-flower-1.jpg', 'm01-flower-2.jpg'].map((name) => ({
  name,
  type: 'image/jpeg',
  bytes: readFileSync(new URL(`../../fixtures/${name}`, import.meta.url)),
}));
const SPANS = { x: 140.17, y: 139.8, d: 141.37 };

let desk: Desk;
beforeAll(async () => {
  desk = await lastingPage();
});

const sizes = (text: string): number[] => text.match(/[\d.]+/g)!.map(Number);

it('are measured together', { timeout: 240_000 }, async () => {
  const { page, errors } = desk;
  const size = page.getByRole('region', { name: 'Title block' }).getByRole('button', { name: /×/ });
  await page.getByRole('button', { name: 'New job', exact: true }).click();
  await enter(page, /^X, across/, String(SPANS.x));
  await enter(page, /^Y, along/, String(SPANS.y));
  await enter(page, /^D, diagonal/, String(SPANS.d));
  await drop(page, photos);
  await page.getByText('2 photos of the same blanks').waitFor();
  await page.getByText(/^The sheet was found/).waitFor({ timeout: 120_000 });
  await go(page, 'Outline');
  await enter(page, /how thick\?/, '40.03');
  await size.waitFor({ timeout: 120_000 });
  const shown = sizes(await size.innerText());

  const { trace } = await traceFiles(photos, {
    ...DEFAULT_TRACE,
    thicknessMm: 40.03,
    spansMm: SPANS,
  });
  const { width, height } = holdAgainst(trace.outlines, [], INSTRUMENTS, 0.3).sizes[1]!;
  // The flower's smallest rectangle lies at some 45 degrees: which side of it is nearer to x, the last digit decides.
  const ranked = (all: readonly number[]): number[] => [...all].sort((p, q) => p - q);
  ranked([width.valueMm, height.valueMm]).forEach((mm, k) =>
    expect(ranked(shown)[k]).toBeCloseTo(mm, 1),
  );

  // Whichever is looked at, the outline is the same; it is kept, and comes back with both.
  await go(page, 'Picture');
  const other = page.getByRole('button', { name: /^Look at/ }).nth(1);
  await other.click();
  await page.getByText('The picture can be measured.').waitFor({ timeout: 60_000 });
  await size.waitFor({ timeout: 120_000 });
  expect(sizes(await size.innerText())).toEqual(shown);
  await page.reload();
  await page.getByText('2 photos of the same blanks').waitFor({ timeout: 60_000 });
  await size.waitFor({ timeout: 120_000 });
  expect(sizes(await size.innerText())).toEqual(shown);

  // Looking at the other one is nothing to undo.
  const undoing = page.getByRole('button', { name: /^Undo/ }).first();
  const before = await undoing.getAttribute('aria-label');
  await page
    .getByRole('button', { name: /^Look at / })
    .last()
    .click();
  await page.waitForTimeout(300);
  expect(await undoing.getAttribute('aria-label')).toBe(before);

  // One taken off leaves the other; undone, both are there again.
  await page
    .getByRole('button', { name: /^Take off: / })
    .first()
    .click();
  await page.getByText('2 photos of the same blanks').waitFor({ state: 'detached' });
  await page
    .getByRole('button', { name: /^Undo: / })
    .first()
    .click();
  await page.getByText('2 photos of the same blanks').waitFor();
  expect(errors).toEqual([]);
});
