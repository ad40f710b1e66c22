import type { SpectrumPeak } from './spectrum-peaks.ts';

/** A periodically moving part of the line, with its period in length of strand or in time. */
export type PossibleCause =
  | { readonly name: string; readonly periodMm: number }
  | { readonly name: string; readonly periodS: number };

/** Parts of the line as set; null = not known. */
export interface LineParts {
  readonly rollerCircumferenceMm: number | null;
  readonly screwTurnsPerMin: number | null;
  /** What repeats several times per turn of a shaft: meshing teeth, the motor before a gearbox. */
  readonly gears: readonly {
    readonly name: string;
    readonly shaft: 'screw' | 'roller';
    readonly cyclesPerTurn: number;
  }[];
  readonly controlPeriodS: number | null;
}

export function causesOf(parts: LineParts): readonly PossibleCause[] {
  const causes: PossibleCause[] = [];
  const positive = (value: number | null): value is number => value !== null && value > 0;
  const { rollerCircumferenceMm, screwTurnsPerMin } = parts;
  const gearsOn = (shaft: 'screw' | 'roller') => parts.gears.filter((gear) => gear.shaft === shaft);
  if (positive(rollerCircumferenceMm)) {
    causes.push({ name: 'puller roller', periodMm: rollerCircumferenceMm });
    for (const { name, cyclesPerTurn } of gearsOn('roller'))
      causes.push({ name, periodMm: rollerCircumferenceMm / cyclesPerTurn });
  }
  if (positive(screwTurnsPerMin)) {
    const turnS = 60 / screwTurnsPerMin;
    causes.push({ name: 'screw', periodS: turnS });
    for (const { name, cyclesPerTurn } of gearsOn('screw')) causes.push({ name, periodS: turnS / cyclesPerTurn });
  }
  if (positive(parts.controlPeriodS)) causes.push({ name: 'diameter control', periodS: parts.controlPeriodS });
  return causes;
}

export interface NamedCause {
  readonly cause: string;
  /** 1 = the period itself, 2 = half of it, … */
  readonly harmonic: number;
  /** Distance of the peak from the expected frequency, as a share of it. */
  readonly off: number;
  readonly sentence: string;
}

/** Set lengths and speeds are accurate to about this share: rollers wear, and screw speeds are read off a scale. */
const SET_SHARE = 0.02;
const HARMONICS = 4;

/**
 * Causes that fit a peak: hints, never verdicts. Periods in the other domain are converted with the mean speed; its spread
 * (sd / mean) widens the match.
 */
export function nameCauses(
  peak: Pick<SpectrumPeak, 'frequency' | 'frequencyUncertainty'>,
  domain: 'length' | 'time',
  causes: readonly PossibleCause[],
  speed: { readonly meanMmPerS: number; readonly spreadShare: number } | null,
): readonly NamedCause[] {
  const named: NamedCause[] = [];
  for (const cause of causes) {
    const own = 'periodMm' in cause ? 'length' : 'time';
    let period = 'periodMm' in cause ? cause.periodMm : cause.periodS;
    let share = SET_SHARE;
    if (own !== domain) {
      if (speed === null || !(speed.meanMmPerS > 0)) continue;
      period = own === 'length' ? period / speed.meanMmPerS : period * speed.meanMmPerS;
      share += speed.spreadShare;
    }
    for (let harmonic = 1; harmonic <= HARMONICS; harmonic++) {
      const expected = harmonic / period;
      const distance = Math.abs(peak.frequency - expected);
      if (distance > share * expected + 2 * peak.frequencyUncertainty) continue;
      const fraction = harmonic === 1 ? 'one turn or cycle' : `1/${harmonic} of a turn or cycle`;
      named.push({
        cause: cause.name,
        harmonic,
        off: distance / expected,
        sentence: `The period fits ${fraction} of: ${cause.name}.`,
      });
    }
  }
  return named.sort((a, b) => a.off - b.off || a.harmonic - b.harmonic);
}
