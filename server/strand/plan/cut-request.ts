import { Problem } from '../../problem/problem.ts';
import type { Doubt, Section, SectionKind } from '../section.ts';
import type { NamedStrand } from './coil-names.ts';

/** A stretch of a spool that is not good. Positions in mm from the INNER end. */
export interface PlanStretch {
  readonly fromMm: number;
  readonly toMm: number;
  /** `unknown` = not measured. */
  readonly fate: 'discard' | 'doubtful' | 'unknown';
  readonly kind?: SectionKind;
  /** Why it may be good all the same. */
  readonly doubt?: Doubt;
  readonly peakMm?: number | null;
  readonly peakAtMm?: number | null;
}

/**
 * What the plan should achieve.
 *
 * - `mostLength`: the most strand in coils of at least the shortest length, with the fewest cuts that reach it.
 * - `fewestCuts`: the fewest cuts that keep at least `leastKeptShare` of that.
 * - `longestCoil`: the longest single coil, and then the most strand besides.
 * - `prints`: coils for as many of a list of prints as possible, and then the most strand.
 */
export const CUT_OBJECTIVES = ['mostLength', 'fewestCuts', 'longestCoil', 'prints'] as const;
export type CutObjective = (typeof CUT_OBJECTIVES)[number];

/** Planning for more prints would take too long. */
const PRINTS_MAX = 10;

/** Largest error of a counted length: ± (wheelShare + lengthScaleShare) · length ± slipMm. */
export interface CountError {
  /** Of the measuring wheel; 0.005 to 0.01 is common practice, no source. */
  readonly wheelShare: number;
  /** Of the length scale of the spool, after correction with a tape measure. */
  readonly lengthScaleShare: number;
  /** Of each count: its start, slip and the position of the knife. */
  readonly slipMm: number;
  /** Bad strand that may have been left out beside a stretch as measured; default 0. Unlike slip it does not add up. */
  readonly edgeMm?: number;
}

export const USUAL_COUNT_ERROR: CountError = {
  wheelShare: 0.01,
  lengthScaleShare: 0,
  slipMm: 26,
};

/** A stretch whose recorded length may be off by `offMm`, so that places on the far side may be off by as much. */
export interface UncertainStretch {
  readonly fromMm: number;
  readonly toMm: number;
  readonly offMm: number;
}

export interface CutRequest {
  readonly spoolName: string;
  readonly woundMm: number;
  readonly stretches: readonly PlanStretch[];
  readonly shortestCoilMm: number;
  readonly objective: CutObjective;
  /** Strand that each print needs, with its reserve, mm. */
  readonly printsMm?: readonly number[];
  /** Default 0.9. */
  readonly leastKeptShare?: number;
  readonly doubtful: 'keep' | 'cut';
  readonly unknown: 'keep' | 'cut';
  /** Default `USUAL_COUNT_ERROR`. */
  readonly countError?: CountError;
  /** Strand on which length counter and speed disagreed, mm from the INNER end. */
  readonly uncertain?: readonly UncertainStretch[];
  /** Names that users gave to strand of this spool, mm from its inner end. */
  readonly coilNames?: readonly NamedStrand[];
  /** Its outer end will move. */
  readonly stillWinding?: boolean;
  /** For the mass of the coils; null where not known. */
  readonly densityGPerCm3?: number | null;
  readonly meanDiameterMm?: number | null;
  /** Uncertainty of a mass as a share of it, k = 2; see `massUncertaintyShare`. */
  readonly massShare?: number;
}

/** A section as a stretch of the spool; null for a good one. @param placeOf position on the spool of a gauge length */
export function stretchOfSection(section: Section, placeOf: (gaugeMm: number) => number): PlanStretch | null {
  if (section.verdict === 'good') return null;
  return {
    fromMm: placeOf(section.fromMm),
    toMm: placeOf(section.toMm),
    // A user who discards an unmeasured stretch knows more than the gauge.
    fate: section.kind === 'unknown' && section.verdict !== 'discard' ? 'unknown' : section.verdict,
    kind: section.kind,
    ...(section.doubt === undefined ? {} : { doubt: section.doubt }),
    peakMm: section.peakMm,
    peakAtMm: section.peakAtMm === null ? null : placeOf(section.peakAtMm),
  };
}

/** @throws Problem `wrong-state` for an empty spool, else `bad-cut` */
export function checkCutRequest(request: CutRequest): void {
  const { woundMm, shortestCoilMm } = request;
  if (!Number.isFinite(woundMm) || woundMm < 0)
    throw bad(`The wound length of spool ${request.spoolName} is ${woundMm} mm.`, 'Give it in mm, zero or above.');
  if (Math.round(woundMm) === 0)
    throw new Problem(
      'wrong-state',
      `Spool ${request.spoolName} is empty: there is nothing to cut.`,
      'Wind it first, or choose another spool.',
    );
  if (!Number.isFinite(shortestCoilMm) || shortestCoilMm <= 0)
    throw bad(`The shortest coil worth keeping is ${shortestCoilMm} mm.`, 'Give a length above zero, in mm.');
  const { wheelShare, lengthScaleShare, slipMm } = request.countError ?? USUAL_COUNT_ERROR;
  if (!(wheelShare >= 0) || !(lengthScaleShare >= 0) || !(wheelShare + lengthScaleShare <= 0.2))
    throw bad(
      `The error of the count, ${wheelShare} + ${lengthScaleShare} of the length, is out of range.`,
      'Give each share between 0 and 0.2 (0.01 = 1 %), 0.2 together at most.',
    );
  if (!(slipMm >= 0) || !Number.isFinite(slipMm))
    throw bad(`The slip of the count is ${slipMm} mm.`, 'Give it in mm, zero or above.');
  const least = request.leastKeptShare ?? 0.9;
  if (!(least > 0 && least <= 1)) throw bad(`The share to keep is ${least}.`, 'Give it above 0 and up to 1.');
  for (const [name, value] of [
    ['density', request.densityGPerCm3],
    ['mean diameter', request.meanDiameterMm],
  ] as const) {
    if (value !== null && value !== undefined && (!(value > 0) || !Number.isFinite(value)))
      throw bad(`The ${name} is ${value}.`, 'Give it above zero, or leave it out.');
  }
  checkPrints(request);
  request.stretches.forEach(({ fromMm, toMm }, index) => {
    if (!Number.isFinite(fromMm) || !Number.isFinite(toMm))
      throw bad(`Stretch ${index + 1} is at ${fromMm} to ${toMm} mm.`, 'Give both ends in mm.');
    if (toMm < fromMm)
      throw bad(`Stretch ${index + 1} ends (${toMm} mm) before it begins (${fromMm} mm).`, 'Swap its two ends.');
  });
}

function checkPrints({ printsMm = [] }: CutRequest): void {
  if (printsMm.length > PRINTS_MAX)
    throw bad(
      `The list has ${printsMm.length} prints.`,
      `Give ${PRINTS_MAX} at most: plan the spool for the most important ones.`,
    );
  for (const [i, mm] of printsMm.entries())
    if (!(mm > 0) || !Number.isFinite(mm))
      throw bad(`Print ${i + 1} needs ${mm} mm of strand.`, 'Give a length above zero.');
}

function bad(message: string, remedy: string): Problem {
  return new Problem('bad-cut', message, remedy);
}
