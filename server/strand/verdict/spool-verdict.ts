import { capital } from '../../problem/sentence.ts';
import { type CutPlan, type KeptByPlan, keptBy, planCuts } from '../plan/cut-plan.ts';
import type { CutRequest } from '../plan/cut-request.ts';
import { lengthText } from '../plan/landmark-hint.ts';
import { type CleanPiece, cleanPieces, lengthsOfFates } from './clean-pieces.ts';
import type { FlowError } from './flow-error.ts';
import { checkPrinterProfile, type PrinterProfile } from './printer-profile.ts';

export const FITNESSES = ['fit', 'fitAfterCutting', 'notFit', 'unknown'] as const;
export type Fitness = (typeof FITNESSES)[number];

export interface VerdictInput {
  /** Name within a sentence: “spool R3-1”. */
  readonly name: string;
  readonly nominalMm: number;
  readonly profile: PrinterProfile;
  /** The cut plan for this strand and printer. */
  readonly plan: CutPlan;
  /** Why no verdict is possible for this printer, whatever the stretches. */
  readonly unknownBecause?: string;
}

export interface SpoolVerdict {
  readonly fitness: Fitness;
  readonly sentence: string;
  readonly reasons: readonly string[];
  readonly longestCleanPiece: CleanPiece | null;
  /** What the plan keeps; null when nothing has to be cut, and nothing was. */
  readonly afterCutting: (KeptByPlan & { readonly cuts: number }) | null;
}

/** Where more than this was not measured, no verdict is given. */
const UNKNOWN_SHARE_MAX = 0.01;
/** A mean flow error from here on is mentioned: visible banding starts at 2 to 3 %. Common practice, no source. */
const FLOW_TO_MENTION = 0.02;

/**
 * The verdict on a spool or coil for one printer. Unmeasured strand may hide a blob, so it is never taken for good: where
 * there is too much of it, no verdict is possible. A spool is unfit only if it would be even with all of that strand good.
 */
export function spoolVerdict(input: VerdictInput): SpoolVerdict {
  const { name, profile, plan } = input;
  checkPrinterProfile(profile, input.nominalMm);
  const { stretches, woundMm, shortestCoilMm } = plan.request;
  const lengths = lengthsOfFates(woundMm, stretches);
  const unknownShare = lengths.unknown / woundMm;

  const reasons: string[] = [];
  if (lengths.discard > 0)
    reasons.push(`${lengthText(lengths.discard)} is certainly too thick or too thin, or was marked for discard.`);
  if (lengths.doubtful > 0)
    reasons.push(`${lengthText(lengths.doubtful)} is in doubt: the gauge cannot tell whether it is beyond a limit.`);
  if (lengths.unknown > 0)
    reasons.push(`${lengthText(lengths.unknown)} (${(unknownShare * 100).toFixed(1)} %) was not reliably measured.`);

  const needsCutting = lengths.discard + lengths.doubtful > 0;
  const { unknownBecause } = input;
  const atBest = needsCutting ? keptAtBest(plan, 'cut') : woundMm;
  let fitness: Fitness;
  let why = unknownBecause ?? '';
  // Unfit only if no coil would be left even with the doubtful stretches good.
  if (unknownBecause !== undefined) fitness = 'unknown';
  else if (atBest >= shortestCoilMm || !needsCutting) {
    if (unknownShare > UNKNOWN_SHARE_MAX) {
      fitness = 'unknown';
      why = `${(unknownShare * 100).toFixed(0)} % of it was not reliably measured`;
    } else fitness = needsCutting ? 'fitAfterCutting' : 'fit';
  } else {
    fitness = keptAtBest(plan, 'keep') < shortestCoilMm ? 'notFit' : 'unknown';
    why = 'for too much of it the gauge cannot tell';
  }

  if (fitness === 'notFit')
    reasons.push(`No piece of at least ${lengthText(shortestCoilMm)} would be left after cutting.`);
  if (fitness === 'fit' && reasons.length === 0)
    reasons.push('Every measured diameter is certainly within what the printer takes.');

  return {
    fitness,
    sentence: sentenceFor(fitness, name, profile.name, plan, why),
    reasons,
    longestCleanPiece: cleanPieces(woundMm, stretches)[0] ?? null,
    afterCutting: needsCutting || lengths.unknown > 0 || plan.done.length > 0 ? whatPlanKeeps(plan) : null,
  };
}

/** The same verdict after more cuts: they may change what is kept, but not whether the strand is fit. */
export function afterCuts(verdict: SpoolVerdict, plan: CutPlan, name: string, printer: string): SpoolVerdict {
  const { fitness } = verdict;
  const sentence = fitness === 'fitAfterCutting' ? sentenceFor(fitness, name, printer, plan, '') : verdict.sentence;
  return { ...verdict, sentence, afterCutting: whatPlanKeeps(plan) };
}

function whatPlanKeeps(plan: CutPlan): NonNullable<SpoolVerdict['afterCutting']> {
  return { ...keptBy(plan), cuts: plan.totals.cuts };
}

/** A share in words. Nearly all is never rounded up to all. */
function mostOf(share: number): string {
  return share === 1 ? 'All' : `${(Math.floor(share * 1000) / 10).toFixed(1)} %`;
}

/** Reasons that follow from all readings: the share within tolerance, and the flow error. */
export function figureReasons(
  withinToleranceShare: number | null,
  toleranceMm: number,
  flow: FlowError | null,
): readonly string[] {
  const reasons: string[] = [];
  if (withinToleranceShare !== null)
    reasons.push(`${mostOf(withinToleranceShare)} of what was measured lies within ±${toleranceMm} mm.`);
  if (flow !== null && Math.abs(flow.mean) >= FLOW_TO_MENTION)
    reasons.push(
      `The flow is ${(flow.mean * 100).toFixed(1).replace('-', '−')} % off: set it to ${(flow.flowMultiplier * 100).toFixed(1)} %.`,
    );
  return reasons;
}

/** What cutting keeps of the whole strand if unmeasured strand is good, mm; 0 only if no coil is possible, whatever the aim. */
function keptAtBest(plan: CutPlan, doubtful: CutRequest['doubtful']): number {
  const { request, done, totals } = plan;
  const unknown = request.stretches.some(({ fate }) => fate === 'unknown') ? 'keep' : request.unknown;
  const isThisPlan = done.length === 0 && request.unknown === unknown && request.doubtful === doubtful;
  // The most length is the quickest to plan.
  const best: CutRequest = { ...request, objective: 'mostLength', unknown, doubtful };
  const { keptMm, unknownInCoilsMm } = isThisPlan ? totals : planCuts(best).totals;
  return keptMm + unknownInCoilsMm;
}

function sentenceFor(fitness: Fitness, name: string, printer: string, plan: CutPlan, why: string): string {
  if (fitness === 'fit') return `${capital(name)} is fit to print on ${printer}.`;
  if (fitness === 'notFit') return `${capital(name)} is not fit to print on ${printer}.`;
  if (fitness === 'unknown') return `It is not known whether ${name} is fit to print on ${printer}: ${why}.`;
  const { keptMm, coils } = keptBy(plan);
  const inDoubtMm = plan.coils.reduce((sum, coil) => sum + (coil.condition === 'spoilt' ? 0 : coil.doubtfulMm), 0);
  const kept = `${lengthText(keptMm)} stays in ${coils === 1 ? 'one coil' : `${coils} coils`}`;
  const doubt = inDoubtMm > 0 ? `, ${lengthText(inDoubtMm)} of that in doubt` : '';
  return `${capital(name)} is fit to print on ${printer} after cutting: ${kept}${doubt}.`;
}
