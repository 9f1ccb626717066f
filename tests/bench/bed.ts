/**
 * npm run bench -- --bed: what the page's main thread does for one change of a bed with 50 pockets of 300 nodes and more: a
 * pocket moved by a key, a wall typed, a pocket dragged by 40 steps. From Chromium's own trace: tasks of the page's main
 * thread, ms; the rest is done in a worker. Goal: 16 ms for the task that redraws.
 */
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { chromium, type Browser, type Page } from 'playwright-core';
import { build, preview } from 'vite';
import { writeJobFile } from '../../src/job/job-file.ts';
import { readJob } from '../../src/job/job.ts';
// @ts-expect-error plain JavaScript, for it runs before anything is installed
import { CHROMIUM_ARGS, chromiumPath } from '../chromium.mjs';
import { quantile } from '../accuracy/table.ts';
import { mainThread } from './trace.ts';

const POCKETS = 50;
const ROUNDS = 5;
const DEMO = new URL('../../demo-data/', import.meta.url);

/** The tasks of the page's main thread while something is done, ms. */
async function tasksOf(browser: Browser, page: Page, work: () => Promise<void>): Promise<number[]> {
  await page.waitForTimeout(400);
  await browser.startTracing(page, { categories: ['toplevel', 'devtools.timeline', '__metadata'] });
  await work();
  await page.waitForTimeout(1200);
  return mainThread(await browser.stopTracing())
    .filter((e) => /RunTask$/.test(e.name) && e.tdur !== undefined)
    .map((e) => e.tdur! / 1000);
}

/** The demo job with its bed full of one blank. */
function fullBed(): Uint8Array {
  const job = readJob(readFileSync(new URL('job.json', DEMO), 'utf8'));
  const bytes = readFileSync(new URL('photo.jpg', DEMO));
  const digest = createHash('sha256').update(bytes).digest('hex');
  const picture = { name: 'photo.jpg', digest };
  const places = Array.from({ length: POCKETS }, (_, k) => ({
    blank: 1,
    x: 120 + 210 * (k % 10),
    y: 120 + 210 * Math.floor(k / 10),
    turnDeg: (k * 15) % 360,
    mirrored: false,
  }));
  const bed = { ...job.bed, widthMm: 2200, depthMm: 1100, layout: 'free' as const, places };
  return writeJobFile({ ...job, picture, bed }, [{ ...picture, bytes }]);
}

export async function bedTable(): Promise<void> {
  const outDir = new URL('../../.cache/bench-page', import.meta.url).pathname;
  await build({ logLevel: 'warn', build: { outDir, emptyOutDir: true } });
  const server = await preview({
    logLevel: 'warn',
    build: { outDir },
    preview: { host: '127.0.0.1', port: 4812 },
  });
  const browser = await chromium.launch({
    executablePath: (await chromiumPath()) as string,
    args: CHROMIUM_ARGS as string[],
  });
  try {
    const page = await browser.newPage({
      viewport: { width: 1440, height: 900 },
      reducedMotion: 'reduce',
    });
    await page.goto(server.resolvedUrls!.local[0]!);
    await page
      .locator('input[type=file]')
      .first()
      .setInputFiles({
        name: 'bed.job.zip',
        mimeType: 'application/zip',
        buffer: Buffer.from(fullBed()),
      });
    await page.getByText(`${POCKETS} placed`).waitFor({ state: 'attached', timeout: 120_000 });
    await page
      .getByRole('navigation', { name: 'Steps' })
      .getByRole('button', { name: /^Bed/ })
      .click();
    const pocket = page.locator('#pocket-12');
    await pocket.waitFor();
    const nodes = await page.evaluate(
      () => document.querySelector('.pocket path')!.getAttribute('d')!.split('L').length,
    );

    const table: { readonly what: string; readonly tasks: number[][] }[] = [];
    const times = async (what: string, work: () => Promise<void>): Promise<void> => {
      const tasks: number[][] = [];
      for (let k = 0; k <= ROUNDS; k++) {
        const found = await tasksOf(browser, page, work);
        // The first time code is compiled.
        if (k > 0) tasks.push(found);
      }
      table.push({ what, tasks });
    };
    await pocket.focus();
    await times('a pocket moved by a key', () => page.keyboard.press('ArrowRight'));
    const wall = page.getByRole('textbox', { name: /^Wall between pockets/ });
    let mm = 3;
    await wall.focus();
    await times('the wall typed', async () => {
      await page.keyboard.type(String((mm += 0.1)).slice(0, 3));
      await page.keyboard.press('Enter');
      await page.keyboard.press('Control+a');
    });
    const box = (await pocket.boundingBox())!;
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    await times('a pocket dragged by 40 steps', async () => {
      await page.mouse.move(x, y);
      await page.mouse.down();
      await page.mouse.move(x + 30, y - 14, { steps: 20 });
      await page.mouse.move(x, y, { steps: 20 });
      await page.mouse.up();
    });
    console.log(
      `${POCKETS} pockets, drawn with ${nodes} of the demo outline's some 1500 nodes; processor time of the main thread, ms, median of ${ROUNDS} (goal: longest task 16)`,
    );
    for (const { what, tasks } of table) {
      const longest = tasks.map((t) => Math.max(0, ...t));
      const all = tasks.map((t) => t.reduce((a, b) => a + b, 0));
      const over = tasks.map((t) => t.filter((ms) => ms > 16).length);
      console.log(
        `${what}: longest task ${quantile(longest, 0.5).toFixed(1)}, worst ${Math.max(...longest).toFixed(1)}; tasks over 16 ms ${quantile(over, 0.5)}; all tasks ${quantile(all, 0.5).toFixed(0)}`,
      );
    }
  } finally {
    await browser.close();
    await server.close();
  }
}
