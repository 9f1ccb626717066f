import wasmUrl from 'opencv-wasm/opencv.wasm?url';
import { create } from 'virtual:opencv-glue';
import type { Vision } from './cv.ts';

let loading: Promise<Vision> | undefined;

/** OpenCV in a module worker. Start it before the picture is chosen: fetching and compiling take a second or two. */
export function loadVision(): Promise<Vision> {
  return (loading ??= load());
}

async function load(): Promise<Vision> {
  const module = await compiled();
  const cv = create({
    instantiateWasm(imports, receive) {
      const instance = new WebAssembly.Instance(module, imports);
      receive(instance, module);
      return instance.exports;
    },
  });
  delete (cv as { then?: unknown }).then;
  return { cv };
}

/**
 * Compiled off this thread. Not as it arrives: a page that is left meanwhile would keep the service worker busy, and a newer
 * version of the program waiting for it.
 */
async function compiled(): Promise<WebAssembly.Module> {
  const answer = await fetch(wasmUrl);
  if (!answer.ok)
    throw new Error(`opencv.wasm could not be loaded: ${answer.status} ${answer.statusText}`);
  return WebAssembly.compile(await answer.arrayBuffer());
}
