/** Mending by hand on screen: drawn by mouse, finger and keys; marked, kept, undone, done again with every trace. */
import { readFileSync } from 'node:fs';
import type { Locator, Page } from 'playwright-core';
import { beforeAll, expect, inject, it } from 'vitest';
import { drop, enter, go, measured, openSample, sharedBrowser, type Desk } from './page.ts';

const read = (path: string): Buffer => readFileSync(new URL(`../../${path}`, import.meta.url));
const card = (
  JSON.parse(read('tests/accuracy/cases.json').toString()) as {
    readonly name: string;
    readonly spansMm: Readonly<Record<'x' | 'y' | 'd', number>>;
    readonly thicknessMm: Readonly<Record<string, number>>;
  }[]
).find((c) => c.name === 'o01-card')!;

let desk: Desk;
beforeAll(async () => {
  desk = await openSample();
});

const outline = (page: Page): Locator => page.locator('.hand path.line').first();
/** Where the picture is drawn, CSS px of the page. */
const canvas = (page: Page): Locator => page.getByRole('application');

/** Vertices of the outline's outer ring as it is drawn, CSS px of the page; or px of the picture, which stay where notes come and go. */
const drawn = (page: Page, of: 'page' | 'picture' = 'page'): Promise<{ x: number; y: number }[]> =>
  outline(page).evaluate((path: SVGPathElement, of) => {
    const m = of === 'page' ? path.getScreenCTM()! : new DOMMatrix();
    const first = path.getAttribute('d')!.split('Z')[0]!;
    const numbers = first.match(/-?[\d.]+/g)!.map(Number);
    return Array.from({ length: numbers.length / 2 }, (_, k) => {
      const p = new DOMPoint(numbers[2 * k], numbers[2 * k + 1]).matrixTransform(m);
      return { x: p.x, y: p.y };
    });
  }, of);

const mends = (page: Page): Locator => page.getByRole('button', { name: /^Take mend \d+ off/ });

it('a stretch is drawn by mouse, and told with how far it moves the outline', async () => {
  const { page } = desk;
  await go(page, 'Outline');
  await page.getByText(/^Mend by hand/).click();
  await page.getByRole('button', { name: 'Draw a stretch' }).click();
  const ring = await drawn(page);
  const before = await drawn(page, 'picture');
  const n = ring.length;
  const k = ring.reduce((best, p, i) => (p.x < ring[best]!.x ? i : best), 0);
  const m = ring[k]!;
  // The first vertex each way that lies 50 px of the page or more from it.
  const beside = (step: 1 | -1): { x: number; y: number } => {
    let i = k;
    while (Math.hypot(ring[i]!.x - m.x, ring[i]!.y - m.y) < 50) i = (i + step + n) % n;
    return ring[i]!;
  };
  const [a, b] = [beside(-1), beside(1)];
  for (const p of [a, { x: m.x - 30, y: m.y }, b]) await page.mouse.click(p.x, p.y);
  await page.getByRole('button', { name: 'Take 3 points' }).click();
  await mends(page).first().waitFor();
  await page
    .getByText(
      /stretch by hand, blank 1,\s+[\d.]+\s+mm; it\s+moves it by [\d.]+\s+mm, more than its U/,
    )
    .waitFor();
  const after = await drawn(page, 'picture');
  const pxPerPx =
    Math.hypot(before[0]!.x - before[n >> 1]!.x, before[0]!.y - before[n >> 1]!.y) /
    Math.hypot(ring[0]!.x - ring[n >> 1]!.x, ring[0]!.y - ring[n >> 1]!.y);
  // The new stretch runs through a point that lies 30 px of the page farther left.
  const left = (places: readonly { x: number }[]): number => Math.min(...places.map((p) => p.x));
  expect(left(before) - left(after)).toBeGreaterThan(15 * pxPerPx);
  await page
    .getByText(/^By hand, \d+\s+mm/)
    .first()
    .waitFor();
});

it('stands in what is open, and is undone and done again', async () => {
  const { page } = desk;
  await page
    .getByText(/were drawn by hand/)
    .first()
    .waitFor({ state: 'attached' });
  await page
    .getByRole('button', { name: /^Undo: mending by hand/ })
    .first()
    .click();
  await expect.poll(() => mends(page).count(), { timeout: 120_000 }).toBe(0);
  await page
    .getByRole('button', { name: /^Redo|^Do again/ })
    .first()
    .click();
  await expect.poll(() => mends(page).count(), { timeout: 120_000 }).toBe(1);
});

