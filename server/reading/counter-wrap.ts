/**
 * Bits of the counters that sketches use. A signed counter wraps at the same step as an unsigned one, only its values differ.
 * Some interpreters on boards keep 29 or 30 bits of their clock (common practice, no source).
 */
const NUMBER_BITS = [8, 16, 32];
const CLOCK_BITS = [16, 29, 30, 32];

/** Number of values of a line number that went back from `before` to `now`, if it wrapped; Infinity = it cannot have. */
export function numberModulus(before: number, now: number): number {
  return modulusOf(NUMBER_BITS, before, now);
}

/** The same for a device clock, in its own counts. */
export function clockModulus(before: number, now: number): number {
  return modulusOf(CLOCK_BITS, before, now);
}

function modulusOf(bits: readonly number[], before: number, now: number): number {
  const least = now < 0 ? 2 * before : before;
  for (const each of bits) if (least < 2 ** each) return 2 ** each;
  return Number.POSITIVE_INFINITY;
}
