import { realSpectrum } from './fourier.ts';

export interface Periodogram {
  /** Cycles per unit of the series' axis (1/mm or 1/s), from the first above zero. */
  readonly frequency: Float64Array;
  /** Half the squared amplitude of the wave at each frequency. Its sum over all frequencies is about the variance. */
  readonly power: Float64Array;
  /** Smallest difference of two frequencies that can be distinguished: 1 / length of the series. */
  readonly resolution: number;
  /** Values that were measured. */
  readonly count: number;
}

export type SpectrumWindow = 'none' | 'hann';

/**
 * Periodogram of an even series. The mean is removed, and with `trend` a straight line too. Gaps (NaN) are filled with the
 * mean, which lowers peaks by their share but creates none. A Hann window keeps strong waves from leaking into neighbouring
 * frequencies, but makes peaks two frequencies wide; its loss of power is corrected.
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
    // The negative frequency holds the other half, except for the highest one of an even length.
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
  // The remainder of a flat series is rounding error, not a wave.
  const rounding = 1e-13 * Math.abs(mean);
  for (let i = 0; i < n; i++) {
    const residual = values[i]! - mean - slope * (i - meanAt);
    centred[i] = Math.abs(residual) > rounding ? residual : 0;
  }
  return { centred, count };
}
