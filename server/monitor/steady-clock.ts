/**
 * UTC milliseconds that never step: the wall clock as it stood when the clock was made, carried on by the machine's
 * monotonic clock. A correction of the wall clock (NTP, a person) moves no reading and no length.
 */
export type Clock = () => number;

export function steadyClock(): Clock {
  const anchorMs = Date.now() - performance.now();
  return () => anchorMs + performance.now();
}
