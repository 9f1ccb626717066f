import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { Page } from 'playwright-core';
import { expect } from 'vitest';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

interface Axe {
  run(options: {
    readonly runOnly?: readonly string[];
  }): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }>;
}

/** What axe-core finds on the page as it stands: by all of its rules, or by those named. */
export async function faults(page: Page, ...rules: readonly string[]): Promise<string[]> {
  if (!(await page.evaluate(() => 'axe' in window))) await page.evaluate(axe);
  return page.evaluate(async (runOnly) => {
    const { violations } = await (window as unknown as { axe: Axe }).axe.run(
      runOnly.length > 0 ? { runOnly } : {},
    );
    return violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html).join(' ')}`);
  }, rules);
}

/**
 * Axe-core finds nothing on paper and on slate, of which only the contrast differs. With SNUGLINE_SHOTS, a folder, the screen is
 * pictured there in three sizes of window, on both.
 */
export async function expectSound(page: Page, screen: string): Promise<void> {
  expect(await faults(page), screen).toEqual([]);
  await page.emulateMedia({ colorScheme: 'dark' });
  expect(await faults(page, 'color-contrast'), `${screen}, on slate`).toEqual([]);
  await page.emulateMedia({ colorScheme: 'light' });
  await picture(page, screen);
}

async function picture(page: Page, screen: string): Promise<void> {
  const folder = process.env.SNUGLINE_SHOTS;
  if (!folder) return;
  const was = page.viewportSize()!;
  for (const [width, height] of [
    [1440, 900],
    [1024, 768],
    [390, 844],
  ] as const) {
    await page.setViewportSize({ width, height });
    for (const colorScheme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme });
      await page.waitForTimeout(200);
      await page.screenshot({ path: `${folder}/${screen}-${width}-${colorScheme}.png` });
    }
  }
  await page.emulateMedia({ colorScheme: 'light' });
  await page.setViewportSize(was);
}
