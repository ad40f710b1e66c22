import type { PlanChoices, PlannedSpool } from '../monitor/analysis/spool-analysis.ts';
import { countErrorOf, type SpoolCase } from '../monitor/analysis/spool-case.ts';
import type { KeptCut, Printer, Spool } from '../monitor/ports.ts';
import type { Coil, CutPlan, CutStep } from '../strand/plan/cut-plan.ts';
import type { CoilView, CutPlanView, CutStepView, DoneCutView } from './spool-contract.ts';
import { printerView } from './spool-numbers.ts';
import { round, roundOrNull } from './views.ts';

/** What a plan was made for, and what persons said that the plan itself does not know. */
export interface Planned {
  readonly spool: Spool;
  readonly printer: Printer;
  readonly about: SpoolCase;
  readonly choices: PlanChoices;
  readonly cuts: readonly KeptCut[];
  readonly coilNames: ReadonlyMap<number, string>;
}

export function cutPlanView({ plan, verdict }: PlannedSpool, planned: Planned): CutPlanView {
  const { spool, printer, about, choices, cuts } = planned;
  const { wheelShare, lengthScaleShare, slipMm } = countErrorOf(about);
  const names = namesOf(plan, planned.coilNames);
  const warnings = [...plan.warnings].map((warning) => withNames(warning, names));
  if (spool.endGaugeMm === null)
    warnings.unshift('The spool is still being wound: its outer end, and with it every count, will move.');
  if (verdict.fitness === 'cannotBeSaid') warnings.unshift(verdict.sentence);
  return {
    spoolId: spool.id,
    name: about.name,
    printer: printerView(printer),
    choices: { ...choices },
    countError: { wheelShare, lengthScaleShare: round(lengthScaleShare, 6), slipMm },
    steps: plan.steps.map((step) => stepView(step, names)),
    coils: coilViews(plan, planned.coilNames),
    done: plan.donePieces.flatMap((piece, i): DoneCutView[] => {
      const cut = cuts[i];
      if (cut === undefined) return [];
      const { fromMm, toMm, fromOuterMm, toOuterMm, lengthMm, condition } = piece;
      return [{ ...cut, fromMm, toMm, fromOuterMm, toOuterMm, lengthMm, condition }];
    }),
    totals: { ...plan.totals },
    explanation: plan.explanation,
    warnings,
    fitness: verdict.fitness,
  };
}

export function coilViews(plan: CutPlan, given: ReadonlyMap<number, string>): CoilView[] {
  return plan.coils.map((coil, i) => coilView(coil, i + 1, given.get(i + 1) ?? null));
}

function coilView(coil: Coil, ordinal: number, given: string | null): CoilView {
  const { name, state, condition, fromMm, toMm, fromOuterMm, toOuterMm, lengthMm, doubtfulMm, unknownMm } = coil;
  return {
    ordinal,
    name: given ?? name,
    named: given !== null,
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

function stepView(step: CutStep, names: ReadonlyMap<string, string>): CutStepView {
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
    coil: step.coil === null ? null : (names.get(step.coil) ?? step.coil),
    sentence: withNames(step.sentence, names),
  };
}

/** From the plan's own name of each coil to the one that a person gave. */
function namesOf(plan: CutPlan, given: ReadonlyMap<number, string>): Map<string, string> {
  return new Map(
    plan.coils.flatMap((coil, i) => {
      const name = given.get(i + 1);
      return name === undefined ? [] : [[coil.name, name] as const];
    }),
  );
}

/** The plan speaks of its coils as “R3-1 A”. */
function withNames(sentence: string, names: ReadonlyMap<string, string>): string {
  return sentence.replace(/\bR\d+-\d+ [A-Z]+\b/g, (own) => names.get(own) ?? own);
}
