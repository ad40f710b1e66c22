import { type PlanStretch, stretchOfSection } from '../../strand/plan/cut-request.ts';
import type { Section } from '../../strand/section.ts';

/** Sections that are not good, as true lengths from the inner end of a spool that holds `woundMm`. */
export function stretchesOnSpool(
  sections: readonly Section[],
  startGaugeMm: number,
  lengthFactor: number,
  woundMm: number,
): PlanStretch[] {
  return sections.flatMap((section) => {
    const stretch = stretchOfSection(section, startGaugeMm);
    return stretch === null ? [] : [within(scaledBy(stretch, lengthFactor), 0, woundMm)];
  });
}

/** The part of a stretch that lies on the `lengthMm` from `startMm` on, counted from there. */
export function within(stretch: PlanStretch, startMm: number, lengthMm: number): PlanStretch {
  const { fromMm, toMm, peakAtMm } = stretch;
  const inside = (mm: number) => Math.min(lengthMm, Math.max(0, mm - startMm));
  return {
    ...stretch,
    fromMm: inside(fromMm),
    toMm: inside(toMm),
    peakAtMm: peakAtMm === null || peakAtMm === undefined ? null : inside(peakAtMm),
  };
}

function scaledBy(stretch: PlanStretch, factor: number): PlanStretch {
  const { fromMm, toMm, peakAtMm } = stretch;
  return {
    ...stretch,
    fromMm: fromMm * factor,
    toMm: toMm * factor,
    peakAtMm: peakAtMm === null || peakAtMm === undefined ? null : peakAtMm * factor,
  };
}
