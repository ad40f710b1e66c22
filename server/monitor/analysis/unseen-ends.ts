import type { MeasuredSection } from '../../strand/section.ts';

/** An end of the spool further than this from the nearest reading was not measured. */
const UNSEEN_END_MM = 5;
const UNSEEN_END_PITCHES = 5;

/** Between which gauge lengths readings were taken; null = none were. */
export type MeasuredStretch = {
  readonly fromGaugeMm: number;
  readonly toGaugeMm: number;
  readonly fromMs: number;
  readonly toMs: number;
  readonly pitchMm: number;
} | null;

/** The sections of a spool, with a section for each end of it that no reading comes near. */
export function withUnseenEnds(
  sections: readonly MeasuredSection[],
  { startGaugeMm, endGaugeMm }: { readonly startGaugeMm: number; readonly endGaugeMm: number },
  measured: MeasuredStretch,
): readonly MeasuredSection[] {
  if (!(endGaugeMm > startGaugeMm)) return sections;
  if (measured === null) return [...sections, unseen(sections, startGaugeMm, endGaugeMm, 0)];
  const firstMm = Math.min(endGaugeMm, measured.fromGaugeMm);
  const lastMm = Math.max(startGaugeMm, measured.toGaugeMm);
  const least = Math.max(UNSEEN_END_MM, UNSEEN_END_PITCHES * measured.pitchMm);
  const ends = [...sections];
  if (firstMm - startGaugeMm > least) ends.push(unseen(ends, startGaugeMm, firstMm, measured.fromMs));
  if (endGaugeMm - lastMm > least) ends.push(unseen(ends, lastMm, endGaugeMm, measured.toMs));
  return ends;
}

function unseen(among: readonly MeasuredSection[], fromMm: number, toMm: number, atMs: number): MeasuredSection {
  return {
    ordinal: among.reduce((most, { ordinal }) => Math.max(most, ordinal), 0) + 1,
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
