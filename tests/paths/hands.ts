import { spawn, type ChildProcess } from 'node:child_process';
import { createServer } from 'node:net';
import type { AddressInfo } from 'node:net';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Browser, ElementHandle, Page } from 'playwright-core';

/** What stands for a press, a choice or a field by the name that a screen reader would say. */
export type Role = 'button' | 'radio' | 'textbox' | 'summary';

export interface GivenFile {
  readonly name: string;
  readonly type: string;
  readonly bytes: Uint8Array;
}

/**
 * An operator's hands and eyes in any engine. Elements are found by the page itself, so that every engine is asked alike;
 * presses and strokes are the engine's own.
 */
export interface Hands {
  /** A new visit, nothing kept from before, in a window of this size. */
  open(address: string, widthPx: number, heightPx: number): Promise<void>;
  press(role: Role, name: RegExp): Promise<void>;
  /** Types a figure and settles it. */
  type(name: RegExp, figure: string): Promise<void>;
  /** Waits until the page says this; what it matched. */
  see(words: RegExp, waitMs?: number): Promise<string>;
  /** Lets go of files over the page. */
  drop(files: readonly GivenFile[]): Promise<void>;
  /** Chooses files in a file field. */
  choose(name: RegExp, files: readonly GivenFile[]): Promise<void>;
  /** What the program handed out last, as bytes. */
  handedOut(): Promise<Uint8Array>;
  close(): Promise<void>;
}

/** Runs in the page: the first shown element of a role with that name. */
const FIND = `
  const [role, source] = args;
  const wanted = new RegExp(source);
  const SELECTORS = { button: 'button', radio: 'input[type=radio]', textbox: 'input:not([type])', summary: 'summary' };
  const nameOf = (e) => (e.getAttribute('aria-label') || [...(e.labels || [])].map((l) => l.textContent).join(' ') ||
    e.textContent || '').replace(/\\s+/g, ' ').trim();
  const element = [...document.querySelectorAll(SELECTORS[role])].find(
    (e) => !e.disabled && (e.offsetParent || e.closest('label')?.offsetParent) && wanted.test(nameOf(e)));
  if (!element) return null;
  const target = role === 'radio' ? element.closest('label') : element;
  target.scrollIntoView({ block: 'center', inline: 'center' });
  return target;`;
/** Runs in the page: what it says, drawn words and fields' figures too. */
const WORDS = `
  return document.body.innerText + '\\n' + [...document.querySelectorAll('svg text')].map((t) => t.textContent).join('\\n') +
    '\\n' + [...document.querySelectorAll('input:not([type])')].map((i) => i.value).join('\\n');`;
/** Runs in the page: files into a field, or let go over the page. */
const GIVE = `
  const [source, files] = args;
  const transfer = new DataTransfer();
  for (const { name, type, base64 } of files) {
    const bytes = Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
    transfer.items.add(new File([bytes], name, { type }));
  }
  if (source === '') {
    document.querySelector('main').dispatchEvent(
      new DragEvent('drop', { bubbles: true, cancelable: true, dataTransfer: transfer }));
    return true;
  }
  const field = [...document.querySelectorAll('input[type=file]')].find((e) =>
    new RegExp(source).test([...e.labels].map((l) => l.textContent).join(' ').trim()));
  if (!field) return false;
  field.files = transfer.files;
  field.dispatchEvent(new Event('change', { bubbles: true }));
  return true;`;
/** Runs in the page: keeps what is handed to the download, which not every engine lets a test catch. */
const CATCH = `
  const make = URL.createObjectURL.bind(URL);
  URL.createObjectURL = (blob) => { window.handedOut = blob; return make(blob); };`;
const CAUGHT = `
  const bytes = new Uint8Array(await window.handedOut.arrayBuffer());
  let text = '';
  for (let k = 0; k < bytes.length; k += 8192) text += String.fromCharCode(...bytes.subarray(k, k + 8192));
  return btoa(text);`;

/** One engine: how a script of the page is run and an element touched. */
interface Engine {
  open(address: string, widthPx: number, heightPx: number): Promise<void>;
  /** Runs a script body, `args` its arguments; its answer may be a promise. */
  run<T>(body: string, args: readonly unknown[]): Promise<T>;
  /** Presses the element that a script body answers, or types into it; false where it answers none. */
  touch(body: string, args: readonly unknown[], figure?: string): Promise<boolean>;
  close(): Promise<void>;
}

const WAIT_MS = 180_000;

function handsOf(engine: Engine): Hands {
  const until = async <T>(
    what: string,
    ask: () => Promise<T | undefined>,
    ms: number,
  ): Promise<T> => {
    const end = Date.now() + ms;
    for (;;) {
      const answer = await ask();
      if (answer !== undefined) return answer;
      if (Date.now() > end) {
        const words = await engine.run<string>(WORDS, []);
        throw new Error(
          `${what} not within ${ms / 1000} s; the page says: ${words.slice(0, 1500)}`,
        );
      }
      await sleep(150);
    }
  };
  const touch = (role: Role, name: RegExp, figure?: string): Promise<true> =>
    until(
      `${role} ${name}`,
      async () => (await engine.touch(FIND, [role, name.source], figure)) || undefined,
      WAIT_MS,
    );
  const give = (source: string, files: readonly GivenFile[]): Promise<true> => {
    const packed = files.map(({ name, type, bytes }) => ({
      name,
      type,
      base64: Buffer.from(bytes).toString('base64'),
    }));
    return until(
      `field ${source}`,
      async () => (await engine.run<boolean>(GIVE, [source, packed])) || undefined,
      WAIT_MS,
    );
  };
  return {
    open: async (address, widthPx, heightPx) => {
      await engine.open(address, widthPx, heightPx);
      await engine.run(CATCH, []);
    },
    press: async (role, name) => void (await touch(role, name)),
    type: async (name, figure) => void (await touch('textbox', name, figure)),
    see: (words, ms = WAIT_MS) =>
      until(
        `"${words.source}"`,
        async () => words.exec(await engine.run<string>(WORDS, []))?.[0],
        ms,
      ),
    drop: async (files) => void (await give('', files)),
    choose: async (name, files) => void (await give(name.source, files)),
    handedOut: async () => {
      const ready = 'return window.handedOut ? true : false;';
      await until(
        'a file',
        async () => (await engine.run<boolean>(ready, [])) || undefined,
        WAIT_MS,
      );
      return Buffer.from(await engine.run<string>(CAUGHT, []), 'base64');
    },
    close: () => engine.close(),
  };
}

