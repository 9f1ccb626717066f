import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import sharp, { type Sharp } from 'sharp';
import { build, preview, type PreviewServer } from 'vite';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { Refusal } from '../../src/base/reason.ts';
import { calibrationOf, DEFAULT_TRACE, traceFile, traceSettingsOf } from '../../src/cli/trace.ts';
import { readPicture } from '../../src/picture/decode-node.ts';
import { matrixProfile } from '../../src/picture/icc.ts';
import { hasOpenData, openBytes, openFiles } from '../open-data.ts';
import { ADOBE_1998, profiled } from '../support/profiled.ts';
import { drop, openApp, sharedBrowser } from './page.ts';
import type { ReadInPage, TraceInPage } from './reader/reader.ts';

/**
 * Page and terminal must agree on pixels and on what the header says: exactly where one decoder serves both (TIFF, HEIC,
 * AVIF, 16-bit PNG) and where the numbers are handed on as they are; within two counts of 255 where the browser and
 * libvips each convert by a profile; within one where each lays transparency on white, and where the page takes a JPEG
 * from its planes (yuv.ts), which on saturated slopes rounds otherwise than libjpeg-turbo in Node.
 */
const BY_PROFILE = 2;
const ON_WHITE = 1;
const BY_PLANES = 1;

let page: Page;
let server: PreviewServer;
let outDir: string;
beforeAll(async () => {
  outDir = mkdtempSync(join(tmpdir(), 'snugline-reader-'));
  const root = new URL('./reader/', import.meta.url).pathname;
  const configFile = new URL('../../vite.config.ts', import.meta.url).pathname;
  await build({ root, configFile, logLevel: 'error', build: { outDir, emptyOutDir: true } });
  server = await preview({
    root,
    configFile,
    logLevel: 'error',
    build: { outDir },
    preview: { host: '127.0.0.1', port: 0, strictPort: false },
  });
  page = await (await sharedBrowser()).newPage();
  await page.goto(server.resolvedUrls!.local[0]!);
});
afterAll(async () => {
  await page?.context().close();
  await server?.close();
  rmSync(outDir, { recursive: true, force: true });
});

const base64 = (bytes: Uint8Array): string => Buffer.from(bytes).toString('base64');
type Tools = { readInPage: ReadInPage; traceInPage: TraceInPage };
const inPage = (bytes: Uint8Array, name: string): ReturnType<ReadInPage> =>
  page.evaluate(
    ([file, called]) => (window as unknown as Tools).readInPage(file!, called!),
    [base64(bytes), name],
  );

/** Reads in both places, holds size and metadata equal, and gives the greatest difference of any sample. */
async function difference(bytes: Uint8Array, name: string): Promise<number> {
  const seen = await inPage(bytes, name);
  const here = await readPicture(bytes, name).catch((error: unknown) => error);
  if (here instanceof Refusal) {
    expect(seen, name).toMatchObject({ ok: false, reason: { code: here.reason.code } });
    return 0;
  }
  if (here instanceof Error) throw here;
  const there = here as Awaited<ReturnType<typeof readPicture>>;
  if (!seen.ok) throw new Error(`${name}: the page says ${seen.reason.message}`);
  const { widthPx, heightPx, channels, meta, pixels } = seen.value;
  expect([widthPx, heightPx], name).toEqual([there.widthPx, there.heightPx]);
  expect(meta, name).toEqual(there.meta);
  const samples = Buffer.from(pixels, 'base64');
  let greatest = 0;
  for (let k = 0; k < widthPx * heightPx; k++)
    for (let c = 0; c < 3; c++) {
      const apart = samples[k * channels + c]! - there.data[k * there.channels + c]!;
      greatest = Math.max(greatest, Math.abs(apart));
    }
  return greatest;
}

/** Every fifth file, since each costs a second; SNUGLINE_ALL=1 takes them all. */
const all = process.env['SNUGLINE_ALL'] === '1';

describe.each([
  ['tiff', 22],
  ['orientation_tiff', 8],
  ['heic', 3],
  ['png', 41],
  ['jpeg', 20],
  ['orientation_jpeg', 8],
] as const)('open data, %s', (folder, files) => {
  it.skipIf(!hasOpenData(`readers/${folder}`))('page and terminal read the same', async () => {
    const names = openFiles(`readers/${folder}`);
    expect(names.length).toBeGreaterThanOrEqual(files);
    for (const name of names.filter((_, k) => all || k % 5 === 0)) {
      const bytes = openBytes(`readers/${folder}`, name);
      const mixed = name === 'pil123p.png' || name === 'trim-mc.png' || name === 'tbbn3p08.png';
      expect(await difference(bytes, name), name).toBeLessThanOrEqual(
        mixed ? ON_WHITE : folder.endsWith('jpeg') ? BY_PLANES : 0,
      );
    }
  });
});

const slope = (): Sharp => {
  const [width, height] = [256, 64];
  const raw = Uint8Array.from({ length: width * height * 3 }, (_, k) => {
    const [x, y] = [Math.floor(k / 3) % width, Math.floor(k / 3 / width)];
    return [x, (y * 4 + x) & 255, 255 - x][k % 3]!;
  });
  return sharp(raw, { raw: { width, height, channels: 3 } });
};
const made = async (image: Sharp): Promise<Uint8Array> => new Uint8Array(await image.toBuffer());

