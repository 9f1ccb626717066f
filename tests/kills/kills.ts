/** Kills the page, or the whole browser, at random moments while entries are made, and looks at what is left. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium, type BrowserContext, type Page } from 'playwright-core';
// @ts-expect-error plain JavaScript, for it runs before anything is installed
import { CHROMIUM_ARGS, chromiumPath } from '../chromium.mjs';

export interface Figures {
  readonly kills: number;
  /** Of these, the whole browser and not the page alone. */
  readonly ofBrowser: number;
  /** Entries that were made, and those that the page had said were kept. */
  readonly entered: number;
  readonly kept: number;
  /** Entries made in the last moment, not kept yet, that were there all the same or were not. */
  readonly saved: number;
  readonly unsaved: number;
  /** What was lost although it had been kept, in words; none is the goal. */
  readonly lost: readonly string[];
}

/** Figures from 0 to 1 that are the same for the same seed (mulberry32). */
function random(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = Math.imul(a ^ (a >>> 15), a | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

/** What the page shows of the job on the step Sheet: two figures, and what could be undone. */
const SHOWN = `[...document.querySelectorAll('.jaws input')].slice(0, 2).map((f) => f.value).join(' ') + ' ' +
  (document.querySelector('[aria-label^="Undo"]')?.getAttribute('aria-label') ?? '')`;

/** Enters figures and takes some back, as fast as the page takes them, and tells after each what is shown and when it is kept. */
const ENTER = (seed: number, from: number): string => `(async () => {
  let a = ${seed};
  const next = () => (a = (a * 48271) % 2147483647) / 2147483647;
  const turn = () => new Promise((r) => setTimeout(r));
  // A dropped picture leads to another step, whose fields are others.
  const atSheet = async () => {
    while (!document.title.startsWith('Sheet') || document.querySelectorAll('.jaws input').length < 2) {
      location.hash = '#/sheet';
      await turn();
    }
  };
  for (let k = ${from}; ; k++) {
    const undo = next() < 0.2 && k > ${from} + 1;
    // Heard before it is done: what is found may have it although the page died before it could tell.
    await window.told('intends', k, undo ? 'undo' : 'enter');
    await atSheet();
    const fields = document.querySelectorAll('.jaws input');
    if (undo) document.querySelector('[aria-label^="Undo:"]')?.click();
    else {
      const field = fields[next() < 0.5 ? 0 : 1];
      field.value = (138 + (k % 400) / 100).toFixed(2);
      field.dispatchEvent(new Event('input', { bubbles: true }));
      field.dispatchEvent(new Event('change', { bubbles: true }));
    }
    await turn();
    await atSheet();
    window.told('entered', k, ${SHOWN});
    const until = performance.now() + next() * 30;
    let said = false;
    while (performance.now() < until || (!said && next() < 0.7)) {
      if (!said && document.querySelector('.window').dataset.kept === 'true') {
        said = true;
        window.told('kept', k, '');
      }
      await turn();
    }
  }
})()`;

/** Jobs whose picture is not there, or not as it was. */
const ORPHANS = `new Promise((resolve) => {
  const opening = indexedDB.open('snugline');
  opening.onsuccess = () => {
    const db = opening.result;
    const read = db.transaction(['jobs', 'pictures']);
    const jobs = read.objectStore('jobs').getAll();
    const pictures = read.objectStore('pictures').getAll();
    read.oncomplete = async () => {
      db.close();
      const sound = new Set();
      for (const { digest, bytes } of pictures.result) {
        const own = [...new Uint8Array(await crypto.subtle.digest('SHA-256', bytes))];
        if (own.map((b) => b.toString(16).padStart(2, '0')).join('') === digest) sound.add(digest);
      }
      resolve(jobs.result.flatMap(({ text }) => {
        const { picture } = JSON.parse(text);
        return picture && !sound.has(picture.digest) ? [picture.name] : [];
      }));
    };
  };
})`;

/**
 * @param address where the program is served
 * @param kills how often the page is killed; every tenth time the whole browser is
 */
export async function campaign(
  address: string,
  kills: number,
  seed: number,
  told: (words: string) => void = () => {},
): Promise<Figures> {
  const profile = mkdtempSync(join(tmpdir(), 'kills-'));
  const next = random(seed);
  const lost: string[] = [];
  const lose = (words: string): void => {
    lost.push(words);
    told(words);
  };
  let entered = 0;
  let keptCount = 0;
  let saved = 0;
  let unsaved = 0;
  let ofBrowser = 0;
  /** What was shown after each entry of this round, and the last one that was kept. */
  let shown = new Map<number, string>();
  let kept = -1;
  /** The last entry that the page set about, and the last of them that took one back. */
  let intended = -1;
  let undone = -1;

  let context: BrowserContext | undefined;
  let page: Page;
  const open = async (): Promise<void> => {
    if (!context) {
      context = await chromium.launchPersistentContext(profile, {
        executablePath: (await chromiumPath()) as string,
        args: CHROMIUM_ARGS as string[],
        serviceWorkers: 'block',
      });
      await context.exposeFunction('told', (what: string, k: number, words: string) => {
        if (what === 'intends') {
          intended = k;
          if (words === 'undo') undone = k;
        } else if (what === 'entered') {
          shown.set(k, words);
          entered++;
        } else {
          kept = Math.max(kept, k);
          keptCount++;
        }
      });
    }
    page = await context.newPage();
    await page.goto(address);
  };
  /** A file let go of over the page: noise that no picture is found in, of a new content each time. */
  const dropPicture = (round: number): Promise<void> =>
    page.evaluate((r) => {
      const bytes = new Uint8Array(3_000_000).fill(r % 256);
      bytes.set([0xff, 0xd8, 0xff, 0xe0, r % 256, r >> 8]);
      const transfer = new DataTransfer();
      transfer.items.add(new File([bytes], `round-${r}.jpg`, { type: 'image/jpeg' }));
      document
        .querySelector('main')!
        .dispatchEvent(
          new DragEvent('drop', { dataTransfer: transfer, bubbles: true, cancelable: true }),
        );
    }, round);

  try {
    await open();
    await page!.getByRole('button', { name: 'New job', exact: true }).click();
    await page!.waitForFunction(`document.querySelector('.window').dataset.kept === 'true'`);
    for (let round = 0; round < kills; round++) {
      shown = new Map();
      kept = -1;
      intended = undone = -1;
      await page!.locator('.jaws input').first().waitFor();
      shown.set(-1, (await page!.evaluate(SHOWN)) as string);
      const from = round * 1000;
      // Where the page dies, the answer never comes.
      page!.evaluate(ENTER(1 + Math.floor(next() * 2 ** 30), from)).catch(() => {});
      await page!.waitForTimeout(next() * 250);
      if (round % 5 === 4) await dropPicture(round).catch(() => {});
      await page!.waitForTimeout(next() * 60);
      const session = await context!.newCDPSession(page!);
      if (round % 10 === 9) {
        ofBrowser++;
        const gone = context!.waitForEvent('close');
        session.send('Browser.crash').catch(() => {});
        await gone;
        context = undefined;
      } else {
        const gone = page!.waitForEvent('crash');
        session.send('Page.crash').catch(() => {});
        await gone;
        await page!.close();
      }
      await open();
      await page!
        .getByRole('button', { name: /S-0001/ })
        .first()
        .click();
      await page!.evaluate(`location.hash = '#/sheet'`);
      await page!.locator('.jaws input').first().waitFor();
      const now = (await page!.evaluate(SHOWN)) as string;
      // The same may have been shown before: what counts is whether it was shown at or after what was kept last.
      const could = [...shown].filter(([k]) => k >= kept);
      const at = could.findLast(([, words]) => sameAs(words, now))?.[0];
      if (at === undefined && hasLater(now, shown, kept, intended, undone)) saved++;
      else if (at === undefined) lose(`round ${round}: kept "${shown.get(kept)}", found "${now}"`);
      else {
        const last = Math.max(...shown.keys());
        if (last > kept) {
          if (at === last) saved++;
          else unsaved++;
        }
      }
      for (const name of (await page!.evaluate(ORPHANS)) as string[])
        lose(`round ${round}: the picture ${name} that a kept job names`);
      if ((await page!.getByText('cannot be read').count()) > 0)
        lose(`round ${round}: a kept job cannot be read`);
      if (round % 20 === 19) told(`${round + 1} of ${kills}, ${lost.length} lost`);
    }
  } finally {
    await context?.close();
    rmSync(profile, { recursive: true, force: true });
  }
  return { kills, ofBrowser, entered, kept: keptCount, saved, unsaved, lost };
}

/**
 * Whether `now` is what was shown at some time since the last entry that was kept, with later entries in its place: ones that were
 * made while another step stood on the page, or whose word was under way when it died. A figure names its entry (see ENTER).
 * Where one of them took an entry back, something of before is shown.
 */
function hasLater(
  now: string,
  shown: ReadonlyMap<number, string>,
  kept: number,
  intended: number,
  undone: number,
): boolean {
  const known = [...shown];
  if (undone > kept && known.some(([, words]) => figures(words) === figures(now))) return true;
  return known.some(([from, words]) => {
    if (from < kept) return false;
    const before = figures(words).split(' ');
    return figures(now)
      .split(' ')
      .every((figure, f) => {
        const after = (((Math.round((Number(figure) - 138) * 100) - from) % 400) + 400) % 400;
        return figure === before[f] || (figure !== '' && after > 0 && after <= intended - from);
      });
  });
}

/** The two figures of what is shown. */
const figures = (words: string): string => words.split(' ').slice(0, 2).join(' ');

/** A dropped picture is what could be undone last, whatever was entered before it. */
const sameAs = (before: string, now: string): boolean =>
  before === now || (figures(before) === figures(now) && now.endsWith('Undo: picture'));
