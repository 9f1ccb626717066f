import { createRequire } from 'node:module';
import type { Vision } from './cv.ts';

let loaded: Vision | undefined;

/** OpenCV under Node. Loading takes about half a second and happens once. */
export function loadVision(): Vision {
  if (loaded) return loaded;
  const events = ['uncaughtException', 'unhandledRejection'] as const;
  const before = events.map((event) => process.listeners(event as 'uncaughtException'));
  const { cv } = createRequire(import.meta.url)('opencv-wasm') as Vision;
  delete (cv as { then?: unknown }).then;
  // Its listeners would turn any later rejection into an abort that hides the real error.
  events.forEach((event, k) => {
    for (const listener of process.listeners(event as 'uncaughtException')) {
      if (!before[k]!.includes(listener)) process.removeListener(event, listener);
    }
  });
  return (loaded = { cv });
}
