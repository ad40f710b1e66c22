import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { brotliCompressSync, gzipSync } from 'node:zlib';
import { defineConfig, type Plugin } from 'vite';

/** Compresses code and styles once, so that the service need not do it for each phone. Browsers offer br only over HTTPS. */
function compressedCopies(): Plugin {
  let folder = '';
  return {
    name: 'compressed-copies',
    apply: 'build',
    configResolved: ({ root, build }) => {
      folder = join(root, build.outDir, 'assets');
    },
    closeBundle: () => {
      for (const name of readdirSync(folder).filter((one) => /\.(js|css)$/.test(one))) {
        const bytes = readFileSync(join(folder, name));
        writeFileSync(join(folder, `${name}.br`), brotliCompressSync(bytes));
        writeFileSync(join(folder, `${name}.gz`), gzipSync(bytes, { level: 9 }));
      }
    },
  };
}

export default defineConfig({
  root: fileURLToPath(new URL('.', import.meta.url)),
  plugins: [compressedCopies()],
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
