import type { MeasuredSection } from '../../strand/section.ts';
import type { ScannedStrand } from '../../strand/section-scan.ts';
import type { SpoolCase } from './spool-case.ts';
import type { SpoolColumns } from './spool-columns.ts';
import { withUnseenEnds } from './unseen-ends.ts';

/** The columns as the detector takes them. */
export function strandOf({ timeMs, gaugeMm, diameterMm, axesMm }: SpoolColumns): ScannedStrand {
  if (axesMm === null) return { timeMs, gaugeMm, diameterMm };
  const { x, y } = axesMm;
  const outOfRoundMm = new Float64Array(x.length);
  for (let i = 0; i < x.length; i++) outOfRoundMm[i] = Math.abs(x[i]! - y[i]!);
  return { timeMs, gaugeMm, diameterMm, outOfRoundMm };
}

/**
 * What was found on the strand of a spool, as far as sections reach. What lies before the first reading, or behind the
 * last, is unknown: a spool that was begun before its strand was measured is never taken for good.
 */
export function foundOnSpool(
  found: readonly MeasuredSection[],
  { timeMs, gaugeMm }: SpoolColumns,
  { startGaugeMm, endGaugeMm }: Pick<SpoolCase, 'startGaugeMm' | 'endGaugeMm'>,
): readonly MeasuredSection[] {
  const n = timeMs.length;
  const measured =
    n === 0
      ? null
      : {
          fromGaugeMm: gaugeMm[0]!,
          toGaugeMm: gaugeMm[n - 1]!,
          fromMs: timeMs[0]!,
          toMs: timeMs[n - 1]!,
          pitchMm: n < 2 ? 0 : (gaugeMm[n - 1]! - gaugeMm[0]!) / (n - 1),
        };
  const here = found.filter((section) => section.toMm > startGaugeMm && section.fromMm < endGaugeMm);
  return withUnseenEnds(here, { startGaugeMm, endGaugeMm }, measured);
}
