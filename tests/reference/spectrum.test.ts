import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { fisherG, fisherProbability } from '../../server/strand/spectrum/fisher-g.ts';
import { lombScargle } from '../../server/strand/spectrum/lomb-scargle.ts';
import { periodogram, type SpectrumWindow } from '../../server/strand/spectrum/periodogram.ts';
import { spectrumPeaks } from '../../server/strand/spectrum/spectrum-peaks.ts';
import { autocorrelation } from '../../server/strand/statistics/autocorrelation.ts';
import { chiSquareQuantile, normalCdf, normalQuantile } from '../../server/strand/statistics/distributions.ts';

/** Made once with SciPy, statsmodels and mpmath by data/make-reference-values.py; the versions stand in the file. */
interface Reference {
  lombScargle: Record<'at' | 'values' | 'frequency' | 'power' | 'share', number[]>;
  even: Record<string, { values: number[] } & Record<SpectrumWindow, { frequency: number[]; power: number[] }>>;
  chiSquareQuantile: [number, number, number][];
  normalQuantile: [number, number][];
  normalCdf: [number, number][];
  fisher: [number, number, number][];
  autocorrelation: number[];
  sunspots: { firstYear: number; values: number[] };
}
const reference: Reference = JSON.parse(readFileSync(new URL('./data/reference-values.json', import.meta.url), 'utf8'));

function expectClose(value: number, expected: number, share: number, floor = 0): void {
  expect(Math.abs(value - expected)).toBeLessThanOrEqual(Math.abs(expected) * share + floor);
}

describe('Lomb–Scargle', () => {
  it('agrees with scipy.signal.lombscargle, normalised and not', () => {
    const { at, values, frequency, power, share } = reference.lombScargle;
    const own = lombScargle(at, values, frequency);
    const mean = values.reduce((sum, v) => sum + v, 0) / values.length;
    const sumSquares = values.reduce((sum, v) => sum + (v - mean) ** 2, 0);
    frequency.forEach((_, k) => {
      expectClose(own.share[k]!, share[k]!, 1e-9, 1e-14);
      // Scargle's own power is half of the sum of squares that the wave explains.
      expectClose((own.share[k]! * sumSquares) / 2, power[k]!, 1e-9, 1e-14);
    });
  });

  it('finds A²N/4 at the frequency of a pure wave', () => {
    // scipy.signal.lombscargle documentation: a harmonic of amplitude A sampled N times has a peak of A²N/4.
    let state = 42;
    const random = (): number => {
      state = (state * 1_664_525 + 1_013_904_223) % 4_294_967_296;
      return state / 4_294_967_296;
    };
    const at = Array.from({ length: 2000 }, () => random() * 200).sort((a, b) => a - b);
    const values = at.map((x) => 2 * Math.cos(1.3 * x));
    const frequency = Array.from({ length: 101 }, (_, i) => (1.25 + i * 0.001) / (2 * Math.PI));
    const { share } = lombScargle(at, values, frequency);
    const best = share.indexOf(Math.max(...share));
    expect(frequency[best]! * 2 * Math.PI).toBeCloseTo(1.3, 2);
    const sumSquares = values.reduce((sum, v) => sum + v * v, 0);
    expectClose((share[best]! * sumSquares) / 2, (4 * 2000) / 4, 0.03);
  });
});

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
    expect(fisherG(power).probability).toBeLessThan(1e-6);
    const [peak] = spectrumPeaks(periodogram(values, 1, { window: 'hann' }), { neighbours: 60, mostFalseAlarm: 0.05 });
    expect(peak!.period).toBeGreaterThan(10.5);
    expect(peak!.period).toBeLessThan(11.5);
  });
});

describe("Fisher's test", () => {
  it('agrees with its exact sum, taken to eighty digits', () => {
    for (const [g, m, probability] of reference.fisher) {
      // Where noise reaches g nearly always, the limit law stands in; it need only say so.
      expectClose(fisherProbability(g, m), probability, probability > 0.9 ? 0.02 : 1e-8);
    }
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
  it('agrees with statsmodels at five lags', () => {
    reference.autocorrelation.forEach((rho, lag) => {
      expectClose(autocorrelation(reference.lombScargle.values, lag), rho, 1e-9, 1e-14);
    });
  });
});
