/** The program without a network: kept whole after the first load, nothing asked of anyone else, updates that wait. */
import { spawn, type ChildProcess } from 'node:child_process';
import { appendFileSync, cpSync, rmSync } from 'node:fs';
import { createServer, type Server } from 'node:http';
import { connect, type AddressInfo, type Socket } from 'node:net';
import { fileURLToPath } from 'node:url';
import { chromium, type Browser, type Page } from 'playwright-core';
import { preview } from 'vite';
import { afterAll, beforeAll, expect, it, inject } from 'vitest';
// @ts-expect-error plain JavaScript, for it runs before anything is installed
import { CHROMIUM_ARGS, chromiumPath } from '../chromium.mjs';
import { expectSound } from './faults.ts';
import { go } from './page.ts';

const path = (name: string): string => fileURLToPath(new URL(`../../${name}`, import.meta.url));
const freePort = (): Promise<number> =>
  new Promise((resolve) => {
    const probe = createServer().listen(0, 'localhost', () => {
      const { port } = probe.address() as AddressInfo;
      probe.close(() => resolve(port));
    });
  });

/** Whatever leaves the browser for another machine comes through here and is written down; the browser's own errands too. */
const wanted: string[] = [];
let watch: Server;
let browser: Browser;
beforeAll(async () => {
  watch = createServer((request, answer) => {
    wanted.push(request.url ?? '');
    answer.writeHead(502).end();
  });
  watch.on('connect', (request, socket: Socket) => {
    wanted.push(request.url ?? '');
    socket.end();
  });
  await new Promise<void>((resolve) => watch.listen(0, '127.0.0.1', resolve));
  browser = await chromium.launch({
    executablePath: (await chromiumPath()) as string,
    args: [...(CHROMIUM_ARGS as string[]), '--disable-background-networking'],
    proxy: {
      server: `http://127.0.0.1:${(watch.address() as AddressInfo).port}`,
      bypass: 'localhost',
    },
  });
});
afterAll(async () => {
  await browser?.close();
  watch?.close();
});

const keptHere = (page: Page): Promise<void> =>
  page.getByText('it starts and works without a network').waitFor({ timeout: 60_000 });

it('does the whole sample job with its server gone, and asks nothing of anyone', async () => {
  const port = await freePort();
  const server: ChildProcess = spawn(process.execPath, [
    path('src/cli/start.mjs'),
    '--port',
    String(port),
  ]);
  const told: string[] = [];
  try {
    await new Promise<void>((resolve, reject) => {
      server.stdout!.on('data', (data: Buffer) => {
        told.push(data.toString());
        if (told.join('').includes(`http://localhost:${port}/`)) resolve();
      });
      server.on('exit', () => reject(new Error(`npm start ended: ${told.join('')}`)));
    });
    const context = await browser.newContext({ acceptDownloads: true });
    const page = await context.newPage();
    const asked: string[] = [];
    context.on('request', (request) => asked.push(request.url()));
    const errors: string[] = [];
    page.on('pageerror', (error) => errors.push(error.message));
    page.on('console', (m) => {
      if (m.type() === 'error') errors.push(m.text());
    });
    await page.goto(`http://localhost:${port}/`);
    await keptHere(page);

    const ended = new Promise((resolve) => server.once('close', resolve));
    server.removeAllListeners('exit');
    server.kill();
    await ended;
    const refused = await new Promise((resolve) => {
      connect(port, 'localhost')
        .on('connect', () => resolve(false))
        .on('error', () => resolve(true));
    });
    expect(refused).toBe(true);
    await context.setOffline(true);
    await page.reload();
    await page.getByRole('button', { name: 'Sample job', exact: true }).click();
    await page
      .getByRole('navigation')
      .getByText('3 placed')
      .waitFor({ state: 'attached', timeout: 120_000 });
    await go(page, 'Release');
    await page.getByRole('button', { name: 'Download cut.dxf' }).waitFor({ timeout: 60_000 });
    expect(errors).toEqual([]);
    expect(asked.filter((to) => /^http/.test(to) && new URL(to).port !== String(port))).toEqual([]);

    // The policy itself, with the network on again: what a script that got in would try.
    await context.setOffline(false);
    const tries = await page.evaluate(async () => {
      const violated: string[] = [];
      addEventListener('securitypolicyviolation', (e) => violated.push(e.effectiveDirective));
      await fetch('http://elsewhere.example/').catch(() => {});
      new Image().src = 'http://elsewhere.example/a.png';
      const script = document.createElement('script');
      script.src = 'http://elsewhere.example/a.js';
      document.head.append(script);
      await new Promise((resolve) => setTimeout(resolve, 300));
      return violated;
    });
    for (const part of ['connect-src', 'img-src', 'script-src-elem']) expect(tries).toContain(part);
    expect(wanted.filter((to) => to.includes('elsewhere.example'))).toEqual([]);
    await context.close();
  } finally {
    server.kill();
  }
});

it('announces a newer version and starts it only when asked, in the only window', async () => {
  const outDir = path('.cache/page-updated');
  rmSync(outDir, { recursive: true, force: true });
  cpSync(inject('built'), outDir, { recursive: true });
  const server = await preview({
    logLevel: 'warn',
    build: { outDir },
    preview: { host: 'localhost', port: 0, strictPort: false },
  });
  try {
    const context = await browser.newContext();
    const page = await context.newPage();
    const address = server.resolvedUrls!.local[0]!;
    await page.goto(address);
    await keptHere(page);
    await page.getByRole('button', { name: 'New job', exact: true }).click();

    appendFileSync(`${outDir}/sw.js`, '\n// newer\n');
    await page.reload();
    await page.getByRole('navigation').getByText('update').waitFor();
    const waiting = (): Promise<boolean> =>
      page.evaluate(async () => !!(await navigator.serviceWorker.getRegistration())?.waiting);
    expect(await waiting()).toBe(true);
    await go(page, 'Jobs');
    const start = page.getByRole('button', { name: 'Start the newer version' });

    await expectSound(page, 'newer-version');

    const second = await context.newPage();
    await second.goto(address);
    await second
      .getByText(/^Snugline is open in another window/)
      .first()
      .waitFor();
    await start.click();
    await page.getByText(/^It cannot start yet: another window is open/).waitFor();
    expect(await waiting()).toBe(true);
    await second.close();
    // The browser lets go of what a closed window asked for a moment later.
    const asked = (): Promise<number> =>
      page.evaluate(async () => (await navigator.locks.query()).pending?.length ?? 0);
    await expect.poll(asked).toBe(0);

    await Promise.all([page.waitForEvent('load'), start.click()]);
    await keptHere(page);
    expect(await waiting()).toBe(false);
    expect(await start.count()).toBe(0);
    await page
      .getByRole('button', { name: /S-0001/ })
      .first()
      .waitFor();
    await context.close();
  } finally {
    await server.close();
  }
});
