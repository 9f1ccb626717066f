// Begins one thread of a batch: plain JavaScript, since a thread does not inherit what reads TypeScript.
import { tsImport } from 'tsx/esm/api';

await tsImport('./batch-thread.ts', import.meta.url);
