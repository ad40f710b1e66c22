import { type PlanStretch, stretchOfSection } from '../../strand/plan/cut-request.ts';
import type { Section } from '../../strand/section.ts';

/** Sections that are not good, as true lengths from the inner end of a spool that holds `woundMm`. */
export function stretchesOnSpool(
  sections: readonly Section[],
  startGaugeMm: number,
  lengthFactor: number,
  woundMm: number,
): PlanStretch[] {
  const onSpool = (countedMm: number) => Math.min(woundMm, Math.max(0, countedMm * lengthFactor));
  return sections.flatMap((section) => {
    const stretch = stretchOfSection(section, startGaugeMm);
    if (stretch === null) return [];
    const { fromMm, toMm, peakAtMm } = stretch;
    const peak = peakAtMm === null || peakAtMm === undefined ? null : onSpool(peakAtMm);
    return [{ ...stretch, fromMm: onSpool(fromMm), toMm: onSpool(toMm), peakAtMm: peak }];
  });
}
