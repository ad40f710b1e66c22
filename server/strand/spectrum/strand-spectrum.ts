import { resampleEvenly } from '../statistics/resample.ts';
import { momentsOf } from '../statistics/weighted-moments.ts';
import { decimate, PASS_SHARE } from './low-pass.ts';
import { type NamedCause, nameCauses, type PossibleCause } from './named-causes.ts';
import { type Periodogram, periodogram } from './periodogram.ts';
import { type SpectrumPeak, spectrumPeaks, withoutRepeats } from './spectrum-peaks.ts';

interface NamedPeak extends SpectrumPeak {
  readonly causes: readonly NamedCause[];
  /**
   * The domain in which the same wave is sharper: the run-out of a puller is periodic in length, the surging of a screw in
   * time. `same` = the speed was too steady to tell.
   */
  readonly sharperIn: 'length' | 'time' | 'same';
}

interface DomainSpectrum {
  readonly spectrum: Periodogram;
  /** Shorter waves are left out: readings are too far apart for them, or the strand is too long for so fine a spectrum. */
  readonly shortestPeriod: number;
  readonly peaks: readonly NamedPeak[];
}

export interface StrandSpectrum {
  /** Periods in mm, frequencies in 1/mm. */
  readonly inLength: DomainSpectrum;
  /** Periods in s, frequencies in Hz. */
  readonly inTime: DomainSpectrum;
  readonly speed: { readonly meanMmPerS: number; readonly spreadShare: number } | null;
}

/** A power of two is quickest. */
const CELLS_MAX = 65_536;
/** In standard deviations of the speed; a speed that swings evenly dwells at both ends, 2.8 of them apart at its mean. */
const SPREAD_REACH = 3.5;
/** Speeds that hardly vary over the spool still vary from turn to turn. */
const SPREAD_LEAST = 0.02;
/** Shares of variance must differ by this factor before one domain is called the sharper one. */
const SHARPER = 1.5;

/**
 * Periodicity of strand in length and in time, each evenly resampled, low-passed, and with a Hann window, and the causes that fit.
 *
 * @param timeS never falling
 * @param lengthMm never falling
 * @param diameterMm NaN = no value
 */
export function strandSpectrum(
  timeS: ArrayLike<number>,
  lengthMm: ArrayLike<number>,
  diameterMm: ArrayLike<number>,
  causes: readonly PossibleCause[],
): StrandSpectrum {
  const speed = speedOf(timeS, lengthMm);
  const length = spectrumOn(lengthMm, diameterMm);
  const time = spectrumOn(timeS, diameterMm);
  const named = (
    peaks: readonly SpectrumPeak[],
    domain: 'length' | 'time',
    others: readonly SpectrumPeak[],
  ): readonly NamedPeak[] => {
    const all = peaks.map((peak) => ({
      ...peak,
      causes: nameCauses(peak, domain, causes, speed),
      sharperIn: sharper(peak, domain, others, speed),
    }));
    // A wave that is sharp in the other domain is spread here, as the speed varies, over many peaks.
    const spread = SPREAD_LEAST + SPREAD_REACH * (speed?.spreadShare ?? 0);
    return withoutRepeats(all, ({ sharperIn, frequency }) => (sharperIn === domain ? 0 : spread * frequency));
  };
  return {
    inLength: { ...length, peaks: named(length.peaks, 'length', time.peaks) },
    inTime: { ...time, peaks: named(time.peaks, 'time', length.peaks) },
    speed,
  };
}

function spectrumOn(
  at: ArrayLike<number>,
  values: ArrayLike<number>,
): Omit<DomainSpectrum, 'peaks'> & { readonly peaks: readonly SpectrumPeak[] } {
  const n = at.length;
  const span = n < 2 ? 0 : at[n - 1]! - at[0]!;
  if (!(span > 0)) {
    const empty = new Float64Array(0);
    return {
      spectrum: { frequency: empty, power: empty, resolution: Number.NaN, count: 0 },
      shortestPeriod: Number.NaN,
      peaks: [],
    };
  }
  const pitch = span / (n - 1);
  let cells = CELLS_MAX;
  // The largest power of two of cells at least a sample pitch wide.
  while (cells > 16 && span / cells < pitch) cells /= 2;
  const width = (span / cells) * (1 - 1e-12);
  const factor = Math.max(1, Math.ceil(width / pitch));
  const even = resampleEvenly(at, values, width / factor, Math.max(10 * pitch, width));
  const all = periodogram(decimate(even.values, factor), width, { window: 'hann', trend: true });
  // Beyond the pass band waves are damped, and shorter ones show folded back.
  const bins = Math.floor(PASS_SHARE * all.power.length);
  const spectrum = { ...all, frequency: all.frequency.subarray(0, bins), power: all.power.subarray(0, bins) };
  return { spectrum, shortestPeriod: (2 * width) / PASS_SHARE, peaks: spectrumPeaks(spectrum) };
}

function speedOf(timeS: ArrayLike<number>, lengthMm: ArrayLike<number>): StrandSpectrum['speed'] {
  const n = timeS.length;
  if (n < 2) return null;
  const parts = Math.min(200, n - 1);
  const speeds: number[] = [];
  for (let p = 0; p < parts; p++) {
    const from = Math.floor((p * (n - 1)) / parts);
    const to = Math.floor(((p + 1) * (n - 1)) / parts);
    const seconds = timeS[to]! - timeS[from]!;
    if (seconds > 0) speeds.push((lengthMm[to]! - lengthMm[from]!) / seconds);
  }
  const seconds = timeS[n - 1]! - timeS[0]!;
  const meanMmPerS = seconds > 0 ? (lengthMm[n - 1]! - lengthMm[0]!) / seconds : 0;
  if (!(meanMmPerS > 0)) return null;
  const { sd, count } = momentsOf(speeds);
  return { meanMmPerS, spreadShare: count < 2 ? 0 : sd / meanMmPerS };
}

function sharper(
  peak: SpectrumPeak,
  domain: 'length' | 'time',
  others: readonly SpectrumPeak[],
  speed: StrandSpectrum['speed'],
): NamedPeak['sharperIn'] {
  if (speed === null) return domain;
  const factor = domain === 'length' ? speed.meanMmPerS : 1 / speed.meanMmPerS;
  const expected = peak.frequency * factor;
  const reach = (0.02 + 2 * speed.spreadShare) * expected;
  // A wave smeared in the other domain shows there as several lower peaks, or none.
  const best = others
    .filter((other) => Math.abs(other.frequency - expected) <= Math.max(reach, 2 * other.frequencyUncertainty))
    .reduce((most, other) => Math.max(most, other.share), 0);
  if (peak.share > SHARPER * best) return domain;
  if (best > SHARPER * peak.share) return domain === 'length' ? 'time' : 'length';
  return 'same';
}
