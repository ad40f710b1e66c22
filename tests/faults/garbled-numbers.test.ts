import { expect, it } from 'vitest';
import { LostLines } from '../../server/reading/line-sequence.ts';

it('does not count a garbled line number as lost lines', () => {
  const lines = new LostLines();
  let lost = 0;
  for (const number of [1, 2, 3, 140_000_000_000, 140_000_000_001, 5, 6, 9, 2 ** 32 - 9, 2 ** 32 - 8]) {
    lines.next(number);
    lost += lines.lost;
  }
  // Only 7 and 8.
  expect(lost).toBe(2);
});
