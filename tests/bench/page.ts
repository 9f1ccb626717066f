/**
 * npm run bench -- --page [paint|judging|tracing|panning|jobs]: how the page feels, measured in Chromium on this machine. Time to the
 * first useful paint; how long a photo takes to be judged; how long the main thread is blocked while a picture of 12 MP is dropped, traced, laid and released, as
 * PerformanceObserver tells it (tasks of 50 ms and more, by the clock) and in processor time; script for each frame while a picture of 50 MP with its outline is dragged about; memory of the
 * page, its workers included, over 50 jobs in a row. Time of the clock grows with what else the machine does; script is counted
 * in processor time of the main thread.
 */
import { createHash } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium, type Browser, type CDPSession, type Page } from 'playwright-core';
import sharp from 'sharp';
import { build, preview } from 'vite';
import { writeJobFile } from '../../src/job/job-file.ts';
import { newJob, readJob, type Job } from '../../src/job/job.ts';
// @ts-expect-error plain JavaScript, for it runs before anything is installed
import { CHROMIUM_ARGS, chromiumPath } from '../chromium.mjs';
import { columns, quantile } from '../accuracy/table.ts';
import { mainThread, type Event } from './trace.ts';

const VISITS = 7;
const JOBS = 50;
const WARM = 5;
const FRAMES = 90;
const fixture = (path: string): Buffer => readFileSync(new URL(`../../${path}`, import.meta.url));

/** A job as a file to be dropped, its picture in it. */
function jobFile(job: Job, name: string, bytes: Buffer): Buffer {
  const picture = { name, digest: createHash('sha256').update(bytes).digest('hex') };
  return Buffer.from(writeJobFile({ ...job, picture }, [{ ...picture, bytes }]));
}

/** The card of the fixtures, all that is asked for entered. */
function card(number: string): Job {
  const job = newJob(number, `Card ${number}`);
  return {
    ...job,
    sheet: {
      ...job.sheet,
      stage: 'white',
      riderSizeMm: 0,
      spansMm: { x: 140.02, y: 139.89, d: 141.42 },
    },
    thicknessMm: { '1': 0.78 },
    face: 'print',
  };
}

/** The browser reads it from the disk, as when a hand drops it: bytes handed over by the driver are unpacked on the page's main thread. */
async function open(page: Page, bytes: Buffer): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'snugline-bench-'));
  const path = join(folder, 'bench.job.zip');
  writeFileSync(path, bytes);
  // A handle of the driver's would hold the screen that the field stood on for as long as the page lives.
  const session = await page.context().newCDPSession(page);
  const expression = "document.querySelector('input[type=file]')";
  const { result } = await session.send('Runtime.evaluate', { expression });
  await session.send('DOM.setFileInputFiles', { files: [path], objectId: result.objectId! });
  await session.detach();
  await until(page, () => document.title.startsWith('Picture'));
  rmSync(folder, { recursive: true });
}

/** Looks now and then, by little work: a locator goes through the whole page, on the thread that is measured. */
async function until(page: Page, so: () => boolean): Promise<void> {
  for (let k = 0; k < 2400; k++) {
    if (await page.evaluate(so)) return;
    await new Promise((done) => setTimeout(done, 250));
  }
  throw new Error(`never so: ${so.toString()}`);
}
const go = (page: Page, step: string): Promise<void> =>
  page.evaluate((name) => void (location.hash = `#/${name}`), step);
const traced = async (page: Page): Promise<void> => {
  await go(page, 'outline');
  await page.getByText(/^U of the edge/).waitFor({ timeout: 600_000 });
};

/** One line of the table: what, its goal, what was measured. */
type Row = readonly [what: string, goal: string, measured: string];

/** Navigation to the first paint that holds the ways in, ms: a new visit each time, nothing kept. */
async function paint(browser: Browser, address: string): Promise<Row> {
  const times: number[] = [];
  for (let k = 0; k <= VISITS; k++) {
    const page = await (await browser.newContext()).newPage();
    await page.goto(address);
    await page.getByRole('button', { name: 'New job', exact: true }).waitFor();
    times.push(
      await page.evaluate(
        () =>
          new Promise<number>((resolve) =>
            new PerformanceObserver((list) => resolve(list.getEntries().at(-1)!.startTime)).observe(
              { type: 'largest-contentful-paint', buffered: true },
            ),
          ),
      ),
    );
    await page.context().close();
  }
  // The first one also starts the browser.
  times.shift();
  return [
    'first useful paint (largest contentful)',
    'below 1000 ms',
    `${quantile(times, 0.5).toFixed(0)} ms, worst of ${VISITS}: ${Math.max(...times).toFixed(0)} ms`,
  ];
}

