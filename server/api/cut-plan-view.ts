import type { Printer } from '../monitor/ports.ts';
import { countErrorOn, type Judgement } from '../monitor/spool/judgement.ts';
import type { Coil, CutPlan, CutStep } from '../strand/plan/cut-plan.ts';
import type { CoilView, CutPlanView, CutStepView, DoneCutView } from './spool-contract.ts';
import { printerView } from './spool-numbers.ts';
import { round, roundOrNull } from './views.ts';

/** What is to be cut, what was, and the coils that result. */
export function cutPlanView(judged: Judgement, plan: CutPlan, printer: Printer): CutPlanView {
  const { on, verdict } = judged;
  const { wheelShare, lengthScaleShare, slipMm } = countErrorOn(on);
  return {
    spoolId: on.spool.id,
    name: on.name,
    printer: printerView(printer),
    choices: { ...on.choices },
    shortestMm: judged.choices.shortestMm,
    countError: { wheelShare, lengthScaleShare: round(lengthScaleShare, 6), slipMm },
    steps: plan.steps.map(stepView),
    coils: plan.coils.map(coilView),
    done: plan.donePieces.flatMap((piece, i): DoneCutView[] => {
      const cut = on.cuts[i];
      if (cut === undefined) return [];
      const { id, action, countedMm, landmarkCountedMm, reachedEnd, atMs, who } = cut;
      const { fromMm, toMm, fromOuterMm, toOuterMm, lengthMm, condition } = piece;
      const counted = { id, action, countedMm, landmarkCountedMm, reachedEnd, atMs, who };
      return [{ ...counted, fromMm, toMm, fromOuterMm, toOuterMm, lengthMm, condition }];
    }),
    totals: { ...plan.totals },
    explanation: plan.explanation,
    warnings: [...judged.warnings],
    fitness: verdict?.fitness ?? 'cannotBeSaid',
  };
}

export function coilView(coil: Coil, index: number): CoilView {
  const { name, named, state, condition, fromMm, toMm, fromOuterMm, toOuterMm, lengthMm, doubtfulMm, unknownMm } = coil;
  return {
    ordinal: index + 1,
    name,
    named,
    state,
    condition,
    fromMm,
    toMm,
    fromOuterMm,
    toOuterMm,
    lengthMm,
    doubtfulMm,
    unknownMm,
    grams: roundOrNull(coil.grams, 2),
  };
}

function stepView(step: CutStep): CutStepView {
  const { landmark } = step;
  return {
    ordinal: step.ordinal,
    action: step.action,
    fromMm: step.fromMm,
    toMm: step.toMm,
    fromOuterMm: step.fromOuterMm,
    toOuterMm: step.toOuterMm,
    lengthMm: step.lengthMm,
    countedMm: step.countedMm,
    countErrorMm: step.countErrorMm,
    cutAfter: step.cutAfter,
    guardBeforeMm: step.guardBeforeMm,
    guardAfterMm: step.guardAfterMm,
    landmark: landmark === null ? null : { ...landmark, peakMm: roundOrNull(landmark.peakMm, 3) },
    coil: step.coil,
    sentence: step.sentence,
  };
}
