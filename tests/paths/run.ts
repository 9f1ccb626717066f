/**
 * `npm run engines`: the ways through the program in every engine that is here. Debian's packages are chromium, firefox-esr,
 * and webkit2gtk-driver with xvfb and xauth; what is missing is named and left out.
 */
import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, rmSync } from 'node:fs';
import { delimiter, join } from 'node:path';
import { chromium, firefox } from 'playwright-core';
import { build, preview } from 'vite';
// @ts-expect-error plain JavaScript, for it runs before anything is installed
import { CHROMIUM_ARGS, chromiumPath } from '../chromium.mjs';
import { playwrightHands, webkitHands, type Hands } from './hands.ts';
import { PATHS } from './paths.ts';

const there = (program: string): string | undefined =>
  (process.env.PATH ?? '')
    .split(delimiter)
    .map((folder) => join(folder, program))
    .find((path) => existsSync(path));

/** The small browser that the WebKit library brings; it is on no path. */
const miniBrowser = (): string | undefined =>
  spawnSync('dpkg', ['-L', 'libwebkit2gtk-4.1-0'], { encoding: 'utf8' })
    .stdout?.split('\n')
    .find((path) => path.endsWith('/MiniBrowser'));

type Start = () => Promise<Hands>;
const ENGINES: Readonly<Record<string, () => Promise<Start | string>>> = {
  Chromium: async () => {
    const path = (await chromiumPath()) as string | undefined;
    if (!path) return 'no chromium here (package chromium)';
    const args = CHROMIUM_ARGS as string[];
    return async () => playwrightHands(await chromium.launch({ executablePath: path, args }));
  },
  Firefox: async () => {
    const path = there('firefox-esr') ?? there('firefox');
    if (!path) return 'no firefox here (package firefox-esr)';
    return async () =>
      playwrightHands(await firefox.launch({ channel: 'moz-firefox', executablePath: path }));
  },
  WebKit: async () => {
    const driver = there('WebKitWebDriver');
    const browser = miniBrowser();
    if (!driver || !browser) return 'no driver of a WebKit engine here (package webkit2gtk-driver)';
    if (!there('xvfb-run')) return 'no display for the WebKit engine (packages xvfb, xauth)';
    return () => webkitHands(driver, browser);
  },
};

const only = process.argv.slice(2);
const unknown = only.filter((name) => !(name in ENGINES) && !(name in PATHS));
if (unknown.length > 0) {
  console.error(`Known are ${[...Object.keys(ENGINES), ...Object.keys(PATHS)].join(', ')}.`);
  process.exit(2);
}
const asked = (name: string, all: object): boolean =>
  !only.some((o) => o in all) || only.includes(name);

const outDir = new URL('../../.cache/engines', import.meta.url).pathname;
rmSync(outDir, { recursive: true, force: true });
mkdirSync(outDir, { recursive: true });
await build({ logLevel: 'warn', build: { outDir, emptyOutDir: true } });
const server = await preview({
  logLevel: 'warn',
  build: { outDir },
  preview: { host: '127.0.0.1', port: 0, strictPort: false },
});
const address = server.resolvedUrls!.local[0]!;

let passed = 0;
let failed = 0;
let skipped = 0;
for (const [engine, find] of Object.entries(ENGINES)) {
  if (!asked(engine, ENGINES)) continue;
  const start = await find();
  const paths = Object.entries(PATHS).filter(([name]) => asked(name, PATHS));
  if (typeof start === 'string') {
    console.log(`${engine}: left out, ${start}`);
    skipped += paths.length;
    continue;
  }
  for (const [name, walk] of paths) {
    const began = performance.now();
    let hands: Hands | undefined;
    try {
      hands = await start();
      await walk(hands, address);
      passed++;
      console.log(`${engine}, ${name}: ${((performance.now() - began) / 1000).toFixed(0)} s`);
    } catch (error) {
      failed++;
      console.log(`${engine}, ${name}: FAILED, ${error instanceof Error ? error.message : error}`);
    } finally {
      await hands?.close().catch(() => {});
    }
  }
}
await server.close();
console.log(`\n${passed} passed, ${failed} failed, ${skipped} skipped`);
process.exit(failed > 0 || passed === 0 ? 1 : 0);
