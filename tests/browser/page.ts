import { chromium, type Browser, type BrowserContext, type Page } from 'playwright-core';
import { inject } from 'vitest';
// @ts-expect-error plain JavaScript, for it runs before anything is installed
import { CHROMIUM_ARGS, chromiumPath } from '../chromium.mjs';

export interface Desk {
  readonly context: BrowserContext;
  readonly page: Page;
  /** Addresses asked for that lie outside of the app's own origin. */
  readonly foreign: string[];
  /** Errors that the page or its console told. */
  readonly errors: string[];
  readonly close: () => Promise<void>;
}

let launched: Promise<Browser> | undefined;
/** One browser for all test files; it ends with the process that runs them. */
export const sharedBrowser = (): Promise<Browser> =>
  (launched ??= (async () =>
    chromium.launch({
      executablePath: (await chromiumPath()) as string,
      args: CHROMIUM_ARGS as string[],
    }))());

/** The page in a browser context of its own, with nothing kept in it. */
export async function openApp(
  options: { readonly width?: number; readonly height?: number; readonly dark?: boolean } = {},
): Promise<Desk> {
  const address = inject('address');
  const browser = await sharedBrowser();
  const context = await browser.newContext({
    viewport: { width: options.width ?? 1440, height: options.height ?? 900 },
    colorScheme: options.dark ? 'dark' : 'light',
    reducedMotion: 'reduce',
    acceptDownloads: true,
    // Only offline.test.ts wants the program kept; elsewhere that would be work beside the test.
    serviceWorkers: 'block',
  });
  const page = await context.newPage();
  const foreign: string[] = [];
  const errors: string[] = [];
  const { origin } = new URL(address);
  context.on('request', (request) => {
    const url = new URL(request.url());
    if (!['blob:', 'data:'].includes(url.protocol) && url.origin !== origin)
      foreign.push(request.url());
  });
  page.on('pageerror', (error) => errors.push(error.message));
  page.on('console', (message) => {
    if (message.type() === 'error') errors.push(message.text());
  });
  await page.goto(address);
  return { context, page, foreign, errors, close: () => context.close() };
}

let lasting: Desk | undefined;
/**
 * A page that goes from test file to test file, with no job on its list, at 1440 x 900 in light. Its workers stay, and measure in
 * a fraction of the time that new ones take. Not for tests that keep readings or profiles, which outlast their job. Do not close it.
 */
export async function lastingPage(): Promise<Desk> {
  lasting ??= await openApp();
  const { page, foreign, errors } = lasting;
  foreign.length = errors.length = 0;
  await page.setViewportSize({ width: 1440, height: 900 });
  await page.emulateMedia({ colorScheme: 'light' });
  await clear(page);
  return lasting;
}

/** To a list without jobs. */
export async function clear(page: Page): Promise<void> {
  await page.evaluate(() => (location.hash = '#/jobs'));
  const jobs = page.getByRole('button', { name: /^Take off the list: / });
  for (let left = await jobs.count(); left > 0; left--) {
    await jobs.first().click();
    await jobs.nth(left - 1).waitFor({ state: 'detached' });
  }
}

/** The sample job on that page, just opened and measured. */
export async function openSample(): Promise<Desk> {
  const desk = await lastingPage();
  await desk.page.getByRole('button', { name: 'Sample job', exact: true }).click();
  await measured(desk.page);
  return desk;
}

/** Waits for the three pockets of the sample job. */
export const measured = (page: Page): Promise<void> =>
  page
    .getByRole('navigation', { name: 'Steps' })
    .getByText('3 placed')
    .waitFor({ state: 'attached', timeout: 120_000 });

/** To a step by its name in the chain. */
export const go = (page: Page, step: string): Promise<void> =>
  page
    .getByRole('navigation', { name: 'Steps' })
    .getByRole('button', { name: new RegExp(`^${step}`) })
    .click();

/** Types a figure into a field and settles it. */
export async function enter(page: Page, label: RegExp, figure: string): Promise<void> {
  const field = page.getByRole('textbox', { name: label }).first();
  await field.fill(figure);
  await field.press('Enter');
}

interface Dropped {
  readonly name: string;
  readonly type: string;
  readonly bytes: Uint8Array;
}

/** Lets go of files over the page, as a hand with a mouse would; further ones right after, before the page has done anything else. */
export async function drop(
  page: Page,
  files: readonly Dropped[],
  ...after: readonly (readonly Dropped[])[]
): Promise<void> {
  const coded = [files, ...after].map((together) =>
    together.map(({ name, type, bytes }) => ({
      name,
      type,
      base64: Buffer.from(bytes).toString('base64'),
    })),
  );
  await page.locator('main').evaluate((main, all) => {
    const transfers = all.map((together) => {
      const dataTransfer = new DataTransfer();
      for (const { name, type, base64 } of together) {
        const bytes = Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
        dataTransfer.items.add(new File([bytes], name, { type }));
      }
      return dataTransfer;
    });
    for (const dataTransfer of transfers)
      main.dispatchEvent(
        new DragEvent('drop', { dataTransfer, bubbles: true, cancelable: true, composed: true }),
      );
  }, coded);
}
