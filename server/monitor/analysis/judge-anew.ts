import { judgeStrand } from '../../strand/judge-strand.ts';
import type { MeasuredSection } from '../../strand/section.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import type { SpoolColumns } from './spool-case.ts';

/** An end of the spool further than this from the nearest reading was not measured. */
const UNSEEN_END_MM = 5;
const UNSEEN_END_PITCHES = 5;

interface Stretch {
  readonly startGaugeMm: number;
  readonly endGaugeMm: number;
}

/** What is found on the strand of a spool, as `foundOnStrand`; sections that reach beyond an end are cut off there. */
export function judgeAnew(columns: SpoolColumns, spool: Stretch, limits: StrandLimits): readonly MeasuredSection[] {
  const { startGaugeMm, endGaugeMm } = spool;
  return foundOnStrand(columns, spool, limits).map((section) => cutOff(section, startGaugeMm, endGaugeMm));
}

/**
 * Judges a stretch of strand against limits by the detector that watches the line. What lies before the first reading, or
 * behind the last, is unknown: a spool that was begun before its strand was measured is never taken for good.
 */
export function foundOnStrand(columns: SpoolColumns, on: Stretch, limits: StrandLimits): readonly MeasuredSection[] {
  const { timeMs, gaugeMm, diameterMm, axesMm } = columns;
  const { startGaugeMm, endGaugeMm } = on;
  const n = timeMs.length;
  const found = judgeStrand(
    timeMs,
    gaugeMm,
    diameterMm,
    limits,
    axesMm === null ? {} : { outOfRoundMm: outOfRound(axesMm.x, axesMm.y) },
  );
  const sections = found.filter((section) => section.toMm > startGaugeMm && section.fromMm < endGaugeMm);

  let next = found.reduce((most, section) => Math.max(most, section.ordinal), 0) + 1;
  const unseen = (fromMm: number, toMm: number, atMs: number): void => {
    sections.push({
      ordinal: next++,
      kind: 'unknown',
      fromMm,
      toMm,
      fromTimeMs: atMs,
      toTimeMs: atMs,
      peakMm: null,
      peakAtMm: null,
      volumeBeyondMm3: null,
      certainty: 'sure',
      verdict: 'doubtful',
      open: false,
    });
  };
  if (!(endGaugeMm > startGaugeMm)) return sections;
  if (n === 0) {
    unseen(startGaugeMm, endGaugeMm, 0);
    return sections;
  }
  const firstMm = Math.min(endGaugeMm, gaugeMm[0]!);
  const lastMm = Math.max(startGaugeMm, gaugeMm[n - 1]!);
  const pitchMm = n < 2 ? 0 : (gaugeMm[n - 1]! - gaugeMm[0]!) / (n - 1);
  const least = Math.max(UNSEEN_END_MM, UNSEEN_END_PITCHES * pitchMm);
  if (firstMm - startGaugeMm > least) unseen(startGaugeMm, firstMm, timeMs[0]!);
  if (endGaugeMm - lastMm > least) unseen(lastMm, endGaugeMm, timeMs[n - 1]!);
  return sections;
}

function cutOff(section: MeasuredSection, fromMm: number, toMm: number): MeasuredSection {
  if (section.fromMm >= fromMm && section.toMm <= toMm) return section;
  return { ...section, fromMm: Math.max(fromMm, section.fromMm), toMm: Math.min(toMm, section.toMm) };
}

function outOfRound(x: Float64Array, y: Float64Array): Float64Array {
  const difference = new Float64Array(x.length);
  for (let i = 0; i < x.length; i++) difference[i] = Math.abs(x[i]! - y[i]!);
  return difference;
}
