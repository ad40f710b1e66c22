import type { Periodogram } from './periodogram.ts';

export interface SpectrumPeak {
  /** Cycles per unit of the axis, interpolated between bins. */
  readonly frequency: number;
  readonly period: number;
  /** Half width of the range of frequencies from which it cannot be distinguished. */
  readonly frequencyUncertainty: number;
  /** Of the wave, in the unit of the values: the strand swings by ± this. */
  readonly amplitude: number;
  /** Share of the variance that the peak holds. */
  readonly share: number;
  /** Chance that noise as strong as in its neighbourhood shows such a peak anywhere in the spectrum. */
  readonly falseAlarmProbability: number;
}

/** Peaks less sure than this are left out. */
const FALSE_ALARM_MAX = 0.001;
const PEAKS_MAX = 10;
/** Frequencies on either side from which the noise is estimated. */
const NEIGHBOURS = 50;
/**
 * Degrees of freedom per neighbour in the noise estimate. The median of exponential values varies 1/ln²2 = 2.08 times as
 * much as their mean, and a Hann window correlates neighbours by about a half.
 */
const DEGREES_PER_NEIGHBOUR = 0.32;

/**
 * Finds waves that stand out from their neighbourhood. Noise power is exponentially distributed, so its mean is the median
 * of the neighbours / ln 2, which a single peak hardly changes. The mean is an estimate with ν degrees of freedom, so noise
 * reaches a power P with probability (1 + P/(ν·mean))^(−ν) at one frequency (e^(−P/mean) for an exactly known mean), and
 * 1 − (1 − that)^m at any of m.
 * Noise need not be white.
 */
export function spectrumPeaks(spectrum: Periodogram): readonly SpectrumPeak[] {
  const { power, frequency, resolution } = spectrum;
  const m = power.length;
  const total = power.reduce((sum, p) => sum + p, 0);
  const peaks: SpectrumPeak[] = [];
  if (m < 8 || !(total > 0)) return peaks;
  for (let k = 0; k < m; k++) {
    const p = power[k]!;
    if (p <= (power[k - 1] ?? 0) || p < (power[k + 1] ?? 0)) continue;
    const { noise, degrees } = noiseAround(power, k);
    const one = (1 + p / (noise * degrees)) ** -degrees;
    const falseAlarm = one >= 1 ? 1 : -Math.expm1(m * Math.log1p(-one));
    if (!(falseAlarm <= FALSE_ALARM_MAX)) continue;
    // A wave between two bins: the vertex of the parabola through the logarithms of three bins.
    const left = Math.log(power[k - 1] ?? p / 1e3);
    const right = Math.log(power[k + 1] ?? p / 1e3);
    const middle = Math.log(p);
    const bend = left - 2 * middle + right;
    const shift = bend < 0 && Number.isFinite(bend) ? Math.max(-0.5, Math.min(0.5, (left - right) / (2 * bend))) : 0;
    // A windowed wave spreads over the neighbouring bins; together they hold its power.
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
  return peaks.sort((a, b) => b.share - a.share).slice(0, PEAKS_MAX);
}

function noiseAround(power: Float64Array, k: number): { noise: number; degrees: number } {
  const from = Math.max(0, k - NEIGHBOURS);
  const to = Math.min(power.length, k + NEIGHBOURS + 1);
  // The two bins on either side may contain part of the peak.
  const before = power.subarray(from, Math.max(from, k - 2));
  const behind = power.subarray(Math.min(to, k + 3), to);
  const around = new Float64Array(before.length + behind.length);
  around.set(before);
  around.set(behind, before.length);
  around.sort();
  const middle = around.length >> 1;
  const median = around.length % 2 === 1 ? around[middle]! : (around[middle - 1]! + around[middle]!) / 2;
  return {
    noise: Math.max(median / Math.LN2, Number.MIN_VALUE),
    degrees: Math.max(1, DEGREES_PER_NEIGHBOUR * around.length),
  };
}
