import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, expect, it } from 'vitest';

const SAMPLE = fileURLToPath(new URL('sample.js', import.meta.url));
let folder: string;
beforeAll(() => {
  folder = mkdtempSync(path.join(tmpdir(), 'strandward-sample-'));
});
afterAll(() => rmSync(folder, { recursive: true }));

const functionOf = (name: string) => `export function ${name}(a: number) {\n  return a + 1;\n}\n`;

function file(name: string, text: string): string {
  const at = path.join(folder, name);
  writeFileSync(at, text);
  return at;
}

const sample = (lines: number, seed: string, ...files: string[]): string[] =>
  execFileSync(process.execPath, [SAMPLE, String(lines), seed, ...files], { encoding: 'utf8' })
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => path.basename(line));

it('takes every function and member of a class where all fit, but no types and nothing that runs once', () => {
  const mixed = file(
    'mixed.ts',
    `const TWO = 1 + 1;\ninterface Adder {\n  add(a: number): number;\n}\n${functionOf('one')}class Sum {\n  #sum = TWO;\n  add() {\n    this.#sum++;\n  }\n}\n`,
  );
  expect(sample(100, 'x', mixed).sort()).toEqual(['mixed.ts:10-12', 'mixed.ts:5-7', 'mixed.ts:9-9']);
});

it('takes the same share of each file, others with another seed', () => {
  const files = [
    file('large.ts', Array.from({ length: 20 }, (_, i) => functionOf(`f${i}`)).join('')),
    ...Array.from({ length: 8 }, (_, i) => file(`small${i}.ts`, functionOf('one'))),
  ];
  const of = (taken: string[], name: string) => taken.filter((one) => one.startsWith(name)).length;
  const quarter = sample(21, '0.1.0', ...files);
  expect([of(quarter, 'large'), of(quarter, 'small')]).toEqual([5, 2]);
  expect(sample(21, '0.1.0', ...files)).toEqual(quarter);
  expect(sample(21, '0.2.0', ...files)).not.toEqual(quarter);
});
