import { describe, expect, it } from 'vitest';
import type { RunFigures } from '../../../server/strand/comparison/run-value.ts';
import { valueOfRun } from '../../../server/strand/comparison/run-value.ts';
import { stretchesOfStrand } from '../../../server/strand/comparison/stretch-sums.ts';
import { lengthWeights } from '../../../server/strand/statistics/length-weights.ts';
import { IS_LONG_CHECK } from '../../long-check.ts';
import { ar1 } from './noise.ts';

const LIMITS = { nominalMm: 1.75, toleranceMm: 0.05 };
const SD_MM = 0.015;
const PITCH_MM = 250;

/** A run of this length whose diameter is correlated over a length. */
function runOf(seed: number, correlationM: number, lengthM: number): RunFigures {
  const noise = ar1((1000 * lengthM) / PITCH_MM, Math.exp(-PITCH_MM / 1000 / correlationM), seed);
  const diameterMm = noise.map((z) => LIMITS.nominalMm + SD_MM * z);
  const positionMm = diameterMm.map((_, i) => i * PITCH_MM);
  const strand = { positionMm, diameterMm, weightsMm: lengthWeights(positionMm), axesMm: null };
  return {
    runId: 1,
    nominalMm: LIMITS.nominalMm,
    stretches: stretchesOfStrand(strand, 1000 * lengthM, LIMITS, { discards: [], lumpsAtMm: [] }),
    keptMm: 1000 * lengthM,
    longestCoilMm: 1000 * lengthM,
    heat: null,
    alarms: { callsAt: [], hours: 1 },
  };
}

function counts(correlationM: number, lengthM: number, times = 300) {
  let [given, holding] = [0, 0];
  for (let seed = 1; seed <= times; seed++) {
    const { interval } = valueOfRun(runOf(seed, correlationM, lengthM), 'sd');
    if (interval === null) continue;
    given += 1;
    if (interval.lower <= SD_MM && interval.upper >= SD_MM) holding += 1;
  }
  return { given: given / times, holding: holding / given };
}

describe.skipIf(!IS_LONG_CHECK)('the interval of the standard deviation of a run', () => {
  // 95 % of 300 is 285 ± 4: less than 92.5 % would come once in forty times.
  it.each([1, 10, 30])('holds the true one in 95 of 100 runs of 330 m correlated over %i m', (correlationM) => {
    expect(counts(correlationM, 330).holding).toBeGreaterThan(0.925);
  });

  it('holds it nearly as often where the run is only eight times as long as its correlation', () => {
    // Of about 450 intervals, 95 % are 428 ± 5.
    const { given, holding } = counts(40, 330, 800);
    expect(given).toBeGreaterThan(0.5);
    expect(holding).toBeGreaterThan(0.943);
  });

  it('is given for nearly all runs that are far longer than their correlation', () => {
    expect(counts(5, 330).given).toBeGreaterThan(0.99);
  });

  it('is mostly left out where the run is only a few times as long as its correlation', () => {
    expect(counts(60, 200).given).toBeLessThan(0.4);
  });

  it('still gives the standard deviation itself where no interval can be given', () => {
    const values = Array.from({ length: 50 }, (_, i) => valueOfRun(runOf(i + 1, 60, 200), 'sd'));
    const without = values.filter(({ interval }) => interval === null);
    expect(without.length).toBeGreaterThan(0);
    for (const { value, uncertain } of without) {
      expect(value).toBeGreaterThan(0);
      expect(uncertain).toBeNull();
    }
  });
});
