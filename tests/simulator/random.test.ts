import { describe, expect, it } from 'vitest';
import { Random, splitMix64, Wander } from '../../simulator/model/random.ts';
import { mean, standardDeviation } from './readings.ts';

describe('the random numbers', () => {
  it('are the reference sequence of xoshiro128**', () => {
    // Source: test "reference" of the crate rand_xoshiro (xoshiro128starstar.rs), made with Blackman and Vigna's
    // xoshiro128starstar.c, version 1.1, from the state 1, 2, 3, 4.
    const random = new Random([1, 2, 3, 4]);
    const expected = [
      11520, 0, 5927040, 70819200, 2031721883, 1637235492, 1287239034, 3734860849, 3729100597, 4258142804,
    ];
    expect(expected.map(() => random.uint32())).toEqual(expected);
  });

  it('are seeded by the reference sequence of SplitMix64', () => {
    // Source: test "reference" of the crate rand_xoshiro (splitmix64.rs), made with Vigna's splitmix64.c.
    const source = splitMix64(1477776061723855037n);
    const expected = [
      1985237415132408290n,
      2979275885539914483n,
      13511426838097143398n,
      8488337342461049707n,
      15141737807933549159n,
    ];
    expect(expected.map(() => source.next().value)).toEqual(expected);
  });

  it('have normal deviates with mean 0, deviation 1, and 68.27 % within one deviation', () => {
    const random = Random.stream(7, 'normal');
    const values = Array.from({ length: 100_000 }, () => random.gaussian());
    expect(Math.abs(mean(values))).toBeLessThan(0.015);
    expect(standardDeviation(values)).toBeCloseTo(1, 2);
    // Share within one standard deviation: erf(1/√2) = 0.6827, any table of the normal distribution.
    const within = values.filter((value) => Math.abs(value) < 1).length / values.length;
    expect(within).toBeCloseTo(0.6827, 2);
  });

  it('wander with the given deviation and correlation time', () => {
    const wander = new Wander(Random.stream(3, 'wander'), 2, 0.1);
    const values = Array.from({ length: 200_000 }, () => wander.step());
    expect(standardDeviation(values)).toBeCloseTo(1, 1);
    // Autocorrelation after one correlation time: e^−1 = 0.3679, by definition of the process.
    const products = values.slice(20).map((value, i) => value * (values[i] ?? Number.NaN));
    expect(mean(products)).toBeCloseTo(Math.exp(-1), 1);
  });

  it('have a separate stream for each part', () => {
    const first = Random.stream(1, 'gauge');
    const second = Random.stream(1, 'feed');
    const draws = Array.from({ length: 8 }, () => [first.uint32(), second.uint32()]);
    expect(draws.every(([a, b]) => a !== b)).toBe(true);
  });
});
