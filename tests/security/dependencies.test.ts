/** What is installed and bundled is exactly what the lock file names, and no package runs a script that is not allowed. */
import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';

interface Locked {
  readonly version?: string;
  readonly resolved?: string;
  readonly integrity?: string;
  readonly hasInstallScript?: boolean;
}
const read = (name: string) => JSON.parse(readFileSync(new URL(`../../${name}`, import.meta.url), 'utf8'));
const { dependencies, devDependencies, allowScripts } = read('package.json') as Record<string, Record<string, string>>;
const locked = Object.entries(read('package-lock.json').packages as Record<string, Locked>).filter(
  ([path]) => path !== '',
);

it('every package comes from the registry, with its digest', () => {
  expect(locked.length).toBeGreaterThan(100);
  const odd = locked.filter(
    ([, { resolved = 'https://registry.npmjs.org/', integrity = '' }]) =>
      !resolved.startsWith('https://registry.npmjs.org/') || !integrity.startsWith('sha512-'),
  );
  expect(odd).toEqual([]);
});

it('every direct dependency has one exact version', () => {
  const inexact = Object.entries({ ...dependencies, ...devDependencies }).filter(
    ([, version]) => !/^(?:npm:[\w@/-]+@)?\d+\.\d+\.\d+[\w.-]*$/.test(version),
  );
  expect(inexact).toEqual([]);
});

it('an install script is allowed or forbidden by name, and none is forgotten', () => {
  const scripts = locked
    .filter(([, one]) => one.hasInstallScript)
    .map(([path]) => path.replace(/^.*node_modules\//, ''));
  expect([...new Set(scripts)].sort()).toEqual(Object.keys(allowScripts ?? {}).sort());
});
