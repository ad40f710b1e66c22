import { fileURLToPath } from 'node:url';
import { defineConfig, type Plugin } from 'vite';

const at = (path: string) => fileURLToPath(new URL(path, import.meta.url));

/** One character beyond Latin-1, and the engine keeps the whole text of a bundle with two bytes a character: 3 MB more. */
const latinOnly: Plugin = {
  name: 'latin-only',
  generateBundle(_, bundle) {
    for (const file of Object.values(bundle)) {
      if (file.type === 'chunk')
        file.code = file.code.replace(
          /[^\0-\xff]/g,
          (unit) => `\\u${unit.charCodeAt(0).toString(16).padStart(4, '0')}`,
        );
    }
  },
};

/**
 * The service as few files instead of a thousand: a start reads them all, and on an SD card that is most of its time.
 * They take the place of what the compiler wrote for the same entries; every other module stays next to them, for the
 * tests and the benches.
 */
export default defineConfig({
  root: at('.'),
  plugins: [latinOnly],
  build: {
    ssr: true,
    outDir: at('../.build/server'),
    emptyOutDir: false,
    target: 'node20',
    sourcemap: true,
    // What is bundled comes without its package, so its licence must come along.
    license: { fileName: 'licences-of-bundled-packages.md' },
    rolldownOptions: {
      // A worker is looked up next to the module that starts it; in the bundle all are in one folder.
      input: {
        main: at('main.ts'),
        'reader-worker': at('store/reader-worker.ts'),
        'maintenance-worker': at('store/maintenance/maintenance-worker.ts'),
        'analysis-worker': at('monitor/analysis/analysis-worker.ts'),
        'recording-worker': at('recording/recording-worker.ts'),
        'encoding-worker': at('api/export/encoding-worker.ts'),
        'event-loop-worker': at('worker/event-loop-worker.ts'),
        'key-worker': at('api/key-worker.ts'),
      },
      output: {
        entryFileNames: '[name].js',
        chunkFileNames: 'shared-[name].js',
        // The engine keeps the text: a third of it is comments and blanks. Names stay, so that a trace can be read.
        minify: { compress: false, mangle: false, codegen: { removeWhitespace: true } },
      },
    },
  },
  // Native addons are found by their place on the disk, and the logger starts its own files.
  ssr: { noExternal: true, external: ['better-sqlite3', 'serialport', 'pino'] },
});
