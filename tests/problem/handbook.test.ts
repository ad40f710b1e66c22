import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import { PROBLEMS } from '../../server/problem/problem.ts';

const HANDBOOK = fileURLToPath(new URL('../../DEVELOPERS.md', import.meta.url));

/** The rows of the table under "Problems": code, status, exit code, meaning, what to do. */
function rows(): string[][] {
  const [, rest = ''] = readFileSync(HANDBOOK, 'utf8').split(/^## Problems$/m);
  const [chapter = ''] = rest.split(/^## /m);
  return chapter
    .split('\n')
    .filter((line) => line.startsWith('| `'))
    .map((line) => line.split('|').map((cell) => cell.trim().replaceAll('`', '')));
}

test('the handbook lists exactly the codes of the registry, with status and exit code', () => {
  const listed = rows().map(([, code, status, exit]) => [code, Number(status), Number(exit)]);
  const registered = Object.entries(PROBLEMS).map(([code, { httpStatus, exitCode }]) => [code, httpStatus, exitCode]);
  expect(listed).toEqual(registered);
});

test('the handbook says what each code means and what to do', () => {
  for (const [, code, , , meaning, advice] of rows()) {
    expect(meaning?.length, code).toBeGreaterThan(10);
    expect(advice?.length, code).toBeGreaterThan(5);
  }
});

test('every file and folder that the handbook names exists', () => {
  const root = fileURLToPath(new URL('../..', import.meta.url));
  const files = execFileSync('git', ['ls-files'], { cwd: root, encoding: 'utf8' }).split('\n');
  const text = readFileSync(HANDBOOK, 'utf8');
  const named = [...text.matchAll(/`([\w./-]+(?:\.(?:ts|tsx|css|md|cjs|sh)|\/))`/g)].map(([, path = '']) => path);
  const missing = named.filter((path) => {
    if (path.startsWith('.build') || path.startsWith('/')) return false;
    return !files.some((file) =>
      path.endsWith('/') ? `/${file}`.includes(`/${path}`) : `/${file}`.endsWith(`/${path}`),
    );
  });
  expect(named.length).toBeGreaterThan(60);
  expect(missing).toEqual([]);
});
