import { mergeGapMm } from './blob-and-neck-tracker.ts';
import type { Doubt } from './section.ts';
import { newSection, type RunSections, type WorkingSection } from './working-section.ts';

/** Fewer samples without strand are drop-outs of the gauge: a broken strand does not return so soon. */
const LOST_SAMPLES = 3;
const NO_VALUE_MM_MIN = 2;

/** Strand that passed the gauge unmeasured: it counts as unknown, never as good. */
export class UnknownTracker {
  readonly #sections: RunSections;
  readonly #doubt: Doubt | null;
  #section: WorkingSection | null = null;
  #hidingGapMm = 0;

  /** @param doubt why the readings that arrived prove nothing; null = none arrived */
  constructor(sections: RunSections, doubt: Doubt | null = null) {
    this.#sections = sections;
    this.#doubt = doubt;
  }

  /** @param hidingGapMm a blob can hide between two readings that are further apart than this */
  setLimit(hidingGapMm: number): void {
    this.#hidingGapMm = hidingGapMm;
  }

  /** No readings arrived while the last `gapMm` before `gaugeMm` passed. */
  gap(fromTimeMs: number, timeMs: number, gapMm: number, gaugeMm: number, pitchMm: number): void {
    const least = pitchMm > 0 ? 1.5 * pitchMm : 0;
    if (gapMm > Math.max(least, this.#hidingGapMm)) this.#cover(gaugeMm - gapMm, fromTimeMs, gaugeMm, timeMs, pitchMm);
  }

  /** Readings since `fromMm` had no diameter. */
  noValue(fromMm: number, fromTimeMs: number, gaugeMm: number, timeMs: number, pitchMm: number): void {
    const least = pitchMm > 0 ? 3 * pitchMm : 0;
    if (gaugeMm - fromMm > Math.max(least, NO_VALUE_MM_MIN)) this.#cover(fromMm, fromTimeMs, gaugeMm, timeMs, pitchMm);
  }

  /** A sample with a value. */
  pass(gaugeMm: number, pitchMm: number): void {
    const section = this.#section;
    if (section !== null && gaugeMm - section.toMm > mergeGapMm(pitchMm)) this.end();
  }

  get idle(): boolean {
    return this.#section === null;
  }

  end(): void {
    if (this.#section !== null) this.#sections.end(this.#section);
    this.#section = null;
  }

  #cover(fromMm: number, fromTimeMs: number, toMm: number, toTimeMs: number, pitchMm: number): void {
    if (this.#section !== null && fromMm - this.#section.toMm > mergeGapMm(pitchMm)) this.end();
    let section = this.#section;
    if (section === null) {
      section = newSection('unknown', fromMm, fromTimeMs);
      section.doubt = this.#doubt;
      this.#section = section;
      section.toMm = toMm;
      section.toTimeMs = toTimeMs;
      this.#sections.start(section);
    }
    if (fromMm < section.fromMm) {
      section.fromMm = fromMm;
      section.fromTimeMs = fromTimeMs;
    }
    section.toMm = toMm;
    section.toTimeMs = toTimeMs;
  }
}

/** No strand in the gauge. */
export class LostTracker {
  readonly #sections: RunSections;
  #section: WorkingSection | null = null;
  #samples = 0;
  #fromMm = 0;
  #fromTimeMs = 0;
  #leastMm = 0;
  #leastAtMm = 0;

  constructor(sections: RunSections) {
    this.#sections = sections;
  }

  /** It is certain that there is no strand. */
  get lost(): boolean {
    return this.#samples >= LOST_SAMPLES;
  }

  get idle(): boolean {
    return this.#samples === 0 && this.#section === null;
  }

  /**
   * A sample below the presence limit. `crossed…` is where the diameter fell below it, used only for the first sample in a row.
   * Returns true when this sample makes the loss certain.
   */
  absent(timeMs: number, gaugeMm: number, diameterMm: number, crossedMm: number, crossedTimeMs: number): boolean {
    if (this.#samples === 0) {
      this.#fromMm = crossedMm;
      this.#fromTimeMs = crossedTimeMs;
      this.#leastMm = diameterMm;
      this.#leastAtMm = gaugeMm;
    }
    if (diameterMm < this.#leastMm) {
      this.#leastMm = diameterMm;
      this.#leastAtMm = gaugeMm;
    }
    this.#samples++;
    if (this.#samples < LOST_SAMPLES) return false;
    let section = this.#section;
    if (section === null) {
      section = newSection('strandLost', this.#fromMm, this.#fromTimeMs);
      section.sure = true;
      this.#section = section;
    }
    section.toMm = gaugeMm;
    section.toTimeMs = timeMs;
    if (!(this.#leastMm >= section.peakMm)) {
      section.peakMm = this.#leastMm;
      section.peakAtMm = this.#leastAtMm;
    }
    if (section.ordinal === 0) this.#sections.start(section);
    return this.#samples === LOST_SAMPLES;
  }

  /** A reading without a value, while the strand is lost: it stays lost. */
  stillLost(timeMs: number, gaugeMm: number): void {
    const section = this.#section;
    if (section === null) return;
    section.toMm = gaugeMm;
    section.toTimeMs = timeMs;
  }

  /** The strand is back; it rose above the limit at `crossedMm`. */
  present(gaugeMm: number, crossedMm: number, crossedTimeMs: number, pitchMm: number): void {
    const section = this.#section;
    if (section !== null) {
      if (this.#samples > 0) {
        section.toMm = Math.max(section.fromMm, crossedMm);
        section.toTimeMs = crossedTimeMs;
      }
      if (gaugeMm - section.toMm > mergeGapMm(pitchMm)) this.end();
    }
    this.#samples = 0;
  }

  end(): void {
    if (this.#section !== null) this.#sections.end(this.#section);
    this.#section = null;
    this.#samples = 0;
  }
}
