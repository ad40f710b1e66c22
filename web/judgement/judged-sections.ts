import type { SpoolJudgement } from '../../server/api/spool-contract.ts';
import type { PlacedSection } from '../spool/section-order.ts';

/**
 * Sections as judged for a printer, in the shape that the ribbon and the table take. One without a recorded id keeps the
 * id of this answer, which no recorded section has.
 */
export function judgedAsPlaced(
  judgement: Pick<SpoolJudgement, 'sections' | 'spoolId'>,
  spoolStartGaugeMm: number,
): PlacedSection[] {
  return judgement.sections.map((section) => ({
    id: section.recordedId ?? section.id,
    spoolId: judgement.spoolId,
    kind: section.kind,
    fromGaugeMm: spoolStartGaugeMm + section.fromIndicatedMm,
    toGaugeMm: spoolStartGaugeMm + section.toIndicatedMm,
    fromSpoolMm: section.fromMm,
    toSpoolMm: section.toMm,
    fromTimeMs: section.fromTimeMs,
    toTimeMs: section.toTimeMs,
    peakMm: section.peakMm,
    peakSpoolMm: section.peakAtMm,
    volumeBeyondMm3: section.volumeBeyondMm3,
    certainty: section.certainty,
    verdict: section.verdict,
    note: section.note,
    origin: section.origin,
    open: false,
    reachesWinderInS: null,
  }));
}
