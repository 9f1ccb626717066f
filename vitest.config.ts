import { defineConfig } from 'vitest/config';
import { svelte } from '@sveltejs/vite-plugin-svelte';
import { handbook } from './vite.handbook.ts';

/** Page tests need a browser and a server; everything else runs under Node alone. */
const PAGES = 'tests/browser/**/*.test.ts';

export default defineConfig({
  plugins: [svelte(), handbook()],
  test: {
    passWithNoTests: false,
    projects: [
      {
        extends: true,
        test: {
          name: 'node',
          environment: 'node',
          include: ['tests/**/*.test.ts'],
          exclude: [PAGES],
          setupFiles: ['tests/support/seed.ts'],
          testTimeout: 60_000,
          // Files share what they import, and what the engine has learnt to run fast.
          isolate: false,
          // Left to itself vitest keeps one processor free.
          maxWorkers: '100%',
          sequence: { groupOrder: 0 },
        },
      },
      {
        extends: true,
        test: {
          name: 'page',
          environment: 'node',
          include: [PAGES],
          globalSetup: ['tests/browser/setup.ts'],
          testTimeout: 180_000,
          hookTimeout: 180_000,
          fileParallelism: false,
          // One browser for all (tests/browser/page.ts).
          isolate: false,
          sequence: { groupOrder: 1 },
        },
      },
    ],
  },
});
