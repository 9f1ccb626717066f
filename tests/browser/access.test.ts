import { beforeAll, describe, expect, it } from 'vitest';
import { faults } from './faults.ts';
import { go, openApp, openSample, type Desk } from './page.ts';

const STEPS = ['Jobs', 'Sheet', 'Picture', 'Outline', 'Check', 'Pocket', 'Bed', 'Release', 'Board'];

describe('the sample job', () => {
  let desk: Desk;
  beforeAll(async () => {
    desk = await openSample();
  });

  it.each([
    { width: 1440, height: 900, dark: false },
    { width: 1440, height: 900, dark: true },
    { width: 390, height: 844, dark: false },
    { width: 390, height: 844, dark: true },
    // A desk's window of 1440 x 900 at 200 % zoom.
    { width: 720, height: 450, dark: false },
  ])(
    'has no fault that axe-core finds at $width x $height, dark: $dark, and fits the window, on every step',
    async (window) => {
      const { page, foreign, errors } = desk;
      await page.setViewportSize(window);
      await page.emulateMedia({ colorScheme: window.dark ? 'dark' : 'light' });
      for (const step of STEPS) {
        if (window.width < 600) {
          await page.evaluate((name) => (location.hash = `#/${name}`), step.toLowerCase());
        } else await go(page, step);
        await page.waitForFunction((name) => document.title.startsWith(name), step);
        if (step === 'Release')
          await page.getByRole('button', { name: 'Download cut.dxf' }).waitFor({ timeout: 60_000 });
        expect(await faults(page), step).toEqual([]);
        const wide = await page.evaluate(() => document.documentElement.scrollWidth);
        expect(wide, step).toBeLessThanOrEqual(window.width);
        // Presses and fields are large enough for a finger: 44 px one way and no less than 24 the other (WCAG 2.2, 2.5.8).
        const small = await page.evaluate(() =>
          [...document.querySelectorAll<HTMLElement>('main .press, main .jaws, main .cells label')]
            .filter((e) => e.offsetParent !== null)
            .map((e) => ({ e, box: e.getBoundingClientRect() }))
            .filter(({ box }) => box.height < 43.5)
            .map(({ e }) => e.innerText),
        );
        expect(small, step).toEqual([]);
        const targets = await page.evaluate(() =>
          [...document.querySelectorAll<HTMLElement>('button, a, select, summary, label.press')]
            .filter((e) => e.checkVisibility() && getComputedStyle(e).pointerEvents !== 'none')
            .map((e) => ({ e, box: e.getBoundingClientRect() }))
            .filter(({ box }) => box.width > 0 && Math.min(box.width, box.height) < 24)
            // A press whose whole cell is its target (the title block) is as large as the cell.
            .filter(({ e }) => getComputedStyle(e, '::after').position !== 'absolute')
            .map(({ e, box }) => `${e.outerHTML.slice(0, 80)} ${box.width} x ${box.height}`),
        );
        expect(targets, step).toEqual([]);
      }
      expect(foreign).toEqual([]);
      expect(errors).toEqual([]);
    },
  );

  it('says every length in inches once that is chosen, takes either unit, and remembers it', async () => {
    const { page, errors } = desk;
    await page.setViewportSize({ width: 1440, height: 900 });
    await go(page, 'Jobs');
    await page.getByRole('radio', { name: 'inches' }).check();
    const left: string[] = [];
    for (const step of STEPS) {
      await go(page, step);
      await page.waitForFunction((name) => document.title.startsWith(name), step);
      if (step === 'Release')
        await page.getByRole('button', { name: 'Download cut.dxf' }).waitFor({ timeout: 60_000 });
      const lines = await page.evaluate(async () => {
        for (const fold of document.querySelectorAll('details')) fold.open = true;
        await new Promise((done) => setTimeout(done, 300));
        const drawn = [...document.querySelectorAll('svg text')].map((t) => t.textContent);
        const named = [...document.querySelectorAll('[aria-label], [title]')].map(
          (e) => `${e.getAttribute('aria-label')} ${e.getAttribute('title')}`,
        );
        return [...document.body.innerText.split('\n'), ...drawn, ...named];
      });
      left.push(...lines.filter((line) => /\bmm\b/.test(line)).map((line) => `${step}: ${line}`));
    }
    // Riders, lenses and the sample cutter are named by their millimetres.
    const named = /files stay in mm|Rider, mm|: 50 mm$|35 mm focal length|3 mm cutter|, 26 mm$/;
    expect(left.filter((line) => !named.test(line))).toEqual([]);

    // 304.8 mm are 12 in exactly (the inch of 1959).
    await go(page, 'Bed');
    const width = page.getByRole('textbox', { name: /^Bed, width/ });
    for (const typed of ['12', '304,8 mm', '30.48 cm', '12"']) {
      await width.fill(typed);
      await width.press('Enter');
      expect(await width.inputValue()).toBe('12.00');
    }
    await width.fill('300');
    await width.press('Enter');
    await page.getByText(/^The width of the bed: 300\.\d+ in does not lie between/).waitFor();
    await page.getByRole('button', { name: 'in, the unit of lengths: change' }).click();
    await width.press('Escape');
    expect(await width.inputValue()).toBe('304.80');
    expect(errors).toEqual([]);
    await page.getByRole('button', { name: 'mm, the unit of lengths: change' }).click();
    await page.reload({ waitUntil: 'commit' });
    // Back to what the next test file expects.
    await page.getByRole('button', { name: 'in, the unit of lengths: change' }).click();
    await page.getByRole('button', { name: 'mm, the unit of lengths: change' }).waitFor();
  });
});

it('leads by keys alone from the first screen to the figures of the check', async () => {
  const { page, close } = await openApp();
  try {
    const press = async (name: string): Promise<void> => {
      for (let k = 0; k < 60; k++) {
        const focused = await page.evaluate(
          () =>
            document.activeElement?.getAttribute('aria-label') ??
            document.activeElement?.textContent?.trim() ??
            '',
        );
        if (focused.replace(/\s+/g, ' ').startsWith(name)) return page.keyboard.press('Enter');
        await page.keyboard.press('Tab');
      }
      throw new Error(`"${name}" is not reached by Tab`);
    };
    await press('Sample job');
    await page.getByRole('navigation').getByText('3 placed').waitFor({ timeout: 120_000 });
    await press('To the outline');
    await page.waitForFunction(() => document.title.startsWith('Outline'));
    // The picture is zoomed and moved by keys.
    const picture = page.getByRole('application');
    await picture.focus();
    await page.keyboard.press('+');
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('0');
    await press('Check it with calipers');
    await page.waitForFunction(() => document.title.startsWith('Check'));
    const field = page.getByRole('textbox', { name: /^Width: your reading/ });
    await field.focus();
    await page.keyboard.type('80');
    await page.keyboard.press('Enter');
    await page.getByText(/^Width contradicts: the outline is [\d.]+ mm larger/).waitFor();
    // What it asks for is a press away, and its field takes the focus.
    await press('Read again: width');
    await page.waitForFunction(() => document.activeElement?.tagName === 'INPUT');
    await page.keyboard.type('80');
    await page.keyboard.press('Enter');
    await page.getByText(/^You read it more than once\. Look at the thickness/).waitFor();
  } finally {
    await close();
  }
});
