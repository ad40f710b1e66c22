import { mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
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
  for (const file of ['store', 'monitor', 'problem', 'heat'].flatMap((room) => sourcesIn(`server/${room}`))) {
    const { outputText } = ts.transpileModule(readFileSync(join(ROOT, file), 'utf8'), {
      compilerOptions: {
        module: ts.ModuleKind.ESNext,
        target: ts.ScriptTarget.ES2023,
        verbatimModuleSyntax: true,
        rewriteRelativeImportExtensions: true,
      },
    });
    const target = join(out, file.replace(/\.ts$/, '.js'));
    mkdirSync(dirname(target), { recursive: true });
    writeFileSync(target, outputText);
  }
  return pathToFileURL(join(out, 'server/store/index.js'));
}

function sourcesIn(folder: string): string[] {
  return readdirSync(join(ROOT, folder)).flatMap((name) => {
    const path = join(folder, name);
    if (statSync(join(ROOT, path)).isDirectory()) return sourcesIn(path);
    return path.endsWith('.ts') ? [path] : [];
  });
}
