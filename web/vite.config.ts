import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { brotliCompressSync, gzipSync } from 'node:zlib';
import { createServer, defineConfig, type Plugin } from 'vite';

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

interface Frame {
  readonly page: string;
  readonly html: string;
  readonly asks: readonly string[];
}

/**
 * Makes the first picture independent of scripts and further files: styles are part of the page, and frames.json holds the
 * frame of each page, and the files of its code and the first answers, which the browser can fetch at once (see
 * server/api/page.ts).
 */
function firstPicture(): Plugin {
  return {
    name: 'first-picture',
    apply: 'build',
    writeBundle: async ({ dir = '' }, bundle) => {
      const page = join(dir, 'index.html');
      const html = readFileSync(page, 'utf8')
        .replace(
          /<link rel="stylesheet"[^>]*href="\/([^"]+)"[^>]*>/,
          // The switched-off link tells parts that are fetched later that these styles are here: else each fetches them again.
          (_, file: string) =>
            `<style>${readFileSync(join(dir, file), 'utf8')}</style><link rel="stylesheet" href="/${file}" disabled>`,
        )
        // The frame can be painted without code: that must not compete with it for a slow line.
        .replaceAll(/<script type="module"|<link rel="modulepreload"/g, '$& fetchpriority="low"');
      writeFileSync(page, html);
      const server = await createServer({
        configFile: false,
        root: dir,
        appType: 'custom',
        logLevel: 'error',
        server: { middlewareMode: true, hmr: false, ws: false },
        optimizeDeps: { noDiscovery: true },
        oxc: JSX,
      });
      const { frames } = (await server.ssrLoadModule(fileURLToPath(new URL('frame/frames.tsx', import.meta.url)))) as {
        frames: () => Record<string, Frame>;
      };
      const filesOf = (name: string) => {
        const chunk = Object.values(bundle).find(
          (one) => one.type === 'chunk' && one.facadeModuleId?.endsWith(`/${name}-page.tsx`),
        );
        if (chunk?.type !== 'chunk') throw new TypeError(`The page ${name} has no chunk`);
        const code = [chunk.fileName, ...chunk.imports].filter((file) => !html.includes(file));
        return [...code, ...(chunk.viteMetadata?.importedCss ?? [])].map((file) => `/${file}`);
      };
      const framed = Object.entries(frames()).map(([path, { page: name, html: frame, asks }]) => [
        path,
        { html: frame, files: filesOf(name), asks },
      ]);
      writeFileSync(join(dir, 'frames.json'), JSON.stringify(Object.fromEntries(framed)));
      await server.close();
    },
  };
}

/**
 * The charts have no axes or legend of uPlot, which yet makes a number format and asks for the time zone while it is loaded.
 * The first use of Intl takes longer than drawing the chart.
 */
function plotsWithoutIntl(): Plugin {
  const unused = [
    ["new Intl.NumberFormat(domEnv ? nav.language : 'en-US')", '{ format: String }'],
    ['new Intl.DateTimeFormat().resolvedOptions().timeZone;\n', "'';\n"],
  ] as const;
  return {
    name: 'plots-without-intl',
    apply: 'build',
    transform: (code, id) => {
      if (!id.endsWith('/uPlot.esm.js')) return null;
      for (const [text] of unused) if (!code.includes(text)) throw new TypeError(`uPlot has changed: no ${text}`);
      return { code: unused.reduce((left, [text, other]) => left.replace(text, other), code), map: null };
    },
  };
}

const JSX = { jsx: { runtime: 'automatic', importSource: 'preact' } } as const;

export default defineConfig({
  root: fileURLToPath(new URL('.', import.meta.url)),
  plugins: [plotsWithoutIntl(), firstPicture(), compressedCopies()],
  build: {
    outDir: '../.build/web',
    emptyOutDir: true,
    license: { fileName: 'licences-of-bundled-packages.md' },
    target: 'es2022',
    // The first versions with light-dark() in style sheets (2024). Older ones would show the page without its colours.
    cssTarget: ['chrome123', 'edge123', 'firefox120', 'safari17.5'],
    // The service's policy forbids inline scripts, and modern browsers preload modules without a polyfill.
    modulePreload: { polyfill: false },
    // A file of a few hundred bytes costs a phone a whole round trip.
    rolldownOptions: {
      output: {
        codeSplitting: {
          groups: [
            { name: 'frame', tags: ['$initial'], priority: 2 },
            { name: 'shared', minShareCount: 3, test: /\.tsx?$/, priority: 1 },
          ],
        },
      },
    },
    assetsInlineLimit: 0,
  },
  oxc: JSX,
  server: {
    host: '127.0.0.1',
    proxy: {
      '/api': process.env.STRANDWARD_SERVICE ?? 'http://127.0.0.1:7700',
      '/live': { target: process.env.STRANDWARD_SERVICE ?? 'http://127.0.0.1:7700', ws: true },
    },
  },
});