it('survives a reload and another thickness', async () => {
  const { page } = desk;
  await page.reload();
  await page.getByText(/^Mend by hand: 1 mend/).click({ timeout: 120_000 });
  await mends(page).first().waitFor();
  const said = page.getByText(/stretch by hand, blank 1/);
  await said.waitFor();
  const before = await outline(page).getAttribute('d');
  await enter(page, /how thick\?/, '10.2');
  await expect
    .poll(async () => (await outline(page).getAttribute('d')) !== before, {
      timeout: 60_000,
    })
    .toBe(true);
  await said.waitFor();
});

it('a node is moved by keys alone, in steps, and laid down', async () => {
  const { page } = desk;
  // While it is computed there is no outline to take a node of.
  await outline(page).waitFor({ timeout: 120_000 });
  await page.getByRole('button', { name: 'Move a node' }).focus();
  await page.keyboard.press('Enter');
  await canvas(page).focus();
  await page.keyboard.press(']');
  await page.getByText(/^Node taken; lay it where it belongs/).waitFor({ state: 'attached' });
  await page.getByText(/^Node 1 of \d+, outer edge/).waitFor();
  for (const key of ['ArrowUp', 'ArrowUp', 'Shift+ArrowRight']) await page.keyboard.press(key);
  const field = (name: RegExp): Promise<string> =>
    page.getByRole('textbox', { name }).first().inputValue();
  expect(await field(/^Up by/)).toBe('0.20');
  expect(await field(/^To the right by/)).toBe('1.00');
  await canvas(page).focus();
  await page.keyboard.press('Enter');
  await expect.poll(() => mends(page).count(), { timeout: 120_000 }).toBe(2);
  await page.getByText(/place moved, blank 1/).waitFor();
});

it('a shape that the edge comes near to is taken with one press, and taken off again', async () => {
  // A card of ISO/IEC 7810 size, rendered (fixtures/README.md), and what was entered for it.
  const { page } = desk;
  await go(page, 'Jobs');
  await page.getByRole('button', { name: 'New job', exact: true }).click();
  await enter(page, /^X, across/, String(card.spansMm.x));
  await enter(page, /^Y, along/, String(card.spansMm.y));
  await enter(page, /^D, diagonal/, String(card.spansMm.d));
  await drop(page, [
    { name: 'card.jpg', type: 'image/jpeg', bytes: read('fixtures/o01-card.jpg') },
  ]);
  await page.getByText(/^The sheet was found/).waitFor({ timeout: 120_000 });
  await go(page, 'Outline');
  await enter(
    page,
    /how thick\?/,
    String(card.thicknessMm['1'] ?? Object.values(card.thicknessMm)[0]),
  );
  await outline(page).waitFor({ timeout: 120_000 });
  await page.getByText(/^Mend by hand/).click();
  await page
    .getByRole('button', { name: 'Take the outer edge for rounded rectangle' })
    .click({ timeout: 60_000 });
  await page.getByText(/rounded rectangle, blank 1/).waitFor({ timeout: 60_000 });
  await page.getByRole('button', { name: 'Take mend 1 off' }).click();
  await expect.poll(() => mends(page).count(), { timeout: 120_000 }).toBe(0);
  expect(desk.errors).toEqual([]);
  expect(desk.foreign).toEqual([]);
});

it('a finger draws as well', async () => {
  const context = await (
    await sharedBrowser()
  ).newContext({
    viewport: { width: 390, height: 844 },
    hasTouch: true,
    isMobile: true,
    reducedMotion: 'reduce',
    serviceWorkers: 'block',
  });
  try {
    const page = await context.newPage();
    await page.goto(inject('address'));
    await page.getByRole('button', { name: 'Sample job', exact: true }).tap();
    await measured(page);
    await page.evaluate(() => (location.hash = '#/outline'));
    await page.getByText(/^Mend by hand/).tap();
    await page.getByRole('button', { name: 'Move a node' }).tap();
    await canvas(page).evaluate((on) => on.scrollIntoView({ block: 'start' }));
    const top = async (): Promise<{ x: number; y: number }> =>
      (await drawn(page)).reduce((p, q) => (q.y < p.y ? q : p));
    const from = await top();
    await page.touchscreen.tap(from.x, from.y);
    await page
      .getByText(/^(Place|Node) taken; lay it where it belongs/)
      .waitFor({ state: 'attached' });
    // What is said of it may have moved the picture.
    const to = await top();
    await page.touchscreen.tap(to.x, to.y - 14);
    await expect.poll(() => mends(page).count(), { timeout: 120_000 }).toBe(1);
  } finally {
    await context.close();
  }
});
