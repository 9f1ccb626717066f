import { initWasm } from '@resvg/resvg-wasm';
import wasmUrl from '@resvg/resvg-wasm/index_bg.wasm?url';
import { resolved } from './resolve-svg.ts';

let loading: Promise<void> | undefined;

/** Resolves an SVG, in a page or a module worker. */
export async function resolveSvg(bytes: Uint8Array): Promise<string> {
  await (loading ??= initWasm(fetch(wasmUrl)));
  return resolved(bytes);
}
