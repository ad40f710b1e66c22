/**
 * The first index in [`from`, `to`) from which on `isReached` holds; `to` if it holds for none. It must not hold for any index
 * before one where it does not. Binary search.
 */
export function firstIndex(from: number, to: number, isReached: (index: number) => boolean): number {
  let low = from;
  let high = to;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if (isReached(middle)) high = middle;
    else low = middle + 1;
  }
  return low;
}
