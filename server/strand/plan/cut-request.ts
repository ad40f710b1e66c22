import { Problem } from '../../problem/problem.ts';
import type { Section, SectionKind } from '../section.ts';
import type { NamedStrand } from './coil-names.ts';

/** A stretch of a spool that is not plainly good. Positions in mm from the INNER end. */
export interface PlanStretch {
  readonly fromMm: number;
  readonly toMm: number;
  /** `unknown` = nothing was measured there. */
  readonly fate: 'discard' | 'doubtful' | 'unknown';
  readonly kind?: SectionKind;
  readonly peakMm?: number | null;
  readonly peakAtMm?: number | null;
}

/** How wrong a counted length can be: ± (wheelShare + lengthScaleShare) · length ± slipMm. */
export interface CountError {
  /** Of the measuring wheel; 0.005 to 0.01 is common practice, no source. */
  readonly wheelShare: number;
  /** Of the length scale of the spool itself, after correction by a tape measurement. */
  readonly lengthScaleShare: number;
  /** Start of the count, slip, position of the knife. */
  readonly slipMm: number;
}

export const USUAL_COUNT_ERROR: CountError = {
  wheelShare: 0.01,
  lengthScaleShare: 0,
  slipMm: 20,
};

export interface CutRequest {
  readonly spoolName: string;
  readonly woundMm: number;
  readonly stretches: readonly PlanStretch[];
  readonly shortestCoilMm: number;
  /**
   * `mostLength`: the most strand in coils of at least the shortest length, by the fewest cuts that reach it.
   * `fewestCuts`: the fewest cuts that keep at least `leastKeptShare` of that.
   */
  readonly objective: 'mostLength' | 'fewestCuts';
  /** Default 0.9. */
  readonly leastKeptShare?: number;
  readonly doubtful: 'keep' | 'cut';
  readonly unknown: 'keep' | 'cut';
  /** Default `USUAL_COUNT_ERROR`. */
  readonly countError?: CountError;
  /** Names that users gave to strand of this spool, mm from its inner end. */
  readonly coilNames?: readonly NamedStrand[];
  /** Its outer end will move. */
  readonly stillWinding?: boolean;
  /** For the coils' grams; null where either is not known. */
  readonly densityGPerCm3?: number | null;
  readonly meanDiameterMm?: number | null;
}

/** A detector's or person's section as a stretch of the spool that began at a gauge length; null for a good one. */
export function stretchOfSection(section: Section, spoolStartMm: number): PlanStretch | null {
  if (section.verdict === 'good') return null;
  return {
    fromMm: section.fromMm - spoolStartMm,
    toMm: section.toMm - spoolStartMm,
    // A person who calls an unmeasured stretch bad knows more than the gauge.
    fate: section.kind === 'unknown' && section.verdict !== 'discard' ? 'unknown' : section.verdict,
    kind: section.kind,
    peakMm: section.peakMm,
    peakAtMm: section.peakAtMm === null ? null : section.peakAtMm - spoolStartMm,
  };
}

/** Throws a Problem that names what is wrong: `wrong-state` for an empty spool, `bad-cut` for the rest. */
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
      `A count that errs by ${wheelShare} + ${lengthScaleShare} of the length guides no knife.`,
      'Give each share between 0 and 0.2 (0.01 = 1 %), 0.2 together at most.',
    );
  if (!(slipMm >= 0) || !Number.isFinite(slipMm))
    throw bad(`A slip of ${slipMm} mm has no meaning.`, 'Give mm from 0.');
  const least = request.leastKeptShare ?? 0.9;
  if (!(least > 0 && least <= 1)) throw bad(`A share of ${least} to keep has no meaning.`, 'Give above 0, up to 1.');
  for (const [name, value] of [
    ['density', request.densityGPerCm3],
    ['mean diameter', request.meanDiameterMm],
  ] as const) {
    if (value !== null && value !== undefined && (!(value > 0) || !Number.isFinite(value)))
      throw bad(`The ${name} is ${value}.`, 'Give it above zero, or leave it out.');
  }
  request.stretches.forEach(({ fromMm, toMm }, index) => {
    if (!Number.isFinite(fromMm) || !Number.isFinite(toMm))
      throw bad(`Stretch ${index + 1} is at ${fromMm} to ${toMm} mm.`, 'Give both ends in mm.');
    if (toMm < fromMm)
      throw bad(`Stretch ${index + 1} ends (${toMm} mm) before it begins (${fromMm} mm).`, 'Swap its two ends.');
  });
}

function bad(message: string, remedy: string, pointer: string | null = null): Problem {
  return new Problem('bad-cut', message, remedy, { pointer });
}
