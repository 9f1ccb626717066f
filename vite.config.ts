import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';
import { opencvGlue } from './vite.opencv.ts';

export default defineConfig({
  base: './',
  plugins: [svelte(), opencvGlue()],
  worker: { format: 'es', plugins: () => [opencvGlue()] },
  optimizeDeps: { exclude: ['opencv-wasm', 'clipper2-wasm'], include: ['comlink'] },
  resolve: { alias: { jimp: new URL('./src/outline/no-jimp.ts', import.meta.url).pathname } },
  build: { target: 'es2022', assetsInlineLimit: 0 },
});
