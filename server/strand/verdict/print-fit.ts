import { Problem } from '../../problem/problem.ts';
import { gramsOfLength, lengthOfGrams } from '../mass.ts';
import type { SpoolVerdict } from './spool-verdict.ts';

export interface CoilOnOffer {
  readonly name: string;
  readonly lengthMm: number;
  /** k = 2. */
  readonly lengthUncertaintyMm: number;
}

/** Metres or grams; far more than any spool holds. */
export const PRINT_AMOUNT_MAX = 1_000_000;

/** How much strand a print needs. */
export interface PrintAmount {
  readonly amount: number;
  readonly unit: 'grams' | 'metres';
}

export interface PrintFit {
  readonly needMm: number;
  /** Need plus reserve. */
  readonly withReserveMm: number;
  /** The shortest coil that is surely long enough; null if there is none. */
  readonly coil: string | null;
  readonly leftOverMm: number | null;
  readonly leftOverUncertaintyMm: number | null;
  /** All that are surely long enough, shortest first. */
  readonly longEnough: readonly string[];
  /** All that may be, within the uncertainty of their length. */
  readonly perhaps: readonly string[];
  /** If there is none: the fewest coils that are surely long enough together, longest first; null if even all are too short. */
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

/** Length of an amount of strand. */
export function lengthOfAmountMm(
  { amount, unit }: PrintAmount,
  { diameterMm, densityGPerCm3 }: PrintFitOptions,
): number {
  return unit === 'metres' ? amount * 1000 : lengthOfGrams(amount, diameterMm, densityGPerCm3);
}

/** Strand that a print needs, with its reserve, mm. */
export function withReserveMm(print: PrintAmount, options: PrintFitOptions): number {
  return lengthOfAmountMm(print, options) * (1 + RESERVE_SHARE) + RESERVE_MM;
}

/** @throws Problem `bad-length` for an amount that no print needs */
export function requirePrintAmount({ amount, unit }: PrintAmount): void {
  if (amount > 0 && amount <= PRINT_AMOUNT_MAX) return;
  throw new Problem(
    'bad-length',
    `The length or mass of the print is ${amount > 0 ? 'too large' : 'not above zero'}.`,
    'Give metres or grams above zero, at most 1,000,000.',
    { pointer: `/${unit}` },
  );
}

/** The amount that a query gives in one of two units. @throws Problem `bad-length` if it gives none or both */
export function printAmountOf(metres: number | undefined, grams: number | undefined): PrintAmount {
  if ((metres === undefined) === (grams === undefined)) {
    throw new Problem(
      'bad-length',
      metres === undefined ? 'The length or mass of the print is missing.' : 'Both metres and grams were given.',
      'Give either metres or grams.',
      { pointer: metres === undefined ? '/metres' : '/grams' },
    );
  }
  return metres !== undefined ? { amount: metres, unit: 'metres' } : { amount: grams ?? 0, unit: 'grams' };
}

/** Finds the coil for a print: the shortest that is surely long enough, so that the long ones stay whole. */
export function fitPrint(coils: readonly CoilOnOffer[], print: PrintAmount, options: PrintFitOptions): PrintFit {
  requirePrintAmount(print);
  const need = withReserveMm(print, options);
  const leastMm = (coil: CoilOnOffer) => coil.lengthMm - coil.lengthUncertaintyMm;
  const sorted = [...coils].sort((a, b) => a.lengthMm - b.lengthMm);
  const longEnough = sorted.filter((coil) => leastMm(coil) >= need);
  const perhaps = sorted.filter((coil) => leastMm(coil) < need && coil.lengthMm + coil.lengthUncertaintyMm >= need);
  const best = longEnough[0];
  const needText = `${(need / 1000).toFixed(1)} m (${gramsOfLength(need, options.diameterMm, options.densityGPerCm3).toFixed(0)} g with reserve)`;
  const together = best === undefined ? fewestTogether(sorted, leastMm, need) : null;
  return {
    needMm: lengthOfAmountMm(print, options),
    withReserveMm: need,
    coil: best?.name ?? null,
    leftOverMm: best === undefined ? null : best.lengthMm - need,
    leftOverUncertaintyMm: best?.lengthUncertaintyMm ?? null,
    longEnough: longEnough.map((coil) => coil.name),
    perhaps: perhaps.map((coil) => coil.name),
    together,
    sentence: `The print needs ${needText}: ${answer(best, perhaps[perhaps.length - 1], together, need)}`,
  };
}

function fewestTogether(
  shortestFirst: readonly CoilOnOffer[],
  leastMm: (coil: CoilOnOffer) => number,
  need: number,
): string[] | null {
  const taken: CoilOnOffer[] = [];
  let sum = 0;
  for (const coil of [...shortestFirst].reverse()) {
    if (sum >= need) break;
    taken.push(coil);
    sum += leastMm(coil);
  }
  return sum >= need ? taken.map((coil) => coil.name) : null;
}

function answer(
  best: CoilOnOffer | undefined,
  perhaps: CoilOnOffer | undefined,
  together: readonly string[] | null,
  need: number,
): string {
  if (best !== undefined)
    return `take coil ${best.name}; ${plusMinus(best.lengthMm - need, best.lengthUncertaintyMm)} will be left.`;
  const also = together === null ? '' : ` ${together.join(', ')} together are, with a change of filament.`;
  if (perhaps !== undefined)
    return `coil ${perhaps.name} may be long enough, but its length, ${plusMinus(perhaps.lengthMm, perhaps.lengthUncertaintyMm)}, is not certain enough. Measure a stretch by tape to find out.${also}`;
  return also === '' ? 'all coils together are too short.' : `no coil is long enough on its own;${also}`;
}

function plusMinus(mm: number, uncertaintyMm: number): string {
  const metres = (mm / 1000).toFixed(1);
  return uncertaintyMm > 0 ? `${metres} ± ${(uncertaintyMm / 1000).toFixed(1)} m` : `${metres} m`;
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