/** Tasks of the main thread that block it by 50 ms and more while a picture is dropped, traced, laid and released. */
async function tracing(browser: Browser, address: string): Promise<readonly Row[]> {
  const page = await (await browser.newContext({ reducedMotion: 'reduce' })).newPage();
  await page.goto(address);
  await page.getByRole('button', { name: 'New job', exact: true }).waitFor();
  await page.waitForTimeout(1000);
  await page.evaluate(() => {
    const long: number[] = [];
    Object.assign(window, { long });
    new PerformanceObserver((list) =>
      long.push(...list.getEntries().map((e) => e.duration)),
    ).observe({
      type: 'longtask',
    });
  });
  const demo = readJob(fixture('demo-data/job.json').toString('utf8'));
  const file = jobFile(demo, 'photo.jpg', fixture('demo-data/photo.jpg'));
  const events = await trace(
    browser,
    page,
    async () => {
      await open(page, file);
      await go(page, 'outline');
      await until(page, () => /placed/.test(document.querySelector('nav')!.textContent));
      for (const step of ['pocket', 'bed', 'release']) {
        await go(page, step);
        await page.waitForTimeout(1500);
      }
      await until(page, () => document.querySelector('[aria-label="Download cut.dxf"]') !== null);
      await page.waitForTimeout(1500);
    },
    ['toplevel', '__metadata'],
  );
  const long = await page.evaluate(() => (window as unknown as { long: number[] }).long);
  const tasks = events.filter(isTask).map((e) => e.tdur! / 1000);
  await page.context().close();
  return [
    [
      'main thread, 12 MP dropped, traced, laid and released (by the clock)',
      'no task of 50 ms',
      long.length === 0
        ? 'none'
        : `${long.length} tasks, longest ${Math.max(...long).toFixed(0)} ms`,
    ],
    [
      'the same in processor time of the thread',
      'no task of 50 ms',
      `${tasks.filter((ms) => ms >= 50).length} tasks, longest ${Math.max(0, ...tasks).toFixed(1)} ms`,
    ],
  ];
}

/** Between opening a job and taking its picture, ms: nobody is faster. */
const TAKING_MS = 5000;

/**
 * From dropping a photo of 12 MP to what is said of it at first look (sharp enough, marks found, camera above the stage, glare) and
 * to the whole measurement, by the clock: the first of a visit, and later ones, nothing else under way.
 */
async function judging(browser: Browser, address: string): Promise<readonly Row[]> {
  const page = await (await browser.newContext({ reducedMotion: 'reduce' })).newPage();
  await page.goto(address);
  await page.getByRole('button', { name: 'New job', exact: true }).waitFor();
  await page.waitForTimeout(1000);
  const photo = fixture('demo-data/photo.jpg');
  const folder = mkdtempSync(join(tmpdir(), 'snugline-bench-'));
  const demo = readJob(fixture('demo-data/job.json').toString('utf8'));
  const first: number[] = [];
  const whole: number[] = [];
  const spent: number[] = [];
  const all = await browser.newBrowserCDPSession();
  /** Of the page with its workers, ms. */
  const processorMs = async (): Promise<number> => {
    const { processInfo } = await all.send('SystemInfo.getProcessInfo');
    return (
      1000 * Math.max(...processInfo.filter((p) => p.type === 'renderer').map((p) => p.cpuTime))
    );
  };
  for (let k = 0; k <= WARM; k++) {
    // A job without its picture: all is entered, the photo is what is missing.
    await go(page, 'jobs');
    await open(page, Buffer.from(writeJobFile({ ...demo, number: `J-${k}`, picture: null }, [])));
    await page.waitForTimeout(TAKING_MS);
    await page.evaluate(() => {
      const looked = /[Aa]t first look|can be measured|cannot be measured/;
      const judged = /can be measured|cannot be measured/;
      const input = document.querySelector<HTMLInputElement>('input[type=file]')!;
      input.addEventListener(
        'change',
        () => {
          const from = performance.now();
          const seen = new MutationObserver(() => {
            const said = document.querySelector('.ledge')!.textContent;
            const times = window as { lookedMs?: number; judgedMs?: number };
            if (looked.test(said)) times.lookedMs ??= performance.now() - from;
            if (!judged.test(said)) return;
            times.judgedMs = performance.now() - from;
            seen.disconnect();
          });
          seen.observe(document.body, { subtree: true, childList: true, characterData: true });
        },
        { capture: true, once: true },
      );
      Object.assign(window, { lookedMs: undefined, judgedMs: undefined });
    });
    const before = await processorMs();
    // Another file each time, by a comment after the marker that begins it: what was seen before is remembered.
    const path = join(folder, `photo-${k}.jpg`);
    const comment = Buffer.from([0xff, 0xfe, 0, 3, k]);
    writeFileSync(path, Buffer.concat([photo.subarray(0, 2), comment, photo.subarray(2)]));
    await page.locator('input[type=file]').first().setInputFiles(path);
    await page.waitForFunction(() => 'lookedMs' in window && window.lookedMs, undefined, {
      polling: 20,
    });
    spent.push((await processorMs()) - before);
    await until(page, () => (window as { judgedMs?: number }).judgedMs !== undefined);
    const { lookedMs, judgedMs } = await page.evaluate(() => {
      const times = window as unknown as { lookedMs: number; judgedMs: number };
      return { lookedMs: times.lookedMs, judgedMs: times.judgedMs };
    });
    first.push(lookedMs);
    whole.push(judgedMs);
    await until(page, () => /placed/.test(document.querySelector('nav')!.textContent));
  }
  await page.context().close();
  rmSync(folder, { recursive: true });
  const said = ([once, ...later]: readonly number[]): string =>
    `${quantile(later, 0.5).toFixed(0)} ms (median of ${WARM}); the first of a visit ${once!.toFixed(0)} ms`;
  return [
    ['a photo of 12 MP judged at first look, from dropping it', 'within 1000 ms', said(first)],
    ['the same in processor time, all threads of the page', '', said(spent)],
    ['measured, its camera adjusted', '', said(whole)],
  ];
}

