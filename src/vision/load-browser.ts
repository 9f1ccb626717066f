import wasmUrl from 'opencv-wasm/opencv.wasm?url';
import { create } from 'virtual:opencv-glue';
import type { Vision } from './cv.ts';

let loading: Promise<Vision> | undefined;

/** OpenCV in a module worker. Start it before the picture is chosen: fetching and compiling take a second or two. */
export function loadVision(): Promise<Vision> {
  return (loading ??= load());
}

async function load(): Promise<Vision> {
  const answer = await fetch(wasmUrl);
  if (!answer.ok)
    throw new Error(`opencv.wasm could not be loaded: ${answer.status} ${answer.statusText}`);
  const cv = create({ wasmBinary: await answer.arrayBuffer() });
  delete (cv as { then?: unknown }).then;
  return { cv };
}
