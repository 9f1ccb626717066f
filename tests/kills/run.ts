// `npm run kills [-- --kills N --seed S]`: see kills.ts. Ends with an error when anything that was kept is lost.
import { parseArgs } from 'node:util';
import { build, preview } from 'vite';
import { campaign } from './kills.ts';

const { values } = parseArgs({
  options: { kills: { type: 'string' }, seed: { type: 'string' } },
});
const kills = Number(values.kills ?? 200);
const seed = Number(values.seed ?? 1);
const outDir = new URL('../../.cache/kills', import.meta.url).pathname;
await build({ logLevel: 'error', build: { outDir, emptyOutDir: true } });
const server = await preview({
  logLevel: 'warn',
  build: { outDir },
  preview: { host: '127.0.0.1', port: 0, strictPort: false },
});
const f = await campaign(server.resolvedUrls!.local[0]!, kills, seed, console.log);
await server.close();
console.log(
  `killed ${f.kills} times (${f.ofBrowser} times the whole browser): ${f.entered} entries, ${f.kept} told to be kept, ${f.lost.length} of these lost; ` +
    `of the last entries that were not told yet ${f.saved} were there, ${f.unsaved} were not`,
);
process.exit(f.lost.length > 0 ? 1 : 0);
