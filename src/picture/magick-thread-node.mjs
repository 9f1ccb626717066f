// Begins the decoder's thread under Node: plain JavaScript, since a thread does not inherit what reads TypeScript.
import { tsImport } from 'tsx/esm/api';

await tsImport('./magick-thread-node.ts', import.meta.url);
