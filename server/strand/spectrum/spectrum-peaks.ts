import { quantiles } from '../statistics/quantiles.ts';
import type { Periodogram } from './periodogram.ts';

export interface SpectrumPeak {
  /** Cycles a unit of the axis, between two bins where the peak lies so. */
  readonly frequency: number;
  readonly period: number;
  /** Half width of the frequencies that it cannot be told from. */
  readonly frequencyUncertainty: number;
  /** Of the wave, in the unit of the values: the strand swings by ± this. */
  readonly amplitude: number;
  /** Share of the variance that the peak holds. */
  readonly share: number;
  /** Chance that noise of its neighbourhood's strength shows such a peak anywhere in the spectrum. */
  readonly falseAlarmProbability: number;
}

export interface PeakOptions {
  /** Peaks less sure than this are left out; default 0.001. */
  readonly mostFalseAlarm?: number;
  readonly mostPeaks?: number;
  /** Frequencies on either side that tell the noise; default 25. */
  readonly neighbours?: number;
}

/**
 * Finds waves that stand out of their neighbourhood. Noise power is exponentially distributed, so its mean is the median
 * of the neighbours / ln 2, which a peak among them hardly moves; the chance of a power P is then e^(−P/mean) at one
 * frequency and 1 − (1 − e^(−P/mean))^m somewhere among m. Unlike Fisher's test it does not take noise for white.
 */
export function spectrumPeaks(spectrum: Periodogram, options: PeakOptions = {}): readonly SpectrumPeak[] {
  const { power, frequency, resolution } = spectrum;
  const m = power.length;
  const neighbours = options.neighbours ?? 25;
  const total = power.reduce((sum, p) => sum + p, 0);
  const peaks: SpectrumPeak[] = [];
  if (m < 8 || !(total > 0)) return peaks;
  for (let k = 0; k < m; k++) {
    const p = power[k]!;
    if (p <= (power[k - 1] ?? 0) || p < (power[k + 1] ?? 0)) continue;
    const noise = noiseAround(power, k, neighbours);
    const one = Math.exp(-p / noise);
    const falseAlarm = one >= 1 ? 1 : -Math.expm1(m * Math.log1p(-one));
    if (!(falseAlarm <= (options.mostFalseAlarm ?? 0.001))) continue;
    // A wave between two bins: the vertex of the parabola through the logarithms of three bins.
    const left = Math.log(power[k - 1] ?? p / 1e3);
    const right = Math.log(power[k + 1] ?? p / 1e3);
    const middle = Math.log(p);
    const bend = left - 2 * middle + right;
    const shift = bend < 0 && Number.isFinite(bend) ? Math.max(-0.5, Math.min(0.5, (left - right) / (2 * bend))) : 0;
    // A windowed wave spreads over the bins beside it; together they hold its power.
    const held = (power[k - 1] ?? 0) + p + (power[k + 1] ?? 0) - (k > 0 && k < m - 1 ? 2 : 1) * noise;
    const at = frequency[k]! + shift * resolution;
    peaks.push({
      frequency: at,
      period: 1 / at,
      frequencyUncertainty: resolution / 2,
      amplitude: Math.sqrt(2 * Math.max(p, held)),
      share: Math.min(1, Math.max(p, held) / total),
      falseAlarmProbability: falseAlarm,
    });
  }
  return peaks.sort((a, b) => b.share - a.share).slice(0, options.mostPeaks ?? 10);
}

function noiseAround(power: Float64Array, k: number, neighbours: number): number {
  const around: number[] = [];
  const from = Math.max(0, k - neighbours);
  const to = Math.min(power.length - 1, k + neighbours);
  // The two bins beside the peak may hold a part of it.
  for (let i = from; i <= to; i++) if (Math.abs(i - k) > 2) around.push(power[i]!);
  const [median] = quantiles(around, [0.5]);
  return Math.max(median! / Math.LN2, Number.MIN_VALUE);
}
