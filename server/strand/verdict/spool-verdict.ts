import { Problem } from '../../problem/problem.ts';
import { capital } from '../../problem/sentence.ts';
import { type CutPlan, planCuts } from '../plan/cut-plan.ts';
import type { CountError, PlanStretch } from '../plan/cut-request.ts';
import { lengthText } from '../plan/landmark-hint.ts';
import { type CleanPiece, cleanPieces, lengthsOfFates } from './clean-pieces.ts';
import type { FlowError } from './flow-error.ts';
import { checkPrinterProfile, type PrinterProfile } from './printer-profile.ts';

export type Fitness = 'fit' | 'fitAfterCutting' | 'notFit' | 'cannotBeSaid';

export interface VerdictInput {
  /** As it is called within a sentence: “spool R3-1”. */
  readonly name: string;
  readonly lengthMm: number;
  readonly nominalMm: number;
  readonly profile: PrinterProfile;
  /** As judged against this printer, from the inner end. */
  readonly stretches: readonly PlanStretch[];
  readonly shortestCoilMm: number;
  readonly countError?: CountError;
  /** Share that may be unknown before nothing can be said; default 0.01. */
  readonly mostUnknownShare?: number;
  readonly withinToleranceShare?: number | null;
  readonly flow?: FlowError | null;
}

export interface SpoolVerdict {
  readonly fitness: Fitness;
  /** One line, then why. */
  readonly sentence: string;
  readonly reasons: readonly string[];
  readonly longestCleanPiece: CleanPiece | null;
  readonly discardMm: number;
  readonly doubtfulMm: number;
  readonly unknownMm: number;
  /** What cutting would leave; null when nothing needs to be cut. */
  readonly afterCutting: { readonly keptMm: number; readonly coils: number; readonly cuts: number } | null;
}

/** A maker minds a mean flow that is this far off: visible banding begins at 2 to 3 %. Common practice, no source. */
const FLOW_TO_SAY = 0.02;

/**
 * The verdict on a spool or coil for one printer. Where too much was never measured it says so: an unmeasured stretch may
 * hide a blob, so it is never taken for good, and a spool is called unfit only when even the best that may be hidden in
 * it would not do.
 */
export function spoolVerdict(input: VerdictInput): SpoolVerdict {
  const { name, lengthMm, profile, stretches, shortestCoilMm } = input;
  checkPrinterProfile(profile, input.nominalMm);
  if (!Number.isFinite(lengthMm) || lengthMm < 0)
    throw new Problem('bad-request', `The length of ${name} is ${lengthMm} mm.`, 'Give it in mm, zero or above.');
  if (Math.round(lengthMm) === 0)
    throw new Problem(
      'wrong-state',
      `${capital(name)} is empty: there is nothing to judge.`,
      'Wind it first, or choose another.',
    );

  const lengths = lengthsOfFates(lengthMm, stretches);
  const unknownShare = lengths.unknown / lengthMm;
  const longest = cleanPieces(lengthMm, stretches)[0] ?? null;
  const plan = (unknown: 'keep' | 'cut', doubtful: 'keep' | 'cut' = 'cut'): CutPlan =>
    planCuts({
      spoolName: name,
      woundMm: lengthMm,
      stretches,
      shortestCoilMm,
      objective: 'mostLength',
      doubtful,
      unknown,
      ...(input.countError === undefined ? {} : { countError: input.countError }),
    });

  const reasons: string[] = [];
  if (lengths.discard > 0)
    reasons.push(`${lengthText(lengths.discard)} are surely too thick or too thin, or were marked to discard.`);
  if (lengths.doubtful > 0)
    reasons.push(
      `${lengthText(lengths.doubtful)} are in doubt: beyond a limit or not, within the gauge's uncertainty.`,
    );
  if (lengths.unknown > 0)
    reasons.push(`${lengthText(lengths.unknown)} (${(unknownShare * 100).toFixed(1)} %) were never measured.`);

  const needsCutting = lengths.discard + lengths.doubtful > 0;
  const hopeful = needsCutting ? plan('keep') : null;
  const keptMm = hopeful === null ? lengthMm : hopeful.totals.keptMm + hopeful.totals.unknownInCoilsMm;
  let fitness: Fitness;
  // Not fit is said only where not even the doubtful stretches, were they good, would leave a coil.
  const atMost = needsCutting && keptMm < shortestCoilMm ? plan('keep', 'keep').totals : null;
  if (atMost !== null && atMost.keptMm + atMost.unknownInCoilsMm < shortestCoilMm) fitness = 'notFit';
  else if (atMost !== null) fitness = 'cannotBeSaid';
  else if (unknownShare > (input.mostUnknownShare ?? 0.01)) fitness = 'cannotBeSaid';
  else fitness = needsCutting ? 'fitAfterCutting' : 'fit';

  if (fitness === 'notFit')
    reasons.push(`No piece of at least ${lengthText(shortestCoilMm)} would be left after cutting.`);
  if (fitness === 'fit' && reasons.length === 0)
    reasons.push('Every measured diameter lies surely within what the printer takes.');
  const within = input.withinToleranceShare;
  if (within !== null && within !== undefined)
    reasons.push(`${(within * 100).toFixed(1)} % of the length lie within ±${profile.toleranceMm} mm.`);
  const flow = input.flow;
  if (flow && Math.abs(flow.mean) >= FLOW_TO_SAY)
    reasons.push(
      `The flow is ${(flow.mean * 100).toFixed(1)} % off: set it to ${(flow.flowMultiplier * 100).toFixed(1)} %.`,
    );

  // What remains is told for measured strand only: cutting the unknown as well.
  const after = needsCutting || lengths.unknown > 0 ? plan('cut') : null;
  return {
    fitness,
    sentence: sentenceFor(fitness, name, profile.name, unknownShare, after),
    reasons,
    longestCleanPiece: longest,
    discardMm: lengths.discard,
    doubtfulMm: lengths.doubtful,
    unknownMm: lengths.unknown,
    afterCutting:
      after === null ? null : { keptMm: after.totals.keptMm, coils: after.coils.length, cuts: after.totals.cuts },
  };
}

function sentenceFor(
  fitness: Fitness,
  name: string,
  printer: string,
  unknownShare: number,
  after: CutPlan | null,
): string {
  if (fitness === 'fit') return `${capital(name)} is fit to print on ${printer}.`;
  if (fitness === 'notFit') return `${capital(name)} is not fit to print on ${printer}.`;
  if (fitness === 'fitAfterCutting') {
    const coils = after === null ? 0 : after.coils.length;
    const kept = after === null ? 0 : after.totals.keptMm;
    return `${capital(name)} is fit to print on ${printer} after cutting: ${lengthText(kept)} stay in ${coils === 1 ? 'one coil' : `${coils} coils`}.`;
  }
  const why =
    unknownShare > 0.005
      ? `${(unknownShare * 100).toFixed(0)} % of it were never measured`
      : 'too much of it is within the doubt of the gauge';
  return `Whether ${name} is fit to print on ${printer} cannot be said: ${why}.`;
}
