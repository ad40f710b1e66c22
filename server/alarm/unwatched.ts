import type { RecognisedSignals } from '../reading/reading.ts';
import { duration } from './plain-numbers.ts';

/** Why strand or heat are not watched although lines come, a sentence each; null = it is watched. */
export interface Unwatched {
  readonly strand: string | null;
  readonly heat: string | null;
}

export interface WatchFacts {
  /** null = no reading has come yet. */
  readonly understood: RecognisedSignals | null;
  /** What the gauge sends instead of a diameter, mm; null = a diameter, or nothing. */
  readonly impossibleMm: number | null;
  readonly nominalMm: number;
  /** Strand is made, and no diameter has come for so long, s. */
  readonly noDiameterForS: number;
}

export const ALL_WATCHED: Unwatched = { strand: null, heat: null };

/** A gauge may skip a reading or two. */
export const NO_DIAMETER_AFTER_S = 3;
const NAMES_TOLD = 3;

/** Silence must mean that all is well: so what nobody watches is told. */
export function unwatched({ understood, impossibleMm, nominalMm, noDiameterForS }: WatchFacts): Unwatched {
  if (understood === null) return ALL_WATCHED;
  const heat = understood.temperature ? null : 'No temperature comes: the heat is not watched.';
  return { strand: strandTrouble(understood, impossibleMm, nominalMm, noDiameterForS), heat };
}

function strandTrouble(
  understood: RecognisedSignals,
  impossibleMm: number | null,
  nominalMm: number,
  noDiameterForS: number,
): string | null {
  const { diameter, temperature, anything, unknownNames } = understood;
  if (!diameter) {
    const say = unknownNames.length === 0 ? '' : ' Say in Set-up what each name stands for.';
    if (!anything) return `No name in the lines is understood (${listed(unknownNames)}): nothing is watched.${say}`;
    if (!temperature) return `No diameter and no temperature comes: neither strand nor heat is watched.${say}`;
    return `No diameter comes: the strand is not watched.${say}`;
  }
  if (impossibleMm !== null) {
    const shown = impossibleMm.toFixed(impossibleMm < 100 ? 1 : 0);
    return `${shown} mm cannot be a strand: ${unitAsked(impossibleMm / nominalMm)} Set its factor in Set-up.`;
  }
  if (noDiameterForS >= NO_DIAMETER_AFTER_S)
    return `No diameter from the gauge for ${duration(noDiameterForS)}: the strand is not watched.`;
  return null;
}

function listed(names: readonly string[]): string {
  const more = names.length - NAMES_TOLD;
  return names.slice(0, NAMES_TOLD).join(', ') + (more > 0 ? ` and ${more} more` : '');
}

/** The gauge's own unit, where the number of them in a nominal diameter gives it away. */
function unitAsked(timesNominal: number): string {
  for (const [units, name] of [
    [10, 'tenths of a millimetre'],
    [100, 'hundredths of a millimetre'],
    [1000, 'micrometres'],
  ] as const) {
    if (timesNominal > units / 2 && timesNominal < units * 2) return `does the gauge send ${name}?`;
  }
  return 'does the gauge send raw counts?';
}
