import { rmSync } from 'node:fs';
import { build, preview } from 'vite';
import type { TestProject } from 'vitest/node';

declare module 'vitest' {
  interface ProvidedContext {
    /** Where the built app is served. */
    readonly address: string;
    /** The folder of the built app that is served. */
    readonly built: string;
  }
}

/** Builds the app once for all page tests (unless `npm test` has just done so) and serves it under a sub-path, as a web server would. */
export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const built = process.env.SNUGLINE_BUILT;
  const outDir = built ?? new URL('../../.cache/page', import.meta.url).pathname;
  if (!built) {
    rmSync(outDir, { recursive: true, force: true });
    await build({ logLevel: 'warn', build: { outDir, emptyOutDir: true } });
  }
  const server = await preview({
    logLevel: 'warn',
    base: '/bench/snugline/',
    build: { outDir },
    preview: { host: '127.0.0.1', port: 0, strictPort: false },
  });
  project.provide('address', server.resolvedUrls!.local[0]!);
  project.provide('built', outDir);
  return () => server.close();
}
