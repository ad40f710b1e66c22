import { GaugeWatch } from './gauge-watch.ts';
import { ReadingPace } from './reading-pace.ts';
import type { MeasuredSection } from './section.ts';
import { plainContext, SectionDetector } from './section-detector.ts';
import type { StrandLimits } from './strand-limits.ts';

/** A step this many times the usual one, both in length and in time, is a gap even where none was recorded. */
const GAP_PITCHES = 4.5;

/**
 * Finds the sections of recorded readings with the detector that also runs live, and continues where it stopped when the
 * record has grown.
 */
export class SectionScan {
  readonly #detector: SectionDetector;
  readonly #gauge: GaugeWatch;
  readonly #context = plainContext();
  readonly #pace = new ReadingPace();
  readonly #sections = new Map<number, MeasuredSection>();
  #read = 0;
  #lastTimeMs = Number.NaN;
  #lastPlaceMm = Number.NaN;

  constructor(limits: StrandLimits) {
    this.#detector = new SectionDetector(limits);
    this.#gauge = new GaugeWatch(limits);
  }

  /** Reads the part of the record that it has not read yet. Throws a TypeError if the arrays differ in length. */
  readNew(strand: ScannedStrand): void {
    const { timeMs, gaugeMm, diameterMm, outOfRoundMm, gapMm } = strand;
    const n = timeMs.length;
    for (const array of [gaugeMm, diameterMm, outOfRoundMm, gapMm])
      if (array !== undefined && array.length !== n)
        throw new TypeError(`All arrays of a strand must have ${n} readings, but one has ${array.length}.`);
    const context = this.#context;
    const detector = this.#detector;
    const gauge = this.#gauge;
    for (let i = this.#read; i < n; i++) {
      const time = timeMs[i] as number;
      const place = gaugeMm[i] as number;
      const diameter = diameterMm[i] as number;
      const seconds = i === 0 ? 0 : (time - this.#lastTimeMs) / 1000;
      const advance = i === 0 ? 0 : place - this.#lastPlaceMm;
      this.#lastTimeMs = time;
      this.#lastPlaceMm = place;
      gauge.step(time, place, diameter, seconds > 0 ? advance / seconds : Number.NaN);
      context.frozenSinceMm = gauge.frozen ? gauge.sameSinceMm : Number.NaN;
      context.frozenSinceTimeMs = gauge.sameSinceTimeMs;
      context.blindSinceMm = Number.isNaN(gauge.blindFromMm) ? Number.NaN : gauge.blindSinceMm;
      context.blindSinceTimeMs = gauge.blindSinceTimeMs;
      context.mayBeBeyond = gauge.mayBeBeyond;
      if (gapMm !== undefined) context.gapMm = gapMm[i] as number;
      else if (i > 0) {
        const isWide = seconds > GAP_PITCHES * this.#pace.pitchS && advance > GAP_PITCHES * detector.pitchMm;
        context.gapMm = this.#pace.isGap(seconds, this.#pace.missingIn(seconds)) || isWide ? advance : 0;
      }
      if (outOfRoundMm !== undefined) context.outOfRoundMm = outOfRoundMm[i] as number;
      this.#keep(detector.step(time, place, diameter, context));
    }
    this.#read = n;
  }

  /** The sections found so far; those still open end at the strand in the gauge. */
  sections(): MeasuredSection[] {
    this.#keep(this.#detector.open());
    return [...this.#sections.values()].sort((a, b) => a.ordinal - b.ordinal);
  }

  /** To be called when the record is complete: closes the open sections and returns all. */
  close(): MeasuredSection[] {
    if (this.#read > 0) this.#keep(this.#detector.close(this.#lastTimeMs));
    return this.sections();
  }

  #keep(changed: readonly MeasuredSection[]): void {
    for (const section of changed) this.#sections.set(section.ordinal, section);
  }
}

/** Parallel arrays, one entry per reading. */
export interface ScannedStrand {
  /** UTC ms, rising. */
  readonly timeMs: ArrayLike<number>;
  /** Never falling. */
  readonly gaugeMm: ArrayLike<number>;
  /** NaN = no value. */
  readonly diameterMm: ArrayLike<number>;
  /** |dx − dy|, mm; NaN = no value. */
  readonly outOfRoundMm?: ArrayLike<number>;
  /** Strand that passed unmeasured before each reading, mm. Without it gaps are inferred from times and lengths. */
  readonly gapMm?: ArrayLike<number>;
}
