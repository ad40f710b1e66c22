import type { RecognisedSignals, RecognisedZone } from '../reading/reading.ts';
import { duration } from './plain-numbers.ts';

/** What is not watched although lines arrive, and why, as sentences; null = it is watched. */
export interface Unwatched {
  readonly strand: string | null;
  /** Places on the spool. */
  readonly places: string | null;
  readonly heat: string | null;
  /** Faults of the heat that cannot be seen because a zone does not send everything. */
  readonly heatInPart: string | null;
  /** What minor rules would watch: ovality, which needs two axes of the gauge, and a cold start of the screw, which needs the screw speed. */
  readonly minor: readonly ('outOfRound' | 'coldScrew')[];
}

export interface WatchFacts {
  /** null = no reading yet. */
  readonly understood: RecognisedSignals | null;
  /** A value from the gauge that cannot be a diameter, mm; null = none. */
  readonly impossibleMm: number | null;
  readonly nominalMm: number;
  /** A speed that no strand has, mm/s; null = none. */
  readonly impossibleMmPerS: number | null;
  /** Time without a diameter while strand is made, s. */
  readonly noDiameterForS: number;
  /** Strand speed from the settings, mm/s; 0 = not given. */
  readonly setSpeedMmPerS: number;
  /** Length counter and speed contradict each other. */
  readonly lengthContradicts: boolean;
  /** Names of the zones, from the hopper. */
  readonly zoneNames: readonly string[];
}

export const ALL_WATCHED: Unwatched = { strand: null, places: null, heat: null, heatInPart: null, minor: [] };

/** A gauge may skip a reading or two, s. */
export const NO_DIAMETER_AFTER_S = 3;
const NAMES_LISTED = 3;

/** No news must mean that all is well, so anything that is not watched is reported. */
export function unwatched(facts: WatchFacts): Unwatched {
  const { understood, impossibleMm, nominalMm, noDiameterForS, zoneNames } = facts;
  if (understood === null) return ALL_WATCHED;
  const { temperature, travel, screwSpeed, twoAxes, zones } = understood;
  return {
    strand: strandTrouble(understood, impossibleMm, nominalMm, noDiameterForS),
    places: placesTrouble(travel, facts),
    heat: temperature ? null : 'No temperature arrives: the heat is not watched.',
    heatInPart: temperature ? heatGaps(zones, zoneNames) : null,
    minor: [...(twoAxes ? [] : (['outOfRound'] as const)), ...(screwSpeed ? [] : (['coldScrew'] as const))],
  };
}

function placesTrouble(
  isTravelSent: boolean,
  { setSpeedMmPerS, impossibleMmPerS, lengthContradicts }: WatchFacts,
): string | null {
  if (!isTravelSent && setSpeedMmPerS === 0)
    return 'Neither speed nor length arrives: places on the spool are unknown. Set the strand speed in Set-up.';
  if (impossibleMmPerS !== null && setSpeedMmPerS === 0) {
    const shown = `${impossibleMmPerS.toFixed(0)} mm/s`;
    return `A strand cannot move at ${shown}: places on the spool are unknown. Set the factor of the speed in Set-up.`;
  }
  return lengthContradicts ? 'Length counter and speed disagree: places on the spool are unknown.' : null;
}

/** What each zone does not send, and what therefore goes unnoticed, one sentence for each kind of gap. */
const GAPS: readonly {
  readonly of: (zone: RecognisedZone) => boolean;
  readonly what: string;
  readonly unnoticed: string;
}[] = [
  { of: ({ temperature }) => !temperature, what: 'No temperature', unnoticed: 'heat faults go unnoticed' },
  {
    of: ({ temperature, setpoint, power }) => temperature && !setpoint && !power,
    what: 'No set-point or power',
    unnoticed: 'a lost heater goes unnoticed',
  },
  {
    of: ({ temperature, setpoint, power }) => temperature && setpoint && !power,
    what: 'No power',
    unnoticed: 'a lost heater is noticed late, a weak one only while heating up',
  },
  {
    of: ({ temperature, setpoint, power }) => temperature && !setpoint && power,
    what: 'No set-point',
    unnoticed: 'a wrong temperature goes unnoticed',
  },
];

function heatGaps(zones: readonly RecognisedZone[], zoneNames: readonly string[]): string | null {
  const sentences = GAPS.flatMap(({ of, what, unnoticed }) => {
    const names = zones.filter(of).map(({ zone }) => zoneNames[zone - 1] || `Zone ${zone}`);
    if (names.length === 0) return [];
    const from = names.length === zones.length && zones.length > 1 ? 'any zone' : listed(names);
    return [`${what} arrives from ${from}: ${unnoticed}.`];
  });
  return sentences.length === 0 ? null : sentences.join(' ');
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
    if (!temperature) return `Neither diameter nor temperature arrives: neither strand nor heat is watched.${hint}`;
    return `No diameter arrives: the strand is not watched.${hint}`;
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
