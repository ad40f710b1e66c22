import { numbersBehind } from '../../server/reading/pointed-numbers.ts';

/** A number of an unread line with the word before it, by which it can be found in every line. */
export interface PointableNumber {
  readonly word: string;
  /** As received in the newest line that has it. */
  readonly number: string;
}

/** What the setting takes as a word. */
const WORD = /[^\s\d:=]+/g;

/**
 * The numbers that a user may point at: their words come in at least two of the lines, and once in each.
 * @param lines newest first
 */
export function pointableNumbers(lines: readonly string[]): readonly PointableNumber[] {
  const words = new Set(lines.flatMap((line) => line.match(WORD) ?? []));
  return [...words].flatMap((word) => {
    const found = lines.map((line) => numbersBehind(word, line)).filter((numbers) => numbers.length > 0);
    const [number] = found[0] ?? [];
    return number === undefined || found.length < 2 || found.some((numbers) => numbers.length > 1)
      ? []
      : [{ word, number }];
  });
}
