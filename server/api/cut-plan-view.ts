import { countErrorOn, type Judgement, printerIn } from '../monitor/spool/judgement.ts';
import type { Coil, CutPlan } from '../strand/plan/cut-plan.ts';

/** What is to be cut, what was, and the coils that result. */
export function cutPlanView(judged: Judgement, plan: CutPlan) {
  const { on, verdict } = judged;
  return {
    ...plan,
    spoolId: on.spool.id,
    name: on.name,
    printer: printerIn(judged),
    choices: on.choices,
    shortestMm: judged.choices.shortestMm,
    countError: countErrorOn(on),
    coils: plan.coils.map(coilView),
    done: plan.donePieces.map((piece, i) => ({ ...on.cuts[i]!, ...piece })),
    warnings: judged.warnings,
    fitness: verdict?.fitness ?? 'unknown',
  };
}

export function coilView(coil: Coil, index: number) {
  return { ...coil, ordinal: index + 1 };
}
