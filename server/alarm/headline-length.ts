/** A long headline has smaller letters, on the page and in the first picture of it. */
export function isLongHeadline(sentence: string): boolean {
  return sentence.length > 60;
}
