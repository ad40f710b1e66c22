import type { Questions } from '../monitor/analysis/spool-functions.ts';
import { countErrorOn, type Judgement, printerIn } from '../monitor/spool/judgement.ts';
import type { Coil } from '../strand/plan/coil.ts';
import type { CutPlan } from '../strand/plan/cut-plan.ts';
import { coilVerdict } from '../strand/verdict/coil-verdict.ts';

/** The cut list as the API returns it: steps still to do, cuts made and the resulting coils. */
export function cutPlanView(judged: Judgement, plan: CutPlan) {
  const { woundSpool, verdict } = judged;
  return {
    ...plan,
    spoolId: woundSpool.spool.id,
    name: woundSpool.name,
    printer: printerIn(judged),
    choices: woundSpool.choices,
    shortestMm: judged.choices.shortestMm,
    countError: countErrorOn(woundSpool),
    coils: plan.coils.map((coil, i) => coilView(woundSpool.code, coil, i)),
    done: woundSpool.cuts.flatMap((cut, i) => {
      const piece = plan.donePieces[i];
      return piece === undefined ? [] : [{ ...cut, ...piece }];
    }),
    warnings: judged.warnings,
    fitness: verdict?.fitness ?? 'unknown',
  };
}

export function coilView(spoolCode: string, coil: Coil, index: number) {
  return { ...coil, ordinal: index + 1, code: `${spoolCode}-${coil.letter}` };
}

/** Statistics and flow of one coil, as the analysis returns them. */
export type CoilFigures = Questions['coils']['answer'][number];

/** A coil with its figures and its verdict by the limits of the judgement. */
export function coilDetail(judged: Judgement, plan: CutPlan, coil: Coil, index: number, figures: Partial<CoilFigures>) {
  const { statistics = null, flow = null } = figures;
  const profile = { ...judged.limits, name: judged.printerName };
  const within = statistics?.tolerance.within ?? null;
  return {
    coil: coilView(judged.woundSpool.code, coil, index),
    verdict: coilVerdict(plan, coil, { nominalMm: judged.limits.nominalMm, profile }, within, flow),
    statistics: statistics && {
      ...statistics,
      measuredMm: statistics.tolerance.measuredMm,
      withinTolerance: statistics.tolerance.within,
    },
    flow,
  };
}
