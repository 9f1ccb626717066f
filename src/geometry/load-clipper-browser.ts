import wasmUrl from 'clipper2-wasm/dist/es/clipper2z.wasm?url';
import load from 'clipper2-wasm';
import { createClipper, type Clipper } from './clipper.ts';

let loading: Promise<Clipper> | undefined;

/** The clipper in a page or a module worker; loads once. */
export function loadClipper(): Promise<Clipper> {
  return (loading ??= load({ locateFile: () => wasmUrl }).then(createClipper));
}
