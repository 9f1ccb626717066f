import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { Plugin } from 'vite';

const NAME = 'virtual:opencv-glue';

/**
 * OpenCV's emscripten glue as an ES module: its loader looks for Node, a script tag or a synchronous
 * request beside the worker, none of which a bundled module worker has.
 */
export function opencvGlue(): Plugin {
  return {
    name: 'opencv-glue',
    resolveId: (id) => (id === NAME ? `\0${NAME}` : undefined),
    load(id) {
      if (id !== `\0${NAME}`) return undefined;
      const text = readFileSync(
        createRequire(import.meta.url).resolve('opencv-wasm/opencv.js'),
        'utf8',
      );
      const start = text.indexOf('(function(root, factory)');
      if (start < 0)
        throw new Error('opencv-wasm: its wrapper has changed; look at vite.opencv.ts');
      return `export function create(Module) {
        const opencvWasmBinaryFile = 'opencv.wasm';
        const module = { exports: {} }, exports = module.exports;
        const define = undefined, require = undefined, process = undefined;
        ${text.slice(start)}
        return module.exports;
      }`;
    },
  };
}
