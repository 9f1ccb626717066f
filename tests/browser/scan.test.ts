/** A scan on screen: the strip offered, the picture taken for what it is, the same figures as in the terminal. */
import { readFileSync } from 'node:fs';
import { beforeAll, expect, it } from 'vitest';
import { holdAgainst } from '../../src/check/checked.ts';
import { INSTRUMENTS } from '../../src/check/reading.ts';
import { DEFAULT_TRACE, traceFile } from '../../src/cli/trace.ts';
import { drop, enter, go, lastingPage, type Desk } from './page.ts';

// A rendered scan of a fish 4.98 mm thick (fixtures/README.md), and what calipers read on its strip.
const NAME = 's02-fish-scan.jpg';
const bytes = readFileSync(new URL(`../../fixtures/${NAME}`, import.meta.url));
const SPANS = { x: 139.89, y: 32.01, d: 143.5 };
const WIDTH = /^X, across/;

let desk: Desk;
beforeAll(async () => {
  desk = await lastingPage();
});

it('is measured by the strip beside it, to the figures of the terminal', async () => {
  const { page, errors } = desk;
  await page.getByRole('button', { name: 'New job', exact: true }).click();
  // Taken for a photograph it is refused, and said to look like a scan.
  await drop(page, [{ name: NAME, type: 'image/jpeg', bytes }]);
  await page
    .getByText(/^This looks like a scan/)
    .first()
    .waitFor({ timeout: 90_000 });
  await go(page, 'Sheet');
  await page.getByRole('radio', { name: 'scanner, strip' }).check({ force: true });
  await page.getByRole('button', { name: 'Strip, PDF', exact: true }).waitFor();
  await enter(page, WIDTH, String(SPANS.x));
  await enter(page, /^Y, along/, String(SPANS.y));
  await enter(page, /^D, diagonal/, String(SPANS.d));
  await go(page, 'Picture');
  await page.getByText('The picture can be measured.').waitFor({ timeout: 120_000 });
  const density = await page
    .getByText(/^density, measured/)
    .locator('xpath=..')
    .innerText();
  expect(Number(/([\d.]+), [\d.]+ per inch/.exec(density)![1])).toBeCloseTo(300, -1);

  // The outline does not wait for the thickness; the release does.
  await go(page, 'Outline');
  await page.getByText('What lay on the glass?').waitFor();
  await enter(page, /how thick\?/, '4.98');
  await page.getByText(/^U of the edge/).waitFor({ timeout: 120_000 });
  const size = page.getByRole('region', { name: 'Title block' }).getByRole('button', { name: /×/ });
  await size.waitFor({ timeout: 60_000 });
  const shown = (await size.innerText()).match(/[\d.]+/g)!.map(Number);

  const { trace } = await traceFile(bytes, NAME, {
    ...DEFAULT_TRACE,
    thicknessMm: 4.98,
    spansMm: SPANS,
    scan: {},
  });
  const { width, height } = holdAgainst(trace.outlines, [], INSTRUMENTS, 0.3).sizes[1]!;
  expect(shown[0]).toBeCloseTo(width.valueMm, 1);
  expect(shown[1]).toBeCloseTo(height.valueMm, 1);
  expect(errors).toEqual([]);
});
