import { periodogram } from '../spectrum/periodogram.ts';
import { type SpectrumPeak, spectrumPeaks } from '../spectrum/spectrum-peaks.ts';
import type { SurgingAdvisory } from './advisory.ts';

/** Length of a window in cells; successive windows overlap by half. */
export const SURGE_WINDOW_CELLS = 512;
const WINDOW_CELLS = SURGE_WINDOW_CELLS;
const HOP_CELLS = WINDOW_CELLS / 2;
/** A swing of less than ± this share of the tolerance does not affect prints. */
const AMPLITUDE_SHARE = 0.25;
/** Largest change of frequency of the same wave: with the speed, periods fixed in time vary a little. */
const SAME_SHARE = 0.08;
/** Windows with a larger unmeasured share are skipped. */
const UNMEASURED_SHARE_MAX = 0.2;

interface WindowPeak {
  readonly fromMm: number;
  readonly toMm: number;
  readonly fromTimeMs: number;
  readonly toTimeMs: number;
  readonly peak: SpectrumPeak;
}

/**
 * Finds a periodic swing of the diameter: a spectral peak that stands out from its neighbourhood, is high enough to matter,
 * and persists from one window to the next. Windows are along the length; a swing in time shows there too at even speed.
 */
export class SurgeTracker {
  #toleranceMm: number;
  readonly #values = new Float64Array(WINDOW_CELLS);
  readonly #timeMs = new Float64Array(WINDOW_CELLS);
  #count = 0;
  #last: WindowPeak | null = null;
  #open: SurgingAdvisory | null = null;
  readonly closed: SurgingAdvisory[] = [];

  constructor(toleranceMm: number) {
    this.#toleranceMm = toleranceMm;
  }

  setTolerance(toleranceMm: number): void {
    this.#toleranceMm = toleranceMm;
  }

  /** Adds the mean of the cell that starts at `fromMm`; NaN = not measured. All cells up to an interruption are as long. */
  step(fromMm: number, timeMs: number, meanMm: number, cellMm: number): void {
    this.#values[this.#count] = meanMm;
    this.#timeMs[this.#count] = timeMs;
    this.#count++;
    if (this.#count < WINDOW_CELLS) return;
    this.#follow(this.#findPeak(fromMm + cellMm, cellMm));
    this.#values.copyWithin(0, HOP_CELLS);
    this.#timeMs.copyWithin(0, HOP_CELLS);
    this.#count = WINDOW_CELLS - HOP_CELLS;
  }

  /** The next cell does not follow on the last one. */
  interrupt(): void {
    this.#end();
    this.#count = 0;
    this.#last = null;
  }

  open(): SurgingAdvisory | null {
    return this.#open;
  }

  #findPeak(toMm: number, cellMm: number): WindowPeak | null {
    const spectrum = periodogram(this.#values, cellMm, { window: 'hann', trend: true });
    if (spectrum.count < (1 - UNMEASURED_SHARE_MAX) * WINDOW_CELLS) return null;
    // Most windows contain no wave that matters, and need no closer look.
    if (!mayHold(spectrum.power, AMPLITUDE_SHARE * this.#toleranceMm)) return null;
    const peak = spectrumPeaks(spectrum).find(({ amplitude }) => amplitude >= AMPLITUDE_SHARE * this.#toleranceMm);
    if (peak === undefined) return null;
    return {
      fromMm: toMm - WINDOW_CELLS * cellMm,
      toMm,
      fromTimeMs: this.#timeMs[0]!,
      toTimeMs: this.#timeMs[WINDOW_CELLS - 1]!,
      peak,
    };
  }

  #follow(found: WindowPeak | null): void {
    const last = this.#last;
    this.#last = found;
    const continues =
      found !== null &&
      last !== null &&
      Math.abs(found.peak.frequency / last.peak.frequency - 1) <=
        SAME_SHARE + (2 * found.peak.frequencyUncertainty) / found.peak.frequency;
    if (!continues) {
      this.#end();
      return;
    }
    const open = this.#open;
    const from = open ?? last;
    const seconds = (found.toTimeMs - found.fromTimeMs) / 1000;
    this.#open = {
      kind: 'surging',
      fromMm: from.fromMm,
      toMm: found.toMm,
      fromTimeMs: from.fromTimeMs,
      toTimeMs: found.toTimeMs,
      open: true,
      amplitudeMm: Math.max(open?.amplitudeMm ?? last.peak.amplitude, found.peak.amplitude),
      periodMm: found.peak.period,
      periodS: seconds > 0 ? (found.peak.period * seconds) / (found.toMm - found.fromMm) : null,
    };
  }

  #end(): void {
    const open = this.#open;
    if (open === null) return;
    this.closed.push({ ...open, open: false });
    this.#open = null;
  }
}

/** Whether any three neighbouring frequencies together hold the power of a wave of this amplitude. */
function mayHold(power: Float64Array, amplitude: number): boolean {
  const least = amplitude ** 2 / 2;
  return power.some((p, k) => (power[k - 1] ?? 0) + p + (power[k + 1] ?? 0) >= least);
}
