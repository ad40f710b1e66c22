import type { MeasuredSection } from '../../server/strand/section.ts';
import { type ScannedStrand, SectionScan } from '../../server/strand/section-scan.ts';
import { USUAL_LIMITS } from './usual-limits.ts';

/** All sections of recorded strand, found as the service finds them in stored readings. */
export function scan(strand: ScannedStrand, limits = USUAL_LIMITS): MeasuredSection[] {
  const sections = new SectionScan(limits);
  sections.readNew(strand);
  return sections.close();
}
