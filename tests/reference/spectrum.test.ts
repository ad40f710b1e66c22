import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { chiSquareQuantile, normalCdf, normalQuantile } from '../../server/probability/distributions.ts';
import { decimate, lowPassTaps } from '../../server/strand/spectrum/low-pass.ts';
import { periodogram, type SpectrumWindow } from '../../server/strand/spectrum/periodogram.ts';
import { spectrumPeaks } from '../../server/strand/spectrum/spectrum-peaks.ts';
import { autocorrelation } from '../../server/strand/statistics/autocorrelation.ts';

/** Made once with SciPy and statsmodels by data/make-reference-values.py; their versions are in the file. */
interface Reference {
  lombScargle: Record<'at' | 'values' | 'frequency' | 'power' | 'share', number[]>;
  even: Record<string, { values: number[] } & Record<SpectrumWindow, { frequency: number[]; power: number[] }>>;
  chiSquareQuantile: [number, number, number][];
  normalQuantile: [number, number][];
  normalCdf: [number, number][];
  autocorrelation: number[];
  lowPass: { factor: number; taps: number[]; values: number[]; filtered: number[] };
  sunspots: { firstYear: number; values: number[] };
}
const reference: Reference = JSON.parse(readFileSync(new URL('./data/reference-values.json', import.meta.url), 'utf8'));

function expectClose(value: number, expected: number, share: number, floor = 0): void {
  expect(Math.abs(value - expected)).toBeLessThanOrEqual(Math.abs(expected) * share + floor);
}

describe('periodogram', () => {
  for (const n of ['64', '97', '100']) {
    for (const window of ['none', 'hann'] as const) {
      it(`agrees with scipy.signal.periodogram for ${n} values, window ${window}`, () => {
        const { values, ...windows } = reference.even[n]!;
        const expected = windows[window];
        const own = periodogram(values, 1 / 2.5, { window });
        expect(own.frequency.length).toBe(expected.frequency.length);
        const largest = Math.max(...expected.power);
        expected.power.forEach((power, k) => {
          expectClose(own.frequency[k]!, expected.frequency[k]!, 1e-12);
          expectClose(own.power[k]!, power, 1e-9, largest * 1e-13);
        });
      });
    }
  }

  it('finds the sunspot cycle of 11.04 years', () => {
    // Yearly sunspot numbers 1700–2008, dataset `sunspots` of statsmodels (public domain,
    // https://statsmodels.org/stable/datasets/generated/sunspots.html).
    const { values } = reference.sunspots;
    expect(values.length).toBe(309);
    expect(values.reduce((sum, v) => sum + v, 0)).toBeCloseTo(15_373.4, 6);
    const { power, frequency } = periodogram(values, 1);
    const best = power.indexOf(Math.max(...power));
    expect(best + 1).toBe(28);
    expect(1 / frequency[best]!).toBeCloseTo(11.0357, 4);
    const order = Array.from(power.keys()).sort((a, b) => power[b]! - power[a]!);
    expect(order.slice(0, 4).map((k) => k + 1)).toEqual([28, 31, 29, 3]);
    // 1700–1988, the period of R's sunspot.year: 11.1154 years.
    const earlier = periodogram(values.slice(0, 289), 1);
    expect(1 / earlier.frequency[earlier.power.indexOf(Math.max(...earlier.power))]!).toBeCloseTo(11.1154, 4);
    const [peak] = spectrumPeaks(periodogram(values, 1, { window: 'hann' }));
    expect(peak?.period).toBeGreaterThan(10.5);
    expect(peak?.period).toBeLessThan(11.5);
  });
});

describe('low-pass filter', () => {
  it('agrees with scipy.signal.firwin and convolution', () => {
    const { factor, taps, values, filtered } = reference.lowPass;
    const own = lowPassTaps(factor);
    expect(own.length).toBe(taps.length);
    taps.forEach((tap, i) => {
      expectClose(own[i]!, tap, 1e-9, 1e-15);
    });
    const decimated = decimate(Float64Array.from(values), factor);
    expect(decimated.length).toBe(filtered.length);
    filtered.forEach((value, i) => {
      expectClose(decimated[i]!, value, 1e-9);
    });
  });

  it('passes what the new rate can hold, and damps by 80 dB what would fold back', () => {
    // Nyquist 1928: a rate of 1 sample a cell holds waves of two cells and longer.
    const swing = (periodCells: number) => {
      const fine = Float64Array.from({ length: 8000 }, (_, i) => Math.sin((2 * Math.PI * i) / (4 * periodCells)));
      const kept = decimate(fine, 4).subarray(100, 1900);
      return Math.sqrt((2 * kept.reduce((sum, x) => sum + x * x, 0)) / kept.length);
    };
    expect(swing(2.5)).toBeGreaterThan(0.999);
    for (const periodCells of [1.66, 1.4, 1.03, 0.7, 0.51]) expect(swing(periodCells)).toBeLessThan(1.2e-4);
  });
});

describe('distributions', () => {
  it('agree with SciPy', () => {
    for (const [p, degrees, x] of reference.chiSquareQuantile) expectClose(chiSquareQuantile(p, degrees), x, 1e-9);
    for (const [p, z] of reference.normalQuantile) expectClose(normalQuantile(p), z, 1e-9);
    for (const [z, p] of reference.normalCdf) expectClose(normalCdf(z), p, 1e-10);
  });
});

describe('autocorrelation', () => {
  it('agrees with statsmodels', () => {
    expectClose(autocorrelation(reference.lombScargle.values), reference.autocorrelation[1]!, 1e-9);
  });
});
