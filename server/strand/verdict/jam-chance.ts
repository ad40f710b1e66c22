import { garwoodInterval } from '../statistics/poisson.ts';

export interface JamChance {
  readonly oversizePerMetre: number;
  /** Chance that a print of this length meets at least one; estimate and 95 % interval, each 0 to 1. */
  readonly chance: number;
  readonly lower: number;
  readonly upper: number;
  readonly sentence: string;
}

/**
 * Chance of a jam, assuming that each oversize stretch causes one and that they occur at random (Poisson):
 * 1 − e^(−rate·length). Where none was found, the estimate is 0 and the upper bound is what matters.
 *
 * @param oversizeCount oversize stretches in `examinedMm` of measured strand that are not cut out
 * @returns null where nothing was examined
 */
export function jamChance(oversizeCount: number, examinedMm: number, printMm: number): JamChance | null {
  if (!(printMm >= 0)) throw new RangeError(`the length of a print must be 0 or above, not ${printMm} mm`);
  if (!(examinedMm > 0)) return null;
  const interval = garwoodInterval(oversizeCount);
  const chanceAt = (count: number): number => -Math.expm1((-count * printMm) / examinedMm);
  const chance = chanceAt(oversizeCount);
  const lower = chanceAt(interval.lower);
  const upper = chanceAt(interval.upper);
  const metres = (printMm / 1000).toFixed(1);
  const sentence =
    oversizeCount === 0
      ? `No oversize stretch was found in ${(examinedMm / 1000).toFixed(1)} m, so a print of ${metres} m jams with a chance of ${percent(upper)} at most (95 % confidence).`
      : `${oversizeCount} oversize in ${(examinedMm / 1000).toFixed(1)} m: a print of ${metres} m meets one with a chance of ${percent(chance)} (95 % interval ${percent(lower)} to ${percent(upper)}).`;
  return { oversizePerMetre: (oversizeCount / examinedMm) * 1000, chance, lower, upper, sentence };
}

function percent(share: number): string {
  const value = share * 100;
  return `${value > 99.95 || value < 0.05 || value >= 10 ? value.toFixed(value < 0.05 && value > 0 ? 3 : 0) : value.toFixed(1)} %`;
}
