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
  /** Chance that noise as strong and as steep as in its neighbourhood shows such a peak anywhere in the spectrum. */
  readonly falseAlarmProbability: number;
}

/** Peaks less sure than this are left out. */
const FALSE_ALARM_MAX = 0.001;
const PEAKS_MAX = 10;
/** Fewer periods in the series are a wander. */
const FEWEST_PERIODS = 4;
/** The noise follows from frequencies within this share on either side, but at least and at most so many. */
const NEIGHBOURS = { share: 0.7, least: 25, most: 50 };
/** Frequencies on either side that may contain part of the peak: three bins of a windowed wave. */
const OWN_BINS = 2;
/** The lowest frequency mixes with the trend that was removed. */
const FIRST_BIN = 1;
/** Peaks closer than this are the same: a windowed wave is two bins wide on either side. */
const SAME_BINS = 3;
/** The logarithm of an exponentially distributed power has this mean below that of its mean, and this variance. */
const EULER = 0.577_215_664_9;
const LOG_VARIANCE = Math.PI ** 2 / 6;
/** A Hann window correlates the logarithms of neighbouring powers, by 0.4 with the next and 0.02 with the one after. */
const CORRELATED = 1.85;
/** Other peaks in the neighbourhood count as noise of e² times the mean, which noise exceeds once in 1600 bins. */
const CLIP = 2;
/** Local maxima lower than e^this times the typical power stand out of no noise. */
const NOT_WORTH_A_FIT = 1.2;

/**
 * Finds waves that stand out from the noise around them, which need not be white: its level is taken from a straight line
 * through the logarithms of power and frequency, so it may fall with any slope, as in a random walk (Vaughan 2005, Astron.
 * Astrophys. 431). The line is an estimate with ν degrees of freedom, so noise reaches a power P with probability
 * (1 + P/(ν·noise))^(−ν) at one frequency, and 1 − (1 − that)^m at any of m.
 */
export function spectrumPeaks(spectrum: Periodogram): readonly SpectrumPeak[] {
  const { power, frequency, resolution } = spectrum;
  const m = power.length;
  const total = power.reduce((sum, p) => sum + p, 0);
  if (m < 2 * NEIGHBOURS.least || !(total > 0)) return [];
  const least = total * 1e-24;
  const logs = power.map((p) => Math.log(Math.max(p, least)));
  const peaks: SpectrumPeak[] = [];
  for (let k = FEWEST_PERIODS - 1; k < m; k++) {
    const p = power[k]!;
    if (p <= power[k - 1]! || p < (power[k + 1] ?? 0)) continue;
    const noise = noiseAt(logs, k);
    if (noise === null) continue;
    const one = (1 + p / (noise.mean * noise.degrees)) ** -noise.degrees;
    const falseAlarm = one >= 1 ? 1 : -Math.expm1(m * Math.log1p(-one));
    if (!(falseAlarm <= FALSE_ALARM_MAX)) continue;
    // A wave between two bins: the vertex of the parabola through the logarithms of three bins.
    const [left, middle, right] = [logs[k - 1]!, logs[k]!, logs[k + 1] ?? Math.log(p / 1e3)];
    const bend = left - 2 * middle + right;
    const shift = bend < 0 ? Math.max(-0.5, Math.min(0.5, (left - right) / (2 * bend))) : 0;
    // A windowed wave spreads over the neighbouring bins; together they hold its power.
    const held = power[k - 1]! + p + (power[k + 1] ?? 0) - (k < m - 1 ? 2 : 1) * noise.mean;
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
  return withoutRepeats(peaks, () => SAME_BINS * resolution).slice(0, PEAKS_MAX);
}

/** Strongest first, without those closer to a stronger one than `reach` of it. */
export function withoutRepeats<Peak extends SpectrumPeak>(
  peaks: readonly Peak[],
  reach: (peak: Peak) => number,
): readonly Peak[] {
  const kept: Peak[] = [];
  for (const peak of peaks.toSorted((a, b) => b.share - a.share))
    if (!kept.some((other) => Math.abs(other.frequency - peak.frequency) <= reach(other))) kept.push(peak);
  return kept;
}

/** Mean power of the noise at a bin and its degrees of freedom; null = the bin is no higher than its neighbours. */
function noiseAt(logs: Float64Array, k: number): { readonly mean: number; readonly degrees: number } | null {
  const half = Math.round(Math.min(NEIGHBOURS.most, Math.max(NEIGHBOURS.least, NEIGHBOURS.share * (k + 1))));
  const bins: number[] = [];
  for (let i = Math.max(FIRST_BIN, k - half); i <= Math.min(logs.length - 1, k + half); i++)
    if (Math.abs(i - k) > OWN_BINS) bins.push(i);
  const n = bins.length;
  let sum = 0;
  for (const i of bins) sum += logs[i]!;
  if (logs[k]! - sum / n < NOT_WORTH_A_FIT) return null;
  // Distances from the bin itself: the line at 0 is the noise there.
  const x = bins.map((i) => Math.log((i + 1) / (k + 1)));
  const meanX = x.reduce((a, b) => a + b, 0) / n;
  const squares = x.reduce((a, b) => a + (b - meanX) ** 2, 0);
  let y = bins.map((i) => logs[i]!);
  let level = 0;
  for (let pass = 0; pass < 3; pass++) {
    const meanY = y.reduce((a, b) => a + b, 0) / n;
    const slope = x.reduce((a, b, j) => a + (b - meanX) * (y[j]! - meanY), 0) / squares;
    level = meanY - slope * meanX;
    y = bins.map((i, j) => Math.min(logs[i]!, level + slope * x[j]! + EULER + CLIP));
  }
  const leverage = 1 / n + meanX ** 2 / squares;
  return { mean: Math.exp(level + EULER), degrees: Math.max(1, 1 / (LOG_VARIANCE * CORRELATED * leverage)) };
}
