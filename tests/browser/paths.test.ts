import { chromium } from 'playwright-core';
import { expect, inject, it } from 'vitest';
// @ts-expect-error plain JavaScript, for it runs before anything is installed
import { CHROMIUM_ARGS, chromiumPath } from '../chromium.mjs';
import { playwrightHands } from '../paths/hands.ts';
import { PATHS } from '../paths/paths.ts';

// The others are walked by whole-job.test.ts and mend.test.ts, and in every engine by `npm run engines`.
it.each(['phone'] as const)('%s', async (name) => {
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
