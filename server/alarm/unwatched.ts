import type { RecognisedSignals } from '../reading/reading.ts';
import { duration } from './plain-numbers.ts';

/** Why strand or heat are not watched although lines arrive, as sentences; null = watched. */
export interface Unwatched {
  readonly strand: string | null;
  readonly heat: string | null;
}

export interface WatchFacts {
  /** null = no reading yet. */
  readonly understood: RecognisedSignals | null;
  /** A value from the gauge that cannot be a diameter, mm; null = none. */
  readonly impossibleMm: number | null;
  readonly nominalMm: number;
  /** Time without a diameter while strand is made, s. */
  readonly noDiameterForS: number;
}

export const ALL_WATCHED: Unwatched = { strand: null, heat: null };

/** A gauge may skip a reading or two, s. */
export const NO_DIAMETER_AFTER_S = 3;
const NAMES_LISTED = 3;

/** No news must mean that all is well, so anything that is not watched is reported. */
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
    const hint = unknownNames.length === 0 ? '' : ' Say in Set-up what each name stands for.';
    if (!anything) return `No name in the lines is understood (${listed(unknownNames)}): nothing is watched.${hint}`;
    if (!temperature) return `No diameter and no temperature comes: neither strand nor heat is watched.${hint}`;
    return `No diameter comes: the strand is not watched.${hint}`;
  }
  if (impossibleMm !== null) {
    const shown = impossibleMm.toFixed(impossibleMm < 100 ? 1 : 0);
    return `${shown} mm cannot be a strand: ${unitQuestion(impossibleMm / nominalMm)} Set its factor in Set-up.`;
  }
  if (noDiameterForS >= NO_DIAMETER_AFTER_S)
    return `No diameter from the gauge for ${duration(noDiameterForS)}: the strand is not watched.`;
  return null;
}

function listed(names: readonly string[]): string {
  const more = names.length - NAMES_LISTED;
  return names.slice(0, NAMES_LISTED).join(', ') + (more > 0 ? ` and ${more} more` : '');
}

/** Guesses the gauge's unit from the ratio to the nominal diameter. */
function unitQuestion(timesNominal: number): string {
  for (const [units, name] of [
    [10, 'tenths of a millimetre'],
    [100, 'hundredths of a millimetre'],
    [1000, 'micrometres'],
  ] as const) {
    if (timesNominal > units / 2 && timesNominal < units * 2) return `does the gauge send ${name}?`;
  }
  return 'does the gauge send raw counts?';
}
