import { periodogram } from '../spectrum/periodogram.ts';
import { type SpectrumPeak, spectrumPeaks } from '../spectrum/spectrum-peaks.ts';
import type { SurgingAdvisory } from './advisory.ts';

/** A look is over so many cells, and each begins half of that behind the one before. */
export const SURGE_WINDOW_CELLS = 512;
const WINDOW_CELLS = SURGE_WINDOW_CELLS;
const HOP_CELLS = WINDOW_CELLS / 2;
/** A swing by less than ± this share of the tolerance matters to no print. */
const AMPLITUDE_SHARE = 0.25;
/** Fewer periods in a look than this are a wander. */
const FEWEST_PERIODS = 4;
/** The same wave in the next look: the speed swings a little, and so does a period that is fixed in time. */
const SAME_SHARE = 0.08;
/** More of a look that was not measured than this says nothing. */
const UNMEASURED_SHARE_MAX = 0.2;

interface Look {
  readonly fromMm: number;
  readonly toMm: number;
  readonly fromTimeMs: number;
  readonly toTimeMs: number;
  readonly peak: SpectrumPeak;
}

/**
 * Finds an even swing of the diameter: a spectral peak that stands out of its neighbourhood, is high enough to matter, and
 * stays from one look to the next. Looks are along the length; a swing in time shows there as well while the speed is even.
 */
export class SurgeTracker {
  readonly #cellMm: number;
  #toleranceMm: number;
  readonly #values = new Float64Array(WINDOW_CELLS).fill(Number.NaN);
  readonly #timeMs = new Float64Array(WINDOW_CELLS);
  #firstMm = Number.NaN;
  #count = 0;
  #last: Look | null = null;
  #open: SurgingAdvisory | null = null;
  readonly closed: SurgingAdvisory[] = [];

  constructor(cellMm: number, toleranceMm: number) {
    this.#cellMm = cellMm;
    this.#toleranceMm = toleranceMm;
  }

  setTolerance(toleranceMm: number): void {
    this.#toleranceMm = toleranceMm;
  }

  /** The mean of one more cell, which begins at `fromMm`; NaN = not measured. True = an advisory began, grew or ended. */
  step(fromMm: number, timeMs: number, meanMm: number): boolean {
    if (this.#count === 0) this.#firstMm = fromMm;
    this.#values[this.#count] = meanMm;
    this.#timeMs[this.#count] = timeMs;
    this.#count++;
    if (this.#count < WINDOW_CELLS) return false;
    const changed = this.#take(this.#look());
    this.#values.copyWithin(0, HOP_CELLS);
    this.#timeMs.copyWithin(0, HOP_CELLS);
    this.#count = WINDOW_CELLS - HOP_CELLS;
    this.#firstMm += HOP_CELLS * this.#cellMm;
    return changed;
  }

  interrupt(): void {
    this.#end();
    this.#count = 0;
    this.#last = null;
  }

  open(): SurgingAdvisory | null {
    return this.#open;
  }

  #look(): Look | null {
    let measured = 0;
    for (const value of this.#values) if (!Number.isNaN(value)) measured++;
    if (measured < (1 - UNMEASURED_SHARE_MAX) * WINDOW_CELLS) return null;
    const spectrum = periodogram(this.#values, this.#cellMm, { window: 'hann', trend: true });
    const lengthMm = WINDOW_CELLS * this.#cellMm;
    // Most looks hold no wave that matters, and need no closer one.
    if (!mayHold(spectrum.power, AMPLITUDE_SHARE * this.#toleranceMm)) return null;
    const peak = spectrumPeaks(spectrum).find(
      ({ amplitude, frequency }) =>
        amplitude >= AMPLITUDE_SHARE * this.#toleranceMm && frequency * lengthMm >= FEWEST_PERIODS,
    );
    if (peak === undefined) return null;
    return {
      fromMm: this.#firstMm,
      toMm: this.#firstMm + lengthMm,
      fromTimeMs: this.#timeMs[0]!,
      toTimeMs: this.#timeMs[WINDOW_CELLS - 1]!,
      peak,
    };
  }

  #take(look: Look | null): boolean {
    const last = this.#last;
    this.#last = look;
    const goesOn =
      look !== null &&
      last !== null &&
      Math.abs(look.peak.frequency / last.peak.frequency - 1) <=
        SAME_SHARE + (2 * look.peak.frequencyUncertainty) / look.peak.frequency;
    if (!goesOn) return this.#end();
    const open = this.#open;
    const from = open ?? last;
    const seconds = (look.toTimeMs - look.fromTimeMs) / 1000;
    const speedMmPerS = seconds > 0 ? (look.toMm - look.fromMm) / seconds : 0;
    this.#open = {
      kind: 'surging',
      fromMm: from.fromMm,
      toMm: look.toMm,
      fromTimeMs: from.fromTimeMs,
      toTimeMs: look.toTimeMs,
      open: true,
      amplitudeMm: Math.max(open?.amplitudeMm ?? last.peak.amplitude, look.peak.amplitude),
      periodMm: look.peak.period,
      periodS: speedMmPerS > 0 ? look.peak.period / speedMmPerS : null,
    };
    return true;
  }

  #end(): boolean {
    const open = this.#open;
    if (open === null) return false;
    this.closed.push({ ...open, open: false });
    this.#open = null;
    return true;
  }
}

/** Whether three neighbouring frequencies together hold the power of a wave of this amplitude: a peak is never higher. */
function mayHold(power: Float64Array, amplitude: number): boolean {
  const least = amplitude ** 2 / 2;
  for (let k = 0; k < power.length; k++)
    if ((power[k - 1] ?? 0) + power[k]! + (power[k + 1] ?? 0) >= least) return true;
  return false;
}
