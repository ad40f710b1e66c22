import { GaugeWatch } from './gauge-watch.ts';
import { ReadingPace } from './reading-pace.ts';
import type { MeasuredSection } from './section.ts';
import { plainContext, SectionDetector } from './section-detector.ts';
import type { StrandLimits } from './strand-limits.ts';

/** A hole this many times wider than usual, in length and in time, is one even where no lost lines were recorded. */
const HOLE_PITCHES = 4.5;

/**
 * Judges recorded readings by the same detector that watched them live; it reads on where it stopped when more come.
 * Arrays in UTC ms rising, gauge lengths in mm not falling, diameters in mm with NaN for no value.
 */
export class SectionScan {
  readonly #detector: SectionDetector;
  readonly #gauge: GaugeWatch;
  readonly #context = plainContext();
  readonly #pace = new ReadingPace();
  readonly #found = new Map<number, MeasuredSection>();
  #read = 0;
  #lastTimeMs = Number.NaN;
  #lastPlaceMm = Number.NaN;

  constructor(limits: StrandLimits, firstOrdinal = 1) {
    this.#detector = new SectionDetector(limits, firstOrdinal);
    this.#gauge = new GaugeWatch(limits);
  }

  /** Reads what it has not read yet. A TypeError if the arrays differ in length. */
  readOn(strand: ScannedStrand): void {
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
      if (gapMm !== undefined) context.gapMm = gapMm[i] as number;
      else if (i > 0) {
        const hole = seconds > HOLE_PITCHES * this.#pace.pitchS && advance > HOLE_PITCHES * detector.pitchMm;
        context.gapMm = this.#pace.isGap(seconds, 0) || hole ? advance : 0;
      }
      if (outOfRoundMm !== undefined) context.outOfRoundMm = outOfRoundMm[i] as number;
      this.#keep(detector.step(time, place, diameter, context));
    }
    this.#read = n;
  }

  /** What was found so far; the strand at the gauge is the end of sections that are open. */
  sections(): MeasuredSection[] {
    this.#keep(this.#detector.open());
    return [...this.#found.values()].sort((a, b) => a.ordinal - b.ordinal);
  }

  /** What was found when nothing comes any more. */
  close(): MeasuredSection[] {
    if (this.#read > 0) this.#keep(this.#detector.close(this.#lastTimeMs));
    return this.sections();
  }

  #keep(changed: readonly MeasuredSection[]): void {
    for (const section of changed) this.#found.set(section.ordinal, section);
  }
}

export interface ScannedStrand {
  readonly timeMs: ArrayLike<number>;
  readonly gaugeMm: ArrayLike<number>;
  readonly diameterMm: ArrayLike<number>;
  /** |dx − dy|, mm, one a reading; NaN = no value. */
  readonly outOfRoundMm?: ArrayLike<number>;
  /** Strand that passed unmeasured before each reading, mm. Without it gaps are told from times and lengths. */
  readonly gapMm?: ArrayLike<number>;
}

/** All sections of recorded strand; parallel arrays as `ScannedStrand` has them. */
export function scanSections(
  timeMs: ArrayLike<number>,
  gaugeMm: ArrayLike<number>,
  diameterMm: ArrayLike<number>,
  limits: StrandLimits,
  options: Pick<ScannedStrand, 'outOfRoundMm' | 'gapMm'> & { readonly nextOrdinal?: number } = {},
): MeasuredSection[] {
  const { nextOrdinal, ...more } = options;
  const judge = new SectionScan(limits, nextOrdinal);
  judge.readOn({ timeMs, gaugeMm, diameterMm, ...more });
  return judge.close();
}
