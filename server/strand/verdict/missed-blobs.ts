import { garwoodInterval } from '../statistics/poisson.ts';

/**
 * Blobs at least 0.03 mm beyond the hotend limit that the detector missed on rough strand, by how many whole readings fit on the part
 * that is beyond (one, two, three or more): the held-out half of `npm run bench -- detection`. On smoother strand it misses fewer.
 */
const MEASURED = [
  { readings: 1, count: 2488, missed: 18 },
  { readings: 2, count: 2400, missed: 0 },
  { readings: 3, count: 13_899, missed: 0 },
] as const;

/** Blobs are 2 to 30 mm long, short ones as often as long ones on a logarithmic scale. Common practice, no source. */
const SHORTEST_MM = 2;
const LONGEST_MM = 30;

/**
 * Largest share of blobs that a gauge with this distance between readings misses, one-sided with 95 % confidence: the measured
 * shares with their bounds, weighted by how often blobs are that long.
 */
export function missedShareAtMost(pitchMm: number): number {
  // A blob on which no whole reading fits can pass unseen, whatever the detector does.
  let share = shareShorterThan(pitchMm);
  for (const { readings, count, missed } of MEASURED) {
    const until = readings === MEASURED.length ? 1 : shareShorterThan((readings + 1) * pitchMm);
    share += (until - shareShorterThan(readings * pitchMm)) * (atMost(missed) / count);
  }
  return Math.min(1, share);
}

/** Largest expected count, one-sided with 95 % confidence (Garwood 1936): 3.0 for a count of zero. */
export function atMost(count: number): number {
  return garwoodInterval(count, 0.9).upper;
}

function shareShorterThan(lengthMm: number): number {
  const share = Math.log(Math.max(SHORTEST_MM, lengthMm) / SHORTEST_MM) / Math.log(LONGEST_MM / SHORTEST_MM);
  return Math.min(1, share);
}
