import { expect, it } from 'vitest';
import { sectionName, sectionTone } from '../../web/format/names.ts';

it('calls a blob or thin spot in doubt possible until a user says to discard it', () => {
  expect(sectionName({ kind: 'blob', certainty: 'sure', verdict: 'discard' })).toBe('Blob');
  expect(sectionName({ kind: 'blob', certainty: 'inDoubt', verdict: 'doubtful' })).toBe('Possible blob');
  expect(sectionName({ kind: 'blob', certainty: 'inDoubt', verdict: 'discard' })).toBe('Blob');
  expect(sectionName({ kind: 'neck', certainty: 'inDoubt', verdict: 'doubtful' })).toBe('Possible thin spot');
  expect(sectionName({ kind: 'neck', certainty: 'sure', verdict: 'discard' })).toBe('Thin spot');
  expect(sectionName({ kind: 'offTolerance', certainty: 'inDoubt', verdict: 'doubtful' })).toBe('Out of tolerance');
});

it('colours a thin spot as calmly as its alarm, whatever is to be done with it', () => {
  expect(sectionTone({ kind: 'blob', verdict: 'discard' })).toBe('danger');
  expect(sectionTone({ kind: 'blob', verdict: 'doubtful' })).toBe('abnormal');
  expect(sectionTone({ kind: 'neck', verdict: 'discard' })).toBe('abnormal');
  expect(sectionTone({ kind: 'neck', verdict: 'good' })).toBe('calm');
});
