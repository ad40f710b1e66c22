import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import ts from 'typescript';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));

/**
 * The store as plain JavaScript, for child processes and worker threads (Node 20 runs no TypeScript there).
 * @returns the address of its index.js
 */
export function buildStore(name: string): URL {
  const out = join(ROOT, '.build', `store-for-${name}`);
  const entry = 'server/store/index.ts';
  const files = new Set([entry, 'server/store/reader-worker.ts', 'server/store/house/house-worker.ts']);
  for (const file of files) {
    const { outputText } = ts.transpileModule(readFileSync(join(ROOT, file), 'utf8'), {
      compilerOptions: {
        module: ts.ModuleKind.ESNext,
        target: ts.ScriptTarget.ES2023,
        verbatimModuleSyntax: true,
        rewriteRelativeImportExtensions: true,
      },
    });
    for (const { fileName } of ts.preProcessFile(outputText).importedFiles)
      if (fileName.startsWith('.')) files.add(join(dirname(file), fileName.replace(/\.js$/, '.ts')));
    const target = join(out, file.replace(/\.ts$/, '.js'));
    mkdirSync(dirname(target), { recursive: true });
    writeFileSync(target, outputText);
  }
  return pathToFileURL(join(out, entry.replace(/\.ts$/, '.js')));
}
