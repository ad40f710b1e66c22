import { Problem } from '../../problem/problem.ts';
import { gramsOfLength, lengthOfGrams } from '../mass.ts';
import type { SpoolVerdict } from './spool-verdict.ts';

export interface CoilOnOffer {
  readonly name: string;
  readonly lengthMm: number;
}

export type PrintNeed = { readonly metres: number } | { readonly grams: number };

export interface PrintFit {
  readonly needMm: number;
  /** Need plus reserve. */
  readonly withReserveMm: number;
  /** The shortest coil that is long enough; null if there is none. */
  readonly coil: string | null;
  readonly leftOverMm: number | null;
  /** All that are long enough, shortest first. */
  readonly longEnough: readonly string[];
  /** If there is none: the fewest coils that are long enough together, longest first; null if even all are too short. */
  readonly together: readonly string[] | null;
  readonly sentence: string;
}

export interface PrintFitOptions {
  /** Nominal diameter of the strand, as in the slicer. */
  readonly diameterMm: number;
  readonly densityGPerCm3: number;
}

/** For purge, skirt and a failed first layer. Common practice, no source. */
const RESERVE_SHARE = 0.03;
const RESERVE_MM = 500;

/** Finds the coil for a print: the shortest that is long enough, so that the long ones stay whole. */
export function fitPrint(coils: readonly CoilOnOffer[], need: PrintNeed, options: PrintFitOptions): PrintFit {
  const needMm =
    'metres' in need ? need.metres * 1000 : lengthOfGrams(need.grams, options.diameterMm, options.densityGPerCm3);
  if (!(needMm > 0) || !Number.isFinite(needMm))
    throw new Problem(
      'bad-length',
      'The length or mass of the print is not above zero.',
      'Give metres or grams above zero.',
      {
        pointer: 'metres' in need ? '/metres' : '/grams',
      },
    );
  const withReserveMm = needMm * (1 + RESERVE_SHARE) + RESERVE_MM;
  const sorted = [...coils].sort((a, b) => a.lengthMm - b.lengthMm);
  const longEnough = sorted.filter((coil) => coil.lengthMm >= withReserveMm);
  const best = longEnough[0];
  const needText = `${(withReserveMm / 1000).toFixed(1)} m (${gramsOfLength(withReserveMm, options.diameterMm, options.densityGPerCm3).toFixed(0)} g with reserve)`;
  let together: string[] | null = null;
  if (best === undefined) {
    const taken: CoilOnOffer[] = [];
    let sum = 0;
    for (const coil of sorted.reverse()) {
      if (sum >= withReserveMm) break;
      taken.push(coil);
      sum += coil.lengthMm;
    }
    if (sum >= withReserveMm) together = taken.map((coil) => coil.name);
  }
  const sentence =
    best !== undefined
      ? `The print needs ${needText}: take coil ${best.name}, ${((best.lengthMm - withReserveMm) / 1000).toFixed(1)} m will be left.`
      : together !== null
        ? `The print needs ${needText}: no coil is long enough alone; ${together.join(', ')} together are, with a change of filament.`
        : `The print needs ${needText}: all coils together are too short.`;
  return {
    needMm,
    withReserveMm,
    coil: best?.name ?? null,
    leftOverMm: best === undefined ? null : best.lengthMm - withReserveMm,
    longEnough: longEnough.map((coil) => coil.name),
    together,
    sentence,
  };
}

/** Why the answer may be wrong; null = no reason known. */
export function fitCaution(
  { fitness, sentence }: Pick<SpoolVerdict, 'fitness' | 'sentence'>,
  stillWinding: boolean,
  someLeftOut: boolean,
): string | null {
  if (fitness === 'unknown') return `${sentence} A coil that is long enough may still hold bad strand.`;
  if (stillWinding) return 'The spool is still being wound.';
  return someLeftOut ? 'Coils that are spoilt or in doubt at an end were left out.' : null;
}
