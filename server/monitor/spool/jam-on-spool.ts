import { type JamChance, jamChance } from '../../strand/verdict/jam-chance.ts';
import type { Judgement } from './judgement.ts';

type ChanceOnStrand = JamChance & { readonly oversize: number; readonly examinedMm: number };

/** The chance that a print from the spool jams, as wound and after cutting; null = nothing was measured. */
export interface JamOnSpool {
  readonly printMm: number;
  readonly asWound: ChanceOnStrand | null;
  readonly afterCutting: ChanceOnStrand | null;
}

export function jamOnSpool({ sections, woundMm, totals, verdict }: Judgement, printMm: number): JamOnSpool {
  const oversize = sections.filter(
    ({ kind, certainty, verdict: ofSection }) => kind === 'blob' && certainty === 'sure' && ofSection === 'discard',
  ).length;
  const examinedMm = woundMm - totals.unknownMm;
  const chance = (count: number, ofMm: number): ChanceOnStrand | null => {
    const found = jamChance(count, ofMm, printMm);
    return found === null ? null : { ...found, oversize: count, examinedMm: ofMm };
  };
  const after = verdict?.afterCutting ?? null;
  return {
    printMm,
    asWound: chance(oversize, examinedMm),
    afterCutting: after === null ? chance(oversize, examinedMm) : chance(0, after.keptMm),
  };
}
