import { garwoodInterval } from '../statistics/poisson.ts';

/** Blobs on which so many whole readings fit, beyond the limit; from three on together. */
interface Counted {
  readonly readings: 1 | 2 | 3;
  readonly count: number;
  readonly missed: number;
}

/**
 * Blobs that the detector missed, by the noise of the gauge. The first row: at least 0.03 mm beyond the hotend limit, on rough
 * strand, which the held-out half of `npm run bench -- detection` counts. On smoother strand it misses fewer. The others: by
 * exactly so much, in both halves of `npm run bench -- claims`. With more noise than the last one allows, the strand counts as not
 * measured.
 */
const MEASURED: readonly { readonly noiseMm: number; readonly counted: readonly Counted[] }[] = [
  {
    noiseMm: 0.02,
    counted: [
      { readings: 1, count: 2488, missed: 18 },
      { readings: 2, count: 2400, missed: 0 },
      { readings: 3, count: 13_899, missed: 0 },
    ],
  },
  {
    noiseMm: 0.03,
    counted: [
      { readings: 1, count: 1600, missed: 24 },
      { readings: 2, count: 1599, missed: 4 },
      { readings: 3, count: 1599, missed: 0 },
    ],
  },
  {
    noiseMm: Number.POSITIVE_INFINITY,
    counted: [
      { readings: 1, count: 1274, missed: 76 },
      { readings: 2, count: 1262, missed: 22 },
      { readings: 3, count: 1241, missed: 9 },
    ],
  },
];

const countedWith = (noiseMm: number) => MEASURED.find((row) => !(noiseMm > row.noiseMm))!.counted;
const shareAtMost = ({ count, missed }: Counted): number => atMost(missed) / count;

/** Blobs are 2 to 30 mm long, short ones as often as long ones on a logarithmic scale. Common practice, no source. */
const SHORTEST_MM = 2;
const LONGEST_MM = 30;

/**
 * Largest share of blobs that a gauge with this distance between readings misses, one-sided with 95 % confidence: the measured
 * shares with their bounds, weighted by how often blobs are that long.
 *
 * @param noiseMm standard deviation of its readings; null = not known, taken as usual
 */
export function missedShareAtMost(pitchMm: number, noiseMm: number | null): number {
  // A blob on which no whole reading fits can pass unseen, whatever the detector does.
  let share = shareShorterThan(pitchMm);
  for (const counted of countedWith(noiseMm ?? 0)) {
    const { readings } = counted;
    const until = readings === 3 ? 1 : shareShorterThan((readings + 1) * pitchMm);
    share += (until - shareShorterThan(readings * pitchMm)) * shareAtMost(counted);
  }
  return Math.min(1, share);
}

/**
 * Of blobs that only three readings see, the largest share that a gauge with so much noise misses; null = it is no noisier than
 * usual, and hardly misses one.
 */
export function missedByNoiseAtMost(noiseMm: number): number | null {
  if (!(noiseMm > MEASURED[0]!.noiseMm)) return null;
  return shareAtMost(countedWith(noiseMm).find(({ readings }) => readings === 3)!);
}

/** Largest expected count, one-sided with 95 % confidence (Garwood 1936): 3.0 for a count of zero. */
export function atMost(count: number): number {
  return garwoodInterval(count, 0.9).upper;
}

function shareShorterThan(lengthMm: number): number {
  const share = Math.log(Math.max(SHORTEST_MM, lengthMm) / SHORTEST_MM) / Math.log(LONGEST_MM / SHORTEST_MM);
  return Math.min(1, share);
}
