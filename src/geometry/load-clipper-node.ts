import load from 'clipper2-wasm';
import { createClipper, type Clipper } from './clipper.ts';

let loading: Promise<Clipper> | undefined;

/** The clipper under Node; loads once. */
export function loadClipper(): Promise<Clipper> {
  return (loading ??= load().then(createClipper));
}