describe('pictures made here', () => {
  it.each([
    ['jpg', (s: Sharp) => s.jpeg({ quality: 95 }), BY_PLANES],
    ['jpg', (s: Sharp) => s.greyscale().jpeg({ quality: 95 }), 0],
    ['jpg', (s: Sharp) => s.withIccProfile('p3').jpeg({ quality: 95 }), BY_PROFILE],
    ['png', (s: Sharp) => s.withIccProfile('p3').png(), BY_PROFILE],
    ['webp', (s: Sharp) => s.withIccProfile('p3').webp({ lossless: true }), BY_PROFILE],
    ['tif', (s: Sharp) => s.withIccProfile('p3').tiff({ compression: 'lzw' }), 0],
    ['png', (s: Sharp) => s.toColourspace('rgb16').withIccProfile('p3').png(), 0],
    ['tif', (s: Sharp) => s.toColourspace('rgb16').tiff({ compression: 'deflate' }), 0],
    ['tif', (s: Sharp) => s.greyscale().tiff({ compression: 'packbits' }), 0],
    ['avif', (s: Sharp) => s.avif({ effort: 1 }), 0],
  ] as const)('%s, number %#', async (extension, encode, within) => {
    const name = `slope.${extension}`;
    expect(await difference(await made(encode(slope())), name)).toBeLessThanOrEqual(within);
  });

  it.each(['png', 'jpeg', 'tiff'] as const)('a space as wide as Adobe RGB, %s', async (format) => {
    const bytes = await profiled(matrixProfile(ADOBE_1998), format);
    const name = `wide.${format === 'jpeg' ? 'jpg' : format}`;
    expect(await difference(bytes, name)).toBeLessThanOrEqual(format === 'tiff' ? 0 : BY_PROFILE);
  });
});

const fixture = (name: string): Uint8Array =>
  new Uint8Array(readFileSync(new URL(`../../fixtures/${name}`, import.meta.url)));

/**
 * The same pixels through the same code, but the last digit of sines, logarithms and powers is left to each engine (ECMA-262, 21.3:
 * "implementation-approximated"); one browser's differ from Node's in every tenth value since its version 156.0.8078.114. An
 * adjustment comes to rest elsewhere by what that does along the directions it hardly knows: with every tenth value of `Math` changed
 * in its last digit on purpose, up to 0.0001 mm. Twice that; a thousandth of any U.
 */
const ENGINES_MM = 2e-4;

describe('a trace of one photograph in other formats', () => {
  const options = {
    ...DEFAULT_TRACE,
    thicknessMm: 0.78,
    spansMm: { x: 140.02, y: 139.89, d: 141.42 },
  };
  // Half as large: the picture crosses into the browser as text.
  const half = () => sharp(fixture('o01-card.jpg')).autoOrient().resize({ width: 1500 });
  it.each([
    ['card.tif', () => half().toColourspace('rgb16').tiff({ compression: 'deflate' })],
    ['card.avif', () => half().avif({ quality: 80, effort: 1 })],
  ] as const)('%s: the page draws the outline that the terminal writes', async (name, encode) => {
    const bytes = await made(encode());
    const { trace } = await traceFile(bytes, name, options);
    expect(trace.outlines.length).toBeGreaterThan(0);
    const seen = await page.evaluate(
      ([file, called, calibration, settings]) =>
        (window as unknown as Tools).traceInPage(
          file as string,
          called as string,
          calibration as Parameters<TraceInPage>[2],
          settings as Parameters<TraceInPage>[3],
        ),
      [base64(bytes), name, calibrationOf(options), traceSettingsOf(options)] as const,
    );
    if (!seen.ok) throw new Error(seen.reason.message);
    const { rings } = seen.value;
    expect(rings).toHaveLength(trace.outlines.length);
    trace.outlines.forEach(({ region }, k) => {
      expect(rings[k]!).toHaveLength(region.outer.length);
      region.outer.forEach((p, v) => {
        const q = rings[k]![v]!;
        expect(Math.hypot(p.x - q.x, p.y - q.y)).toBeLessThan(ENGINES_MM);
      });
    });
  });
});

it('a TIFF and a HEIC dropped on the page are opened and shown', async () => {
  const { page: desk, close, foreign } = await openApp();
  try {
    await desk.getByRole('button', { name: 'New job', exact: true }).click();
    const tiff = await made(
      sharp(fixture('o01-card.jpg'))
        .autoOrient()
        .resize({ width: 1500 })
        .tiff({ compression: 'lzw' }),
    );
    await drop(desk, [{ name: 'card.tif', type: 'image/tiff', bytes: tiff }]);
    await desk.getByText(/^The sheet was found/).waitFor({ timeout: 90_000 });
    await desk.getByText(/^1.?500 × 2.?000$/).waitFor();
    // What is shown is the picture: its canvas has many shades.
    const shades = (): Promise<number> =>
      desk.evaluate(() => {
        const canvas = document.querySelector('canvas')!;
        const { data } = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height);
        return new Set(data.filter((_, k) => k % 4 === 1)).size;
      });
    await expect.poll(shades, { timeout: 30_000 }).toBeGreaterThan(50);

    await drop(desk, [{ name: 'crop.heic', type: '', bytes: fixture('crop.heic') }]);
    await desk.getByRole('heading', { name: 'crop.heic' }).waitFor();
    await desk.getByText('160 × 112').waitFor({ timeout: 90_000 });
    expect(foreign).toEqual([]);
  } finally {
    await close();
  }
});