/** Script of the main thread for each frame while a picture of 50 MP is dragged, its outline and band over it. */
async function panning(browser: Browser, address: string): Promise<Row> {
  const large = await sharp(fixture('fixtures/o01-card.jpg'))
    .resize({ width: 8160, height: 6120, fit: 'fill', kernel: 'cubic' })
    .jpeg({ quality: 90 })
    .keepExif()
    .toBuffer();
  const context = await browser.newContext({
    viewport: { width: 1440, height: 900 },
    reducedMotion: 'reduce',
  });
  const page = await context.newPage();
  await page.goto(address);
  await page.getByRole('button', { name: 'New job', exact: true }).waitFor();
  await open(page, jobFile(card('S-0001'), 'large.jpg', large));
  await traced(page);
  const box = (await page.getByRole('application').boundingBox())!;
  const [x, y] = [box.x + 0.3 * box.width, box.y + 0.5 * box.height];
  const drag = async (): Promise<void> => {
    await page.mouse.move(x, y);
    await page.mouse.down();
    for (let k = 0; k < FRAMES; k++) {
      await page.mouse.move(x + 160 * Math.sin(k / 8), y + 90 * Math.sin(k / 5));
      await page.evaluate(() => new Promise((done) => requestAnimationFrame(done)));
    }
    await page.mouse.up();
  };
  await page.getByRole('button', { name: 'Zoom in' }).first().click();
  await page.waitForTimeout(1500);
  await drag();
  const events = await trace(browser, page, drag);
  await context.close();
  const frames = scriptOfFrames(events);
  return [
    'script a frame while a picture of 50 MP is dragged, with its outline',
    'at most 8 ms',
    `${quantile(frames, 0.5).toFixed(1)} ms, 95 % ${quantile(frames, 0.95).toFixed(1)} ms, worst of ${frames.length}: ${Math.max(...frames).toFixed(1)} ms`,
  ];
}

/** Collects the garbage of the page and of its workers: those collect their own only when they have much of it. */
async function collector(session: CDPSession): Promise<() => Promise<void>> {
  const workers = new Set<string>();
  const waiting = new Map<number, () => void>();
  let id = 0;
  session.on('Target.attachedToTarget', ({ sessionId }) => workers.add(sessionId));
  session.on('Target.detachedFromTarget', ({ sessionId }) => workers.delete(sessionId));
  session.on('Target.receivedMessageFromTarget', ({ message }) =>
    waiting.get((JSON.parse(message) as { id?: number }).id ?? 0)?.(),
  );
  // Not flat: sessions of workers would need a connection of their own.
  await session.send('Target.setAutoAttach', { autoAttach: true, waitForDebuggerOnStart: false });
  return async () => {
    for (const sessionId of [...workers]) {
      const message = JSON.stringify({ id: ++id, method: 'HeapProfiler.collectGarbage' });
      const done = new Promise<void>((resolve) => waiting.set(id, resolve));
      await session.send('Target.sendMessageToTarget', { sessionId, message });
      await done;
    }
    await session.send('HeapProfiler.collectGarbage');
  };
}

