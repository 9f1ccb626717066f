// Where the browser for the page tests comes from. Built-ins only: tests/run.mjs needs it before anything is installed.
import { existsSync } from 'node:fs';
import { delimiter, join } from 'node:path';

const NAMES = [
  'chromium',
  'chromium-browser',
  'google-chrome-stable',
  'google-chrome',
  'microsoft-edge-stable',
];
const ELSEWHERE = [
  '/snap/bin/chromium',
  '/Applications/Chromium.app/Contents/MacOS/Chromium',
  '/Applications/Google Chrome.app/Contents/MacOS/Google Chrome',
  'C:\\Program Files\\Google\\Chrome\\Application\\chrome.exe',
];

/** The browser that SNUGLINE_CHROMIUM names, else the system's own, else the one playwright downloaded, else nothing. */
export async function chromiumPath() {
  const named = process.env.SNUGLINE_CHROMIUM;
  if (named) return existsSync(named) ? named : undefined;
  const folders = (process.env.PATH ?? '').split(delimiter);
  const places = [...NAMES.flatMap((name) => folders.map((f) => join(f, name))), ...ELSEWHERE];
  const own = places.find((place) => existsSync(place));
  if (own) return own;
  const { chromium } = await import('playwright-core').catch(() => ({ chromium: undefined }));
  const downloaded = chromium?.executablePath();
  return downloaded && existsSync(downloaded) ? downloaded : undefined;
}

/** Arguments that let Chromium run as root and without a graphics card. */
export const CHROMIUM_ARGS = ['--no-sandbox', '--disable-gpu', '--disable-dev-shm-usage'];
