import type { JudgedSection, SpoolJudgement } from '../../server/api/spool-contract.ts';
import type { PlacedSection } from '../spool/section-order.ts';

/**
 * Sections as judged for a printer, in the shape that the ribbon and the table take. Their places are as the line counted
 * them; one without a recorded id keeps the id of this answer, which no recorded section has.
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
    fromSpoolMm: section.fromIndicatedMm,
    toSpoolMm: section.toIndicatedMm,
    fromTimeMs: section.fromTimeMs,
    toTimeMs: section.toTimeMs,
    peakMm: section.peakMm,
    peakSpoolMm: peakIndicated(section),
    volumeBeyondMm3: section.volumeBeyondMm3,
    certainty: section.certainty,
    verdict: section.verdict,
    note: section.note,
    origin: section.origin,
    open: false,
    reachesWinderInS: null,
  }));
}

/** The peak's place lies as far along the counted stretch as along the true one. */
function peakIndicated(section: JudgedSection): number | null {
  if (section.peakAtMm === null || section.lengthMm <= 0) return null;
  const share = (section.peakAtMm - section.fromMm) / section.lengthMm;
  return section.fromIndicatedMm + share * (section.toIndicatedMm - section.fromIndicatedMm);
}