/** Chromium or Firefox, as playwright has them: each visit a context of its own. */
export function playwrightHands(browser: Browser): Hands {
  let page: Page | undefined;
  return pageHands(
    async (address, width, height) => {
      await page?.context().close();
      const context = await browser.newContext({
        viewport: { width, height },
        serviceWorkers: 'block',
      });
      page = await context.newPage();
      await page.goto(address, { waitUntil: 'commit' });
      await page.waitForSelector('main');
      return page;
    },
    () => browser.close(),
  );
}

/** Hands on a page of playwright's, however a visit comes by it. */
export function pageHands(
  visit: (address: string, widthPx: number, heightPx: number) => Promise<Page>,
  close: () => Promise<void>,
): Hands {
  let page: Page | undefined;
  const run = <T>(body: string, args: readonly unknown[]): Promise<T> =>
    page!.evaluate(`(async (args) => {${body}})(${JSON.stringify(args)})`);
  return handsOf({
    open: async (...to) => void (page = await visit(...to)),
    run,
    touch: async (body, args, figure) => {
      const handle = await page!.evaluateHandle(`((args) => {${body}})(${JSON.stringify(args)})`);
      const element = handle.asElement() as ElementHandle<HTMLElement> | null;
      if (!element) return false;
      if (figure === undefined) await element.click();
      else {
        await element.fill(figure);
        await element.press('Enter');
      }
      return true;
    },
    close,
  });
}

const ELEMENT = 'element-6066-11e4-a52e-4f735466cecf';
const ENTER = '\uE007';
const CONTROL_A = '\uE009a\uE009';

/** A WebKit engine through its own driver (W3C WebDriver), in a browser that the driver can start. */
export async function webkitHands(driver: string, miniBrowser: string): Promise<Hands> {
  const port = await freePort();
  const service = spawn('xvfb-run', ['-a', driver, `--port=${port}`, '--host=127.0.0.1'], {
    stdio: 'ignore',
    detached: true,
  });
  const ask = async <T>(method: string, path: string, body?: unknown): Promise<T> => {
    const answer = await fetch(`http://127.0.0.1:${port}${path}`, {
      method,
      ...(body !== undefined && { body: JSON.stringify(body) }),
    });
    const { value } = (await answer.json()) as { value: T & { error?: string; message?: string } };
    if (!answer.ok) throw new Error(`${method} ${path}: ${value.error} ${value.message}`);
    return value;
  };
  await started(ask, service);
  let session = '';
  const end = async (): Promise<void> => {
    if (session) await ask('DELETE', session).catch(() => {});
    session = '';
  };
  const execute = <T>(script: string, args: readonly unknown[]): Promise<T> =>
    ask('POST', `${session}/execute/sync`, { script, args });
  return handsOf({
    open: async (address, width, height) => {
      await end();
      const { sessionId } = await ask<{ sessionId: string }>('POST', '/session', {
        capabilities: {
          alwaysMatch: {
            'webkitgtk:browserOptions': { binary: miniBrowser, args: ['--automation'] },
          },
        },
      });
      session = `/session/${sessionId}`;
      await ask('POST', `${session}/timeouts`, { script: 60_000, pageLoad: 120_000 });
      await ask('POST', `${session}/window/rect`, { width, height });
      await ask('POST', `${session}/url`, { url: address });
    },
    run: <T>(body: string, args: readonly unknown[]) =>
      execute<T>(`const args = arguments[0]; return (async () => {${body}})();`, [args]),
    touch: async (body, args, figure) => {
      const found = await execute<Record<string, string> | null>(
        `const args = arguments[0]; ${body}`,
        [args],
      );
      const id = found?.[ELEMENT];
      if (!id) return false;
      await ask('POST', `${session}/element/${id}/click`, {});
      if (figure !== undefined)
        await ask('POST', `${session}/element/${id}/value`, { text: CONTROL_A + figure + ENTER });
      return true;
    },
    close: async () => {
      await end();
      // The driver runs under a display of its own: both belong to one group of processes.
      if (service.pid) process.kill(-service.pid);
    },
  });
}

async function started(
  ask: (method: string, path: string) => Promise<unknown>,
  service: ChildProcess,
): Promise<void> {
  for (let k = 0; k < 150; k++) {
    if (service.exitCode !== null) break;
    if (
      await ask('GET', '/status').then(
        () => true,
        () => false,
      )
    )
      return;
    await sleep(200);
  }
  throw new Error('the driver of the WebKit engine did not start');
}

const freePort = (): Promise<number> =>
  new Promise((resolve) => {
    const probe = createServer().listen(0, '127.0.0.1', () => {
      const { port } = probe.address() as AddressInfo;
      probe.close(() => resolve(port));
    });
  });
