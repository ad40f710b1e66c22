import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { GLOSSARY, type TermName } from '../../web/terms/glossary.ts';

const ROOT = new URL('../../', import.meta.url);
const read = (path: string) => readFileSync(new URL(path, ROOT), 'utf8');
const names = Object.keys(GLOSSARY) as TermName[];

test('explains each word in one or two short sentences', () => {
  for (const text of Object.values(GLOSSARY)) {
    const sentences = text.split(/(?<=\.) /);
    expect([text, sentences.length]).toStrictEqual([text, Math.min(2, sentences.length)]);
    for (const sentence of sentences)
      expect([sentence, sentence.split(' ').length <= 30]).toStrictEqual([sentence, true]);
  }
});

test('has no word that no page explains', () => {
  const sources = readdirSync(new URL('web/', ROOT), { recursive: true })
    .map(String)
    .filter((path) => /\.tsx?$/.test(path) && !path.endsWith('glossary.ts'))
    .map((path) => read(`web/${path}`))
    .join('\n');
  expect(names.filter((name) => !new RegExp(`(of="|[Tt]erm="|: ')${name}['"]`).test(sources))).toStrictEqual([]);
});

test('says the same as the glossary of the handbook', () => {
  const rows = read('DEVELOPERS.md').matchAll(/^\| ([a-z ]+?) +\| (.+?) +\|$/gm);
  const compared: string[] = [];
  for (const [, word = '', text] of rows) {
    const name = word.replace(/ (\w)/g, (_, letter: string) => letter.toUpperCase()) as TermName;
    if (!names.includes(name)) continue;
    compared.push(word);
    expect(text).toBe(GLOSSARY[name]);
  }
  expect(compared).toStrictEqual(['coil', 'hotend limit', 'smallest feedable']);
});
