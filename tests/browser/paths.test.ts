import { chromium } from 'playwright-core';
import { expect, inject, it } from 'vitest';
// @ts-expect-error plain JavaScript, for it runs before anything is installed
import { CHROMIUM_ARGS, chromiumPath } from '../chromium.mjs';
import { playwrightHands } from '../paths/hands.ts';
import { PATHS } from '../paths/paths.ts';

// The way of an old hand is walked by whole-job.test.ts, which also holds its files against each other.
it.each(['first job', 'phone', 'repair'] as const)('%s', async (name) => {
  const hands = playwrightHands(
    await chromium.launch({
      executablePath: (await chromiumPath()) as string,
      args: CHROMIUM_ARGS as string[],
    }),
  );
  try {
    await expect(PATHS[name](hands, inject('address'))).resolves.toBeUndefined();
  } finally {
    await hands.close();
  }
});
