import { expect, it } from 'vitest';
import { sectionName } from '../../web/format/names.ts';

it('calls a blob in doubt possible until a user says to discard it', () => {
  expect(sectionName({ kind: 'blob', certainty: 'sure', verdict: 'discard' })).toBe('Blob');
  expect(sectionName({ kind: 'blob', certainty: 'inDoubt', verdict: 'doubtful' })).toBe('Possible blob');
  expect(sectionName({ kind: 'blob', certainty: 'inDoubt', verdict: 'discard' })).toBe('Blob');
  expect(sectionName({ kind: 'neck', certainty: 'inDoubt', verdict: 'doubtful' })).toBe('Thin spot');
});
