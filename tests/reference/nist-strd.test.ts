import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { autocorrelation } from '../../server/strand/statistics/autocorrelation.ts';
import { quantiles } from '../../server/strand/statistics/quantiles.ts';
import { momentsOf } from '../../server/strand/statistics/weighted-moments.ts';

// NIST Statistical Reference Datasets, univariate summary statistics, https://www.itl.nist.gov/div898/strd/ (public data
// of the United States government). The certified values are read from each file.
interface Certified {
  readonly values: number[];
  readonly mean: number;
  readonly sd: number;
  readonly lag1: number;
}

function read(name: string): Certified {
  const text = readFileSync(new URL(`./data/${name}.dat`, import.meta.url), 'utf8');
  const certified = (label: RegExp): number => Number(label.exec(text)![1]);
  const data = text.slice(text.lastIndexOf('-----') + 5);
  return {
    values: data.split(/\s+/).filter(Boolean).map(Number),
    mean: certified(/Sample Mean[^\d-]*(\S+)/),
    sd: certified(/Sample Standard Deviation \(denom\. = n-1\)[^\d-]*(\S+)/),
    lag1: certified(/Sample Autocorrelation Coefficient \(lag 1\)\s*r\(1\):\s*(\S+)/),
  };
}

/** Digits that agree: −log10 of the relative error. */
function digits(value: number, certified: number): number {
  return value === certified ? 15 : -Math.log10(Math.abs(value - certified) / Math.abs(certified));
}

describe('NIST StRD univariate', () => {
  // The decimals of NumAcc3 and NumAcc4 do not fit a double: even exact arithmetic keeps about 9.5 and 8.2 digits of s.
  const digitsOfSd: Record<string, number> = { NumAcc3: 9, NumAcc4: 8 };
  for (const name of ['NumAcc1', 'NumAcc2', 'NumAcc3', 'NumAcc4', 'Mavro', 'Michelso', 'Lew', 'Lottery']) {
    it(`${name}: mean, standard deviation and lag-1 autocorrelation to at least nine digits`, () => {
      const { values, mean, sd, lag1 } = read(name);
      expect(values.length).toBeGreaterThanOrEqual(3);
      const moments = momentsOf(values);
      expect(digits(moments.mean, mean)).toBeGreaterThanOrEqual(9);
      expect(digits(moments.sd, sd)).toBeGreaterThanOrEqual(digitsOfSd[name] ?? 9);
      expect(digits(autocorrelation(values), lag1)).toBeGreaterThanOrEqual(9);
    });
  }

  it('gives the medians that Math.NET Numerics publishes for them', () => {
    // github.com/mathnet/mathnet-numerics, unit tests of Statistics.Median.
    const median = (name: string): number => quantiles(read(name).values, [0.5])[0]!;
    expect(median('Lottery')).toBe(522.5);
    expect(median('Lew')).toBe(-162);
    expect(median('Mavro')).toBeCloseTo(2.0018, 12);
    expect(median('Michelso')).toBeCloseTo(299.85, 12);
  });
});
