import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import { PROBLEMS } from '../../server/problem/problem.ts';

const HANDBOOK = fileURLToPath(new URL('../../DEVELOPERS.md', import.meta.url));

/** The rows of the table under "Problems": code, status, exit code, meaning, what to do. */
function rows(): string[][] {
  const [, chapter = ''] = readFileSync(HANDBOOK, 'utf8').split(/^## Problems$/m);
  return chapter
    .split(/^## /m)[0]!
    .split('\n')
    .filter((line) => line.startsWith('| `'))
    .map((line) => line.split('|').map((cell) => cell.trim().replaceAll('`', '')));
}

test('the handbook lists every code of the registry and no other, with its status and exit code', () => {
  const listed = rows().map(([, code, status, exit]) => [code, Number(status), Number(exit)]);
  const registered = Object.entries(PROBLEMS).map(([code, { httpStatus, exitCode }]) => [code, httpStatus, exitCode]);
  expect(listed).toEqual(registered);
});

test('the handbook says of every code what it means and what to do', () => {
  for (const [, code, , , meaning, advice] of rows()) {
    expect(meaning?.length, code).toBeGreaterThan(10);
    expect(advice?.length, code).toBeGreaterThan(5);
  }
});
