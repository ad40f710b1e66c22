/** The longer a headline, the smaller its letters, on the page and in the first picture of it. */
export type HeadlineLength = 'short' | 'long' | 'longest';

export function headlineLength(sentence: string): HeadlineLength {
  if (sentence.length <= 60) return 'short';
  return sentence.length <= 105 ? 'long' : 'longest';
}
