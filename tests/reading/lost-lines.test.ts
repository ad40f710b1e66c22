import { expect, it } from 'vitest';
import { LostLines } from '../../server/reading/line-sequence.ts';

const lostOf = (numbers: readonly number[]) => {
  const lines = new LostLines();
  return numbers.map((number) => {
    lines.next(number);
    return lines.lost;
  });
};

it('counts lost lines by the jumps of their number', () => {
  expect(lostOf([5, 6, 7, 9, 10, 14])).toEqual([0, 0, 0, 1, 0, 3]);
});

it('takes the usual step of a board that numbers its cycles and prints some of them', () => {
  expect(lostOf([0, 2, 4, 6, 10, 12])).toEqual([0, 0, 0, 0, 1, 0]);
  // The first step was a loss.
  expect(lostOf([0, 3, 4, 5, 7])).toEqual([0, 0, 0, 0, 1]);
});
