/** What was entered outlives the page: reloaded, killed, open twice. */
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium, type BrowserContext, type Page } from 'playwright-core';
import { afterAll, beforeAll, expect, inject, it } from 'vitest';
// @ts-expect-error plain JavaScript, for it runs before anything is installed
import { CHROMIUM_ARGS, chromiumPath } from '../chromium.mjs';
import { readJobFile } from '../../src/job/job-file.ts';
import { expectSound } from './faults.ts';
import { drop, enter, go, openApp, sharedBrowser, type Desk } from './page.ts';

const card = {
  name: 'card.jpg',
  type: 'image/jpeg',
  bytes: readFileSync(new URL('../../fixtures/o01-card.jpg', import.meta.url)),
};
let desk: Desk;
beforeAll(async () => {
  desk = await openApp();
});
afterAll(() => desk.close());

const field = (page: Page, label: RegExp): Promise<string> =>
  page.getByRole('textbox', { name: label }).first().inputValue();

it('a reload comes back to the same step of the same job, its picture read again', async () => {
  const { page } = desk;
  await page.getByRole('button', { name: 'New job', exact: true }).click();
  await enter(page, /^X, across/, '140.1');
  await drop(page, [card]);
  await page.getByText(/^The sheet was found/).waitFor({ timeout: 90_000 });
  await go(page, 'Sheet');
  await enter(page, /^Y, along/, '139.9');
  await page.reload();
  await page.getByText('S-0001').first().waitFor();
  expect(await field(page, /^X, across/)).toBe('140.10');
  expect(await field(page, /^Y, along/)).toBe('139.90');
  await go(page, 'Picture');
  await page.getByText(/^The sheet was found/).waitFor({ timeout: 90_000 });
});

it('takes back and does again, by keys and by buttons, and keeps what that comes to', async () => {
  const { page } = desk;
  await go(page, 'Sheet');
  await enter(page, /^X, across/, '140.2');
  await page.getByRole('button', { name: 'Undo: span of the sheet 140.2 mm' }).first().click();
  expect(await field(page, /^X, across/)).toBe('140.10');
  await page.locator('body').press('Control+Shift+Z');
  expect(await field(page, /^X, across/)).toBe('140.20');
  await page.locator('body').press('Control+Z');
  expect(await field(page, /^X, across/)).toBe('140.10');
  await page.reload();
  await page.getByText('S-0001').first().waitFor();
  expect(await field(page, /^X, across/)).toBe('140.10');
  // What can be undone and done again outlives the page, too.
  await page.getByRole('button', { name: 'Do again: span of the sheet 140.2 mm' }).first().click();
  expect(await field(page, /^X, across/)).toBe('140.20');
  await page.reload();
  await page.getByText('S-0001').first().waitFor();
  await page.getByRole('button', { name: 'Undo: span of the sheet 140.2 mm' }).first().click();
  expect(await field(page, /^X, across/)).toBe('140.10');
});

it('a browser that is killed loses nothing that was settled a moment before', async () => {
  const profile = mkdtempSync(join(tmpdir(), 'kept-'));
  const visit = async (): Promise<{ context: BrowserContext; page: Page }> => {
    const context = await chromium.launchPersistentContext(profile, {
      executablePath: (await chromiumPath()) as string,
      args: CHROMIUM_ARGS as string[],
    });
    const page = await context.newPage();
    await page.goto(inject('address'));
    return { context, page };
  };
  try {
    let { context, page } = await visit();
    await page.getByRole('button', { name: 'New job', exact: true }).click();
    for (const pauseMs of [50, 130, 300]) {
      const figure = (140 + pauseMs / 1000).toFixed(2);
      await enter(page, /^X, across/, figure);
      await page.waitForTimeout(pauseMs);
      const session = await context.newCDPSession(page);
      const gone = context.waitForEvent('close');
      session.send('Browser.crash').catch(() => {});
      await gone;
      ({ context, page } = await visit());
      await page
        .getByRole('button', { name: /S-0001/ })
        .first()
        .click();
      await go(page, 'Sheet');
      expect(await field(page, /^X, across/)).toBe(figure);
    }
    await context.close();
  } finally {
    rmSync(profile, { recursive: true, force: true });
  }
});

