import { realSpectrum } from './fourier.ts';

export interface Periodogram {
  /** Cycles a unit of the series' axis (1/mm or 1/s), from the first above zero up. */
  readonly frequency: Float64Array;
  /**
   * Half the squared amplitude of the wave at each frequency, in the square of the values' unit: over all frequencies it
   * adds up to about the variance.
   */
  readonly power: Float64Array;
  /** Distance of two frequencies that can be told apart: 1 / length of the series. */
  readonly resolution: number;
  /** Values that were measured. */
  readonly count: number;
}

export type SpectrumWindow = 'none' | 'hann';

/**
 * Periodogram of an even series. The mean is taken off, `trend` takes off a straight line too; gaps (NaN) are filled with
 * the mean, which lowers a peak by their share but makes none. A Hann window keeps a strong wave from spilling over its
 * neighbours at the price of a peak two frequencies wide; its loss of power is put right.
 */
export function periodogram(
  values: ArrayLike<number>,
  step: number,
  options: { readonly window?: SpectrumWindow; readonly trend?: boolean } = {},
): Periodogram {
  if (!(step > 0)) throw new RangeError(`the step of a series must be above zero, not ${step}`);
  const n = values.length;
  const { centred, count } = level(values, options.trend ?? false);
  const window = options.window ?? 'none';
  let gain = n;
  if (window === 'hann') {
    gain = 0;
    for (let i = 0; i < n; i++) {
      const w = 0.5 - 0.5 * Math.cos((2 * Math.PI * i) / n);
      centred[i]! *= w;
      gain += w * w;
    }
  }
  const { re, im } = realSpectrum(centred);
  const bins = Math.floor(n / 2);
  const frequency = new Float64Array(bins);
  const power = new Float64Array(bins);
  for (let k = 1; k <= bins; k++) {
    // The negative frequency holds the other half, but for the highest of an even series, which has none.
    const sides = 2 * k === n ? 1 : 2;
    frequency[k - 1] = k / (n * step);
    power[k - 1] = (sides * (re[k]! ** 2 + im[k]! ** 2)) / (n * gain);
  }
  return { frequency, power, resolution: 1 / (n * step), count };
}

function level(values: ArrayLike<number>, trend: boolean): { centred: Float64Array; count: number } {
  const n = values.length;
  let count = 0;
  let sum = 0;
  let sumAt = 0;
  for (let i = 0; i < n; i++) {
    if (!Number.isFinite(values[i]!)) continue;
    count += 1;
    sum += values[i]!;
    sumAt += i;
  }
  const mean = sum / count;
  const meanAt = sumAt / count;
  let slope = 0;
  if (trend && count > 1) {
    let top = 0;
    let bottom = 0;
    for (let i = 0; i < n; i++) {
      if (!Number.isFinite(values[i]!)) continue;
      top += (i - meanAt) * (values[i]! - mean);
      bottom += (i - meanAt) ** 2;
    }
    slope = bottom > 0 ? top / bottom : 0;
  }
  const centred = new Float64Array(n);
  // What a flat series leaves is rounding, and no wave.
  const rounding = 1e-13 * Math.abs(mean);
  for (let i = 0; i < n; i++) {
    const rest = values[i]! - mean - slope * (i - meanAt);
    centred[i] = Math.abs(rest) > rounding ? rest : 0;
  }
  return { centred, count };
}
