import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { initWasm } from '@resvg/resvg-wasm';
import { resolved } from './resolve-svg.ts';

let loading: Promise<void> | undefined;

/** Resolves an SVG, under Node. */
export async function resolveSvg(bytes: Uint8Array): Promise<string> {
  const path = createRequire(import.meta.url).resolve('@resvg/resvg-wasm/index_bg.wasm');
  await (loading ??= readFile(path).then((wasm) => initWasm(wasm)));
  return resolved(bytes);
}
