import { type MeasuredSection, nextOrdinal } from '../../strand/section.ts';
import type { ScannedStrand } from '../../strand/section-scan.ts';
import type { AnalysedSpool, SpoolColumns } from './spool-columns.ts';

/** The columns in the form that the detector needs. */
export function strandOf({ timeMs, gaugeMm, diameterMm, axesMm }: SpoolColumns): ScannedStrand {
  if (axesMm === null) return { timeMs, gaugeMm, diameterMm };
  const { x, y } = axesMm;
  const outOfRoundMm = new Float64Array(x.length);
  for (let i = 0; i < x.length; i++) outOfRoundMm[i] = Math.abs(x[i]! - y[i]!);
  return { timeMs, gaugeMm, diameterMm, outOfRoundMm };
}

/**
 * The found sections that are on a spool. Strand before the first or after the last reading is not measured, so that it is
 * never taken for good.
 */
export function sectionsOnSpool(
  found: readonly MeasuredSection[],
  { timeMs, gaugeMm }: SpoolColumns,
  { startGaugeMm, endGaugeMm }: Pick<AnalysedSpool, 'startGaugeMm' | 'endGaugeMm'>,
): readonly MeasuredSection[] {
  const n = timeMs.length;
  const [fromGaugeMm = 0] = gaugeMm;
  const [fromMs = 0] = timeMs;
  const toGaugeMm = gaugeMm.at(-1) ?? 0;
  const toMs = timeMs.at(-1) ?? 0;
  const pitchMm = n < 2 ? 0 : (toGaugeMm - fromGaugeMm) / (n - 1);
  const measured = n === 0 ? null : { fromGaugeMm, toGaugeMm, fromMs, toMs, pitchMm };
  const here = found.filter((section) => section.toMm > startGaugeMm && section.fromMm < endGaugeMm);
  return withUnmeasuredEnds(here, { startGaugeMm, endGaugeMm }, measured);
}

/** An end of the spool further than this from the nearest reading counts as not measured. */
const UNMEASURED_END_MM = 5;
const UNMEASURED_END_PITCHES = 5;

/** The stretch between the first and last reading; null = no readings. */
export type MeasuredStretch = {
  readonly fromGaugeMm: number;
  readonly toGaugeMm: number;
  readonly fromMs: number;
  readonly toMs: number;
  readonly pitchMm: number;
} | null;

/** Adds a section for each end of the spool that is far from any reading. */
export function withUnmeasuredEnds(
  sections: readonly MeasuredSection[],
  { startGaugeMm, endGaugeMm }: { readonly startGaugeMm: number; readonly endGaugeMm: number },
  measured: MeasuredStretch,
): readonly MeasuredSection[] {
  if (!(endGaugeMm > startGaugeMm)) return sections;
  if (measured === null) return [...sections, unmeasured(nextOrdinal(sections), startGaugeMm, endGaugeMm, 0)];
  const firstMm = Math.min(endGaugeMm, measured.fromGaugeMm);
  const lastMm = Math.max(startGaugeMm, measured.toGaugeMm);
  const shortestMm = Math.max(UNMEASURED_END_MM, UNMEASURED_END_PITCHES * measured.pitchMm);
  const ends = [...sections];
  if (firstMm - startGaugeMm > shortestMm)
    ends.push(unmeasured(nextOrdinal(ends), startGaugeMm, firstMm, measured.fromMs));
  if (endGaugeMm - lastMm > shortestMm) ends.push(unmeasured(nextOrdinal(ends), lastMm, endGaugeMm, measured.toMs));
  return ends;
}

/** What is not known of a section on a spool counts as not measured. */
export function asUnmeasured(
  { ordinal, fromMm, toMm }: Pick<MeasuredSection, 'ordinal' | 'fromMm' | 'toMm'>,
  { startGaugeMm, endGaugeMm }: { readonly startGaugeMm: number; readonly endGaugeMm: number },
): MeasuredSection {
  return unmeasured(ordinal, Math.max(fromMm, startGaugeMm), Math.min(toMm, endGaugeMm), 0);
}

function unmeasured(ordinal: number, fromMm: number, toMm: number, atMs: number): MeasuredSection {
  return {
    ordinal,
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
  };
}
