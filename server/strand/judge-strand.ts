import { GaugeWatch } from './gauge-watch.ts';
import { ReadingPace } from './reading-pace.ts';
import type { MeasuredSection } from './section.ts';
import { plainContext, SectionDetector } from './section-detector.ts';
import type { StrandLimits } from './strand-limits.ts';

/** A hole this many times wider than usual, in length and in time, is one even where no lost lines were recorded. */
const HOLE_PITCHES = 4.5;

export interface JudgeOptions {
  /** Ordinal of the first section; 1 if not given. */
  readonly nextOrdinal?: number;
  /** |dx − dy|, mm, one a reading; NaN = no value. */
  readonly outOfRoundMm?: ArrayLike<number>;
  /** Strand that passed unmeasured before each reading, mm. Without it gaps are told from times and lengths. */
  readonly gapMm?: ArrayLike<number>;
}

/**
 * Judges recorded readings by the same detector that watched them live. Arrays of equal length, times in UTC ms rising,
 * gauge lengths in mm not falling, diameters in mm with NaN for no value. A TypeError if their lengths differ.
 */
export function judgeStrand(
  timeMs: ArrayLike<number>,
  gaugeMm: ArrayLike<number>,
  diameterMm: ArrayLike<number>,
  limits: StrandLimits,
  options: JudgeOptions = {},
): MeasuredSection[] {
  const n = timeMs.length;
  const { outOfRoundMm, gapMm } = options;
  for (const array of [gaugeMm, diameterMm, outOfRoundMm, gapMm])
    if (array !== undefined && array.length !== n)
      throw new TypeError(`All arrays of a strand must have ${n} readings, but one has ${array.length}.`);
  const detector = new SectionDetector(limits, options.nextOrdinal ?? 1);
  const context = plainContext();
  const gauge = new GaugeWatch(limits);
  const pace = new ReadingPace();
  const sections = new Map<number, MeasuredSection>();
  const keep = (changed: readonly MeasuredSection[]) => {
    for (const section of changed) sections.set(section.ordinal, section);
  };
  for (let i = 0; i < n; i++) {
    const time = timeMs[i] as number;
    const place = gaugeMm[i] as number;
    const diameter = diameterMm[i] as number;
    const seconds = i === 0 ? 0 : (time - (timeMs[i - 1] as number)) / 1000;
    const advance = i === 0 ? 0 : place - (gaugeMm[i - 1] as number);
    gauge.step(time, place, diameter, seconds > 0 ? advance / seconds : Number.NaN);
    context.frozenSinceMm = gauge.frozen ? gauge.sameSinceMm : Number.NaN;
    context.frozenSinceTimeMs = gauge.sameSinceTimeMs;
    if (gapMm !== undefined) context.gapMm = gapMm[i] as number;
    else if (i > 0) {
      const hole = seconds > HOLE_PITCHES * pace.pitchS && advance > HOLE_PITCHES * detector.pitchMm;
      context.gapMm = pace.isGap(seconds, 0) || hole ? advance : 0;
    }
    if (outOfRoundMm !== undefined) context.outOfRoundMm = outOfRoundMm[i] as number;
    const changed = detector.step(time, place, diameter, context);
    if (changed.length > 0) keep(changed);
  }
  if (n > 0) keep(detector.close(timeMs[n - 1] as number));
  return [...sections.values()].sort((a, b) => a.ordinal - b.ordinal);
}
