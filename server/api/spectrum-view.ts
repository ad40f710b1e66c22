import type { SpectrumFindings } from '../monitor/analysis/spool-analysis.ts';
import type { Periodogram } from '../strand/spectrum/periodogram.ts';
import type { SpectrumView } from './contract/spool-analysis.ts';

const COLUMNS_MAX = 400;

export function spectrumView({ spectrum, causes }: SpectrumFindings, axis: 'time' | 'length'): SpectrumView {
  const { spectrum: waves, shortestPeriod, peaks } = axis === 'length' ? spectrum.inLength : spectrum.inTime;
  const { speed } = spectrum;
  return {
    axis,
    unit: axis === 'length' ? 'mm' : 's',
    resolution: significant(waves.resolution),
    shortestPeriod: significant(shortestPeriod),
    curve: curveOf(waves),
    peaks: peaks.map((peak) => ({
      frequency: significant(peak.frequency) ?? 0,
      period: significant(peak.period) ?? 0,
      frequencyUncertainty: significant(peak.frequencyUncertainty) ?? 0,
      amplitudeMm: significant(peak.amplitude) ?? 0,
      share: significant(peak.share) ?? 0,
      falseAlarmProbability: significant(peak.falseAlarmProbability) ?? 1,
      sharperIn: peak.sharperIn,
      causes: peak.causes.map((cause) => ({ ...cause, offsetShare: significant(cause.off) ?? 0 })),
    })),
    candidateCauses: causes.map((cause) => {
      const own = 'periodMm' in cause ? ('length' as const) : ('time' as const);
      const period = 'periodMm' in cause ? cause.periodMm : cause.periodS;
      const mean = speed?.meanMmPerS ?? Number.NaN;
      const onAxis = own === axis ? period : own === 'length' ? period / mean : period * mean;
      return { name: cause.name, period: significant(onAxis), unit: axis === 'length' ? 'mm' : 's' };
    }),
    speed: speed === null ? null : { meanMmPerS: speed.meanMmPerS, spreadShare: speed.spreadShare },
  };
}

/** The highest wave in each of COLUMNS_MAX equal steps of log frequency, at its own frequency. */
function curveOf({ frequency, power }: Periodogram): SpectrumView['curve'] {
  const lowest = frequency[0];
  const highest = frequency.at(-1);
  if (lowest === undefined || highest === undefined) return { frequency: [], amplitudeMm: [] };
  const best = new Int32Array(COLUMNS_MAX).fill(-1);
  const scale = highest > lowest ? (COLUMNS_MAX - 1) / Math.log(highest / lowest) : 0;
  for (let k = 0; k < power.length; k++) {
    const column = Math.round(scale * Math.log(frequency[k]! / lowest));
    const known = best[column]!;
    if (known < 0 || power[k]! > power[known]!) best[column] = k;
  }
  const kept = [...best].filter((k) => k >= 0);
  return {
    frequency: kept.map((k) => significant(frequency[k]!) ?? 0),
    amplitudeMm: kept.map((k) => significant(Math.sqrt(2 * power[k]!)) ?? 0),
  };
}

/** Frequencies and probabilities span many decades, so they keep significant digits instead of decimals. */
function significant(value: number): number | null {
  return Number.isFinite(value) ? Number(value.toPrecision(6)) : null;
}
