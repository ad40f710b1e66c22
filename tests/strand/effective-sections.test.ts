import { expect, it } from 'vitest';
import { effectiveSections } from '../../server/strand/effective-sections.ts';
import type { MeasuredSection, StatedSection } from '../../server/strand/section.ts';
import { sectionOf } from './section-of.ts';

const { id: _, note: __, origin: ___, ...facts } = sectionOf('blob');
const BLOB: MeasuredSection = { ...facts, kind: 'blob', fromTimeMs: 0, toTimeMs: 0, ordinal: 1 };

const statement = (
  id: number,
  atTimeMs: number,
  verdict: StatedSection['verdict'],
  removed = false,
): StatedSection => ({
  id,
  measuredOrdinal: 1,
  fromMm: 1000,
  toMm: 1010,
  verdict,
  note: '',
  removed,
  atTimeMs,
  about: null,
});

it.each([
  ['the later one', [statement(1, 10, 'good'), statement(2, 20, 'doubtful')], 'doubtful'],
  [
    'the later one, in whatever order they are read',
    [statement(2, 20, 'doubtful'), statement(1, 10, 'good')],
    'doubtful',
  ],
  ['the later one, although its number is lower', [statement(2, 10, 'good'), statement(1, 20, 'doubtful')], 'doubtful'],
  [
    'the one with the higher number, if both have the same time',
    [statement(2, 10, 'good'), statement(1, 10, 'doubtful')],
    'good',
  ],
  ['the one with the higher number, read last', [statement(1, 10, 'doubtful'), statement(2, 10, 'good')], 'good'],
])('of two statements about a section counts %s', (_name, stated, verdict) => {
  expect(effectiveSections([BLOB], stated)).toMatchObject([{ id: 'm1', verdict }]);
});

it('a dismissed section comes back with the next statement', () => {
  expect(effectiveSections([BLOB], [statement(1, 10, 'discard', true)])).toEqual([]);
  expect(effectiveSections([BLOB], [statement(1, 10, 'discard', true), statement(2, 11, 'discard')])).toHaveLength(1);
});