/** Memory of the page's process, its workers included, after each job of a row, garbage collected; MB. */
async function jobs(browser: Browser, address: string): Promise<Row> {
  const bytes = await sharp(fixture('fixtures/o01-card.jpg'))
    .resize({ width: 2000 })
    .keepExif()
    .toBuffer();
  const page = await (await browser.newContext({ reducedMotion: 'reduce' })).newPage();
  await page.goto(address);
  await page.getByRole('button', { name: 'New job', exact: true }).waitFor();
  const session = await page.context().newCDPSession(page);
  const collect = await collector(session);
  const all = await browser.newBrowserCDPSession();
  const pids = async (): Promise<number[]> => {
    const { processInfo } = await all.send('SystemInfo.getProcessInfo');
    return processInfo.filter((p) => p.type === 'renderer').map((p) => p.id);
  };
  const usedMb: number[] = [];
  for (let k = 1; k <= JOBS; k++) {
    await go(page, 'jobs');
    await open(page, jobFile(card(`S-${String(k).padStart(4, '0')}`), 'card.jpg', bytes));
    await traced(page);
    // Laid, whatever is still to be settled there.
    await until(page, () => !/Bed\s*not yet/.test(document.querySelector('nav')!.textContent));
    await collect();
    await page.waitForTimeout(200);
    const kb = (await pids()).map((pid) =>
      Number(/^Pss:\s+(\d+)/m.exec(readFileSync(`/proc/${pid}/smaps_rollup`, 'utf8'))![1]),
    );
    usedMb.push(Math.max(...kb) / 1024);
    if (k % 5 === 0) console.error(`job ${k} of ${JOBS}: ${usedMb.at(-1)!.toFixed(0)} MB`);
  }
  await page.context().close();
  const mean = (from: number, to: number): number =>
    usedMb.slice(from, to).reduce((a, b) => a + b, 0) / (to - from);
  const [early, late] = [mean(5, 15), mean(JOBS - 10, JOBS)];
  return [
    `memory over ${JOBS} jobs in a row (page and workers, resident)`,
    'flat',
    `jobs 6 to 15 ${early.toFixed(0)} MB, last ten ${late.toFixed(0)} MB: ${(((late - early) / (JOBS - 15)) * 1024).toFixed(0)} kB a job`,
  ];
}

const isTask = (e: Event): boolean => /RunTask$/.test(e.name) && e.tdur !== undefined;

/** What the page's main thread did, from Chromium's own trace. */
async function trace(
  browser: Browser,
  page: Page,
  work: () => Promise<void>,
  categories = [
    'toplevel',
    'devtools.timeline',
    'disabled-by-default-devtools.timeline',
    '__metadata',
  ],
): Promise<readonly Event[]> {
  await browser.startTracing(page, { categories });
  await work();
  return mainThread(await browser.stopTracing());
}

/** Scripts run from one of these; those inside of another are part of it. */
const SCRIPT =
  /^(FunctionCall|EvaluateScript|FireAnimationFrame|EventDispatch|RunMicrotasks|TimerFire)$/;

/** Processor time of script between two frames, ms; frames in which none ran are left out. */
function scriptOfFrames(events: readonly Event[]): readonly number[] {
  const frames: number[] = [];
  let sum = 0;
  let until = 0;
  for (const e of [...events].sort((a, b) => a.ts - b.ts)) {
    if (e.name === 'FireAnimationFrame' && e.ts >= until && sum > 0) {
      frames.push(sum);
      sum = 0;
    }
    if (!SCRIPT.test(e.name) || e.dur === undefined || e.ts < until) continue;
    sum += e.tdur! / 1000;
    until = e.ts + e.dur;
  }
  return sum > 0 ? [...frames, sum] : frames;
}

export async function pageTable(only?: string): Promise<void> {
  const built = process.env.SNUGLINE_BUILT;
  const outDir = built ?? new URL('../../.cache/bench-page', import.meta.url).pathname;
  if (!built) await build({ logLevel: 'error', build: { outDir, emptyOutDir: true } });
  const server = await preview({
    logLevel: 'warn',
    build: { outDir },
    preview: { host: 'localhost', port: 0, strictPort: false },
  });
  const browser = await chromium.launch({
    executablePath: (await chromiumPath()) as string,
    args: CHROMIUM_ARGS as string[],
  });
  const parts = { paint, judging, tracing, panning, jobs } as const;
  const rows: Row[] = [['what', 'goal', 'measured']];
  try {
    for (const [name, part] of Object.entries(parts)) {
      if (only && only !== name) continue;
      const made = await part(browser, server.resolvedUrls!.local[0]!);
      rows.push(...(Array.isArray(made[0]) ? (made as readonly Row[]) : [made as Row]));
    }
  } finally {
    await browser.close();
    await server.close();
  }
  console.log(columns(rows));
}
