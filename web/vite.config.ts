import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vite';

export default defineConfig({
  root: fileURLToPath(new URL('.', import.meta.url)),
  build: {
    outDir: '../.build/web',
    emptyOutDir: true,
    license: { fileName: 'licences-of-bundled-packages.md' },
    target: 'es2022',
    // The first versions with light-dark() in style sheets (2024). Older ones would show the page without its colours.
    cssTarget: ['chrome123', 'edge123', 'firefox120', 'safari17.5'],
    // The service's policy forbids inline scripts, and modern browsers preload modules without a polyfill.
    modulePreload: { polyfill: false },
    assetsInlineLimit: 0,
  },
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  server: {
    host: '127.0.0.1',
    proxy: {
      '/api': process.env.STRANDWARD_SERVICE ?? 'http://127.0.0.1:7700',
      '/live': { target: process.env.STRANDWARD_SERVICE ?? 'http://127.0.0.1:7700', ws: true },
    },
  },
});
