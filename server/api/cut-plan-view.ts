import { countErrorOn, type Judgement, printerIn } from '../monitor/spool/judgement.ts';
import type { Coil } from '../strand/plan/coil.ts';
import type { CutPlan } from '../strand/plan/cut-plan.ts';

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
    coils: plan.coils.map(coilView),
    done: woundSpool.cuts.flatMap((cut, i) => {
      const piece = plan.donePieces[i];
      return piece === undefined ? [] : [{ ...cut, ...piece }];
    }),
    warnings: judged.warnings,
    fitness: verdict?.fitness ?? 'unknown',
  };
}

export function coilView(coil: Coil, index: number) {
  return { ...coil, ordinal: index + 1 };
}