it('a second window says so, and what is changed there is kept as a job of its own', async () => {
  const { context, page: first } = desk;
  const second = await context.newPage();
  await second.goto(inject('address'));
  await second
    .getByText(/^Snugline is open in another window/)
    .first()
    .waitFor();
  await expectSound(second, 'second-window');
  await second
    .getByRole('button', { name: /S-0001/ })
    .first()
    .click();
  await go(second, 'Sheet');
  await enter(second, /^X, across/, '141');
  // Meanwhile the first window goes on: with this job, and with another.
  await go(first, 'Sheet');
  await enter(first, /^Y, along/, '139.7');
  await go(first, 'Jobs');
  await first.getByRole('button', { name: 'New job', exact: true }).click();
  await first.getByText('S-0002').first().waitFor();
  await first.waitForTimeout(300);
  await first.close();
  await go(second, 'Jobs');
  await second
    .getByText(/from the second window/)
    .first()
    .waitFor();
  await second.reload();
  await go(second, 'Jobs');
  await second
    .getByText(/from the second window/)
    .first()
    .waitFor();
  await second
    .getByRole('button', { name: /S-0002/ })
    .first()
    .waitFor();
  await second.getByRole('button', { name: /^1\s*Job S-0001/ }).click();
  await go(second, 'Sheet');
  expect(await field(second, /^Y, along/)).toBe('139.70');
  expect(await field(second, /^X, across/)).not.toBe('141.00');
  await go(second, 'Jobs');

  // Off the list and back again.
  const take = second.getByRole('button', { name: /^Take off the list: .*second window/ });
  await take.click();
  expect(await take.count()).toBe(0);
  await second.getByRole('button', { name: 'Bring it back' }).click();
  await take.waitFor();
});

/** A visit of its own, in which the browser behaves as the script makes it. */
async function visitWhere(script: () => void): Promise<Page> {
  const context = await (await sharedBrowser()).newContext({ serviceWorkers: 'block' });
  await context.addInitScript(script);
  const page = await context.newPage();
  await page.goto(inject('address'));
  return page;
}

it('where all storage is shut it works, says so, asks before it is left, and saves the job as a file', async () => {
  const page = await visitWhere(() => {
    const shut = (): never => {
      throw new DOMException('Access is denied for this document.', 'SecurityError');
    };
    for (const name of ['sessionStorage', 'localStorage'])
      Object.defineProperty(window, name, { get: shut });
    IDBFactory.prototype.open = shut;
  });
  await page
    .getByText(/^This browser keeps nothing here \(Access is denied.*Leave the private window/)
    .first()
    .waitFor();
  await page.getByRole('button', { name: 'New job', exact: true }).click();
  await enter(page, /^X, across/, '140.1');
  await go(page, 'Jobs');
  const [saved] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('button', { name: /^Save as a file/ }).click(),
  ]);
  expect(readJobFile(readFileSync(await saved.path())).job.sheet.spansMm.x).toBe(140.1);
  const asked = page.waitForEvent('dialog');
  void page.close({ runBeforeUnload: true });
  expect((await asked).type()).toBe('beforeunload');
  await page.context().close();
});

it('where there is no room it says so, and keeps everything once there is', async () => {
  const page = await visitWhere(() => {
    const put = Object.getOwnPropertyDescriptor(IDBObjectStore.prototype, 'put')!.value as (
      ...of: unknown[]
    ) => IDBRequest<IDBValidKey>;
    IDBObjectStore.prototype.put = function (...of: unknown[]) {
      if (sessionStorage.getItem('full')) throw new DOMException('full', 'QuotaExceededError');
      return put.apply(this, of);
    };
  });
  await page.getByRole('button', { name: 'New job', exact: true }).click();
  await enter(page, /^X, across/, '140.1');
  await page.waitForFunction(() => document.querySelector('[data-kept="true"]'));
  await page.evaluate(() => sessionStorage.setItem('full', 'yes'));
  await enter(page, /^Y, along/, '139.9');
  const said = page.getByText(/^The browser has no room left: the last change is not kept/).first();
  await said.waitFor();
  await expectSound(page, 'storage-full');
  expect(await field(page, /^Y, along/)).toBe('139.90');
  await page.evaluate(() => sessionStorage.removeItem('full'));
  await enter(page, /^X, across/, '140.2');
  await said.waitFor({ state: 'detached' });
  await page.reload();
  await page.getByText('S-0001').first().waitFor();
  expect(await field(page, /^X, across/)).toBe('140.20');
  expect(await field(page, /^Y, along/)).toBe('139.90');
  await page.context().close();
});
