import { Problem } from '../../problem/problem.ts';
import { type CutPlan, planCuts, replan } from '../../strand/plan/cut-plan.ts';
import type { DoneCut } from '../../strand/plan/done-cuts.ts';
import type { Section } from '../../strand/section.ts';
import { countErrorOf, type SpoolCase } from './spool-case.ts';
import { stretchesOnSpool } from './stretches-on-spool.ts';

/** What cutting does to a spool, told without judging its readings anew: by the sections that are in the record. */
export interface Cutting {
  /** Off the spool already, true mm. */
  readonly offMm: number;
  /** What the plan keeps of measured strand, true mm; null = nothing is wound. */
  readonly plan: { readonly keptMm: number; readonly coils: number } | null;
}

/** @param shortestCoilMm as set for the line; doubtful and unmeasured stretches are cut out, as in the verdict */
export function cuttingOf(
  sections: readonly Section[],
  on: Pick<SpoolCase, 'startGaugeMm' | 'endGaugeMm' | 'lengthFactor' | 'lengthShare'>,
  shortestCoilMm: number,
  done: readonly DoneCut[],
): Cutting {
  const woundMm = Math.max(0, on.endGaugeMm - on.startGaugeMm) * on.lengthFactor;
  if (Math.round(woundMm) === 0) return { offMm: 0, plan: null };
  const whole = planCuts({
    spoolName: '',
    woundMm,
    stretches: stretchesOnSpool(sections, on.startGaugeMm, on.lengthFactor, woundMm),
    shortestCoilMm,
    objective: 'mostLength',
    doubtful: 'cut',
    unknown: 'cut',
    countError: countErrorOf(on),
  });
  const plan = done.length === 0 ? whole : afterCuts(whole, done);
  const { keptMm, coils } = keptOf(plan);
  return {
    offMm: plan.donePieces.reduce((most, piece) => Math.max(most, piece.toOuterMm), 0),
    plan: { keptMm, coils },
  };
}

/** What a plan keeps. A spool of which nothing is to be cut stays whole, however short it is: it is no piece of a cut. */
export function keptOf({ request, done, totals, coils }: CutPlan): {
  readonly keptMm: number;
  readonly coils: number;
  readonly longestCoilMm: number;
} {
  if (done.length === 0 && !request.stretches.some(({ fromMm, toMm }) => toMm > fromMm)) {
    return { keptMm: totals.woundMm, coils: 1, longestCoilMm: totals.woundMm };
  }
  const whole = coils.filter(({ condition }) => condition !== 'spoilt').map(({ lengthMm }) => lengthMm);
  return { keptMm: totals.keptMm, coils: whole.length, longestCoilMm: Math.max(0, ...whole) };
}

/** Cuts that a later tape measurement made longer than the spool are refused at the rewinder, which says so. */
function afterCuts(whole: CutPlan, done: readonly DoneCut[]): CutPlan {
  try {
    return replan(whole, done);
  } catch (thrown) {
    if (thrown instanceof Problem) return whole;
    throw thrown;
  }
}
