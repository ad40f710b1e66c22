/** A number of an unread line with the word before it, by which it can be found in every line. */
export interface PointableNumber {
  readonly word: string;
  /** As received in the newest line. */
  readonly number: string;
}

/** As the service finds them (server/reading/pointed-numbers.ts): a word without digits, and its number behind blanks, : or =. */
const NUMBER = /(?<![\p{L}\d_])([^\s\d:=]+)[\s:=]+([-+]?\d+(?:[.,]\d+)?)(?![.,]?\d|[^\s\p{L}%"')/;>\]|},.])/gu;

/**
 * The numbers that a user may point at: their words come in at least two of the lines, and once in each.
 * @param lines newest first
 */
export function pointableNumbers(lines: readonly string[]): readonly PointableNumber[] {
  const found = lines.map((line) => [...line.matchAll(NUMBER)].map(([, word = '', number = '']) => ({ word, number })));
  const count = (numbers: readonly PointableNumber[], word: string) =>
    numbers.filter((one) => one.word === word).length;
  const seen = new Map<string, PointableNumber>();
  for (const one of found.flat()) if (!seen.has(one.word)) seen.set(one.word, one);
  return [...seen.values()].filter(({ word }) => {
    const counts = found.map((numbers) => count(numbers, word)).filter((n) => n > 0);
    return counts.length >= 2 && counts.every((n) => n === 1);
  });
}
