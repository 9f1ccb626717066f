import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';
import { VitePWA } from 'vite-plugin-pwa';
import { handbook } from './vite.handbook.ts';
import { opencvGlue } from './vite.opencv.ts';

/** The service worker keeps the whole program, so that it starts and works without a network. */
const offline = VitePWA({
  // A newer version waits until the operator starts it (src/ui/offline.svelte.ts).
  registerType: 'prompt',
  injectRegister: false,
  workbox: {
    globPatterns: ['**/*.{html,js,css,wasm,woff2,ttf,svg,png,jpg,json}'],
    maximumFileSizeToCacheInBytes: 32e6,
    inlineWorkboxRuntime: true,
    cleanupOutdatedCaches: true,
    clientsClaim: true,
    sourcemap: false,
  },
  manifest: {
    name: 'Snugline',
    short_name: 'Snugline',
    description: 'A photograph becomes a pocket that fits, at true scale, on your own machine.',
    id: './',
    start_url: './',
    scope: './',
    display: 'standalone',
    background_color: '#f1f4f0',
    theme_color: '#f1f4f0',
    categories: ['productivity', 'utilities'],
    icons: [
      { src: 'icon-192.png', sizes: '192x192', type: 'image/png' },
      { src: 'icon-512.png', sizes: '512x512', type: 'image/png' },
      { src: 'icon-maskable-512.png', sizes: '512x512', type: 'image/png', purpose: 'maskable' },
    ],
  },
});

export default defineConfig({
  base: './',
  plugins: [svelte(), opencvGlue(), handbook(), offline],
  worker: { format: 'es', plugins: () => [opencvGlue()] },
  optimizeDeps: { exclude: ['opencv-wasm', 'clipper2-wasm'], include: ['comlink'] },
  resolve: {
    alias: Object.fromEntries(
      ['jimp', 'html2canvas', 'dompurify', 'canvg'].map((name) => [
        name,
        new URL('./src/base/left-out.ts', import.meta.url).pathname,
      ]),
    ),
  },
  build: { target: 'es2022', assetsInlineLimit: 0 },
});
