import { describe, expect, it } from 'vitest';
import type { RunFigures } from '../../../server/strand/comparison/run-value.ts';
import { valueOfRun } from '../../../server/strand/comparison/run-value.ts';
import { stretchesOfStrand } from '../../../server/strand/comparison/stretch-sums.ts';
import type { BatchEstimate } from '../../../server/strand/statistics/batch-estimate.ts';
import { lengthWeights } from '../../../server/strand/statistics/length-weights.ts';
import { widenForWander } from '../../../server/strand/statistics/wandering-spread.ts';
import { momentsOf } from '../../../server/strand/statistics/weighted-moments.ts';
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

describe('the error of a standard deviation, widened for wander', () => {
  const SURE: BatchEstimate = {
    value: Number.NEGATIVE_INFINITY,
    standardError: 0,
    degreesOfFreedom: 1e9,
  } as BatchEstimate;
  /** Mean over many series of batch means with spread 1 about 5. */
  function widened(count: number, phi: number) {
    const all = Array.from({ length: 100 }, (_, seed) => {
      const means = ar1(count, phi, seed + 1).map((z) => 5 + z);
      return widenForWander(SURE, means, momentsOf(means).sd);
    }).filter((one) => one !== null);
    const mean = (of: (one: BatchEstimate) => number) => all.reduce((sum, one) => sum + of(one), 0) / all.length;
    return {
      share: all.length / 100,
      degreesOfFreedom: mean((one) => one.degreesOfFreedom),
      standardError: mean((one) => one.standardError),
      value: mean((one) => one.value),
    };
  }

  // For independent normal values s² has n − 1 degrees of freedom, and ln s an error of 1/√(2(n − 1)).
  it('is that of chi-square for independent values, at most a third larger', () => {
    const { share, degreesOfFreedom, standardError, value } = widened(100, 0);
    expect(share).toBe(1);
    expect(degreesOfFreedom).toBeGreaterThan(66);
    expect(degreesOfFreedom).toBeLessThan(99);
    expect(standardError).toBeGreaterThan(1 / Math.sqrt(2 * 99));
    expect(standardError).toBeLessThan(1.33 / Math.sqrt(2 * 99));
    expect(value).toBeGreaterThan(0);
    expect(value).toBeLessThan(0.03);
  });

  // A first-order autoregression has n(1 − φ²)/(1 + φ²) independent squares, and E(s²) = σ²(1 − (1 + φ)/(1 − φ)/n).
  it('follows the formulas for a first-order autoregression', () => {
    const { degreesOfFreedom, standardError, value } = widened(400, 0.8);
    const independent = (400 * (1 - 0.64)) / (1 + 0.64);
    expect(degreesOfFreedom / independent).toBeGreaterThan(0.7);
    expect(degreesOfFreedom / independent).toBeLessThan(1.05);
    expect(standardError * Math.sqrt(2 * independent)).toBeGreaterThan(0.95);
    expect(standardError * Math.sqrt(2 * independent)).toBeLessThan(1.25);
    // The true one is ln 1 = 0.
    expect(Math.abs(value)).toBeLessThan(0.02);
  });

  it('is not given where hardly two pieces of strand are independent, and never lowers what the jackknife found', () => {
    expect(widened(12, 0.98).share).toBeLessThan(0.5);
    const found = { ...SURE, value: 3, standardError: 2, degreesOfFreedom: 2 };
    expect(widenForWander(found, ar1(100, 0, 1), 1)).toEqual(found);
  });
});
