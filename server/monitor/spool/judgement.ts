import type { Printer } from '../../entities/printer.ts';
import { Problem } from '../../problem/problem.ts';
import { type CutPlan, type KeptByPlan, keptBy, planCuts } from '../../strand/plan/cut-plan.ts';
import type { CountError, CutRequest } from '../../strand/plan/cut-request.ts';
import type { DoneCut } from '../../strand/plan/done-cuts.ts';
import type { MeasuredSection, Section } from '../../strand/section.ts';
import { type SpoolTotals, spoolTotals } from '../../strand/spool-totals.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import { LINE_PRINTER_ID } from '../../strand/verdict/printer-profile.ts';
import { type SpoolVerdict, spoolVerdict } from '../../strand/verdict/spool-verdict.ts';
import type { SectionTarget } from './section-target.ts';
import { recordedWithText, sectionsWithStatements } from './statements-by-place.ts';
import { stretchesOnSpool } from './stretches-on-spool.ts';
import { doneCuts, isWinding, namedStrand, type WoundSpool, woundMm } from './wound-spool.ts';

/** Whose limits a spool is judged by: those of the night in which it was wound, or a printer's. */
export type JudgedBy = { readonly kind: 'run' } | { readonly kind: 'printer'; readonly printer: Printer };

/** What was found on the strand of a spool by certain limits. */
export interface Found {
  /**
   * `recorded`: while it was wound, by the same limits. `readings`: anew from its readings. `night`: its readings were
   * let go, so only what was found by the limits of that night is known.
   */
  readonly basis: 'recorded' | 'readings' | 'night';
  /** Gauge lengths; ends that were never measured included. */
  readonly sections: readonly MeasuredSection[];
}

/** What is asked of the plan for a spool; `shortestMm` as it holds, not null. */
type PlanChoices = Pick<CutRequest, 'objective' | 'doubtful' | 'unknown'> & { readonly shortestMm: number };

/**
 * The one answer about a spool by certain limits: its sections with users' statements, how much is what, the plan with
 * the cuts that were made, and the verdict. Lengths are true ones; sections lie on gauge length.
 */
export interface Judgement {
  readonly on: WoundSpool;
  readonly by: JudgedBy;
  readonly printerName: string;
  readonly limits: StrandLimits;
  readonly basis: Found['basis'];
  /** In order of length; `m12` = recorded, `p5` = marked by a user, `j12345` = only these limits show it. */
  readonly sections: readonly Section[];
  /** By section id: what a statement made under it is about. */
  readonly targets: ReadonlyMap<string, SectionTarget>;
  readonly woundMm: number;
  readonly totals: SpoolTotals;
  readonly choices: PlanChoices;
  /** Diameter of equal cross-section; null = nothing was measured. */
  readonly meanDiameterMm: number | null;
  /** These three are null while nothing is wound. */
  readonly plan: CutPlan | null;
  readonly kept: KeptByPlan | null;
  readonly verdict: SpoolVerdict | null;
  /** Why the plan may not be all there is to say. */
  readonly warnings: readonly string[];
}

/** A measuring wheel at the rewinder, and the start of the count. Common practice, no source. */
const WHEEL_SHARE = 0.01;
const SLIP_MM = 20;

export function countErrorOn({ scale }: Pick<WoundSpool, 'scale'>): CountError {
  return { wheelShare: WHEEL_SHARE, lengthScaleShare: scale.share, slipMm: SLIP_MM };
}

function printerNameOf(by: JudgedBy): string {
  if (by.kind === 'run') return 'a printer with the limits of that night';
  return by.printer.id === LINE_PRINTER_ID ? 'the printer set for this line' : by.printer.name;
}

/** The printer that it was judged for, with the limits that it was judged by; those of a night are the line's own then. */
export function printerIn({ by, limits, printerName }: Judgement): Printer {
  const { hotendLimitMm, leastFeedableMm, toleranceMm } = limits;
  const printer = by.kind === 'printer' ? by.printer : { id: LINE_PRINTER_ID, name: printerName, note: '' };
  return { ...printer, hotendLimitMm, leastFeedableMm, toleranceMm };
}

/** @throws Problem `bad-printer`, `bad-cut` for limits, choices or cuts that cannot be */
export function judgementOf(
  on: WoundSpool,
  by: JudgedBy,
  limits: StrandLimits,
  found: Found,
  rest: { readonly shortestCoilMm: number; readonly meanDiameterMm: number | null },
): Judgement {
  const { startGaugeMm, endGaugeMm, reachGaugeMm } = on;
  const withText = found.basis === 'readings' ? sectionsWithStatements : recordedWithText;
  const { sections: all, targets } = withText(found.sections, on.recorded, on.stated);
  // A crash can take the last second of readings, and the end with them: what users stated about that strand stays.
  const sections = all.filter(
    ({ origin, fromMm, toMm }) => toMm > startGaugeMm && fromMm < (origin === 'measured' ? endGaugeMm : reachGaugeMm),
  );
  const printerName = printerNameOf(by);
  const choices: PlanChoices = {
    objective: on.choices.objective,
    doubtful: on.choices.doubtful,
    unknown: on.choices.unknown,
    shortestMm: on.choices.shortestMm ?? rest.shortestCoilMm,
  };
  const { meanDiameterMm } = rest;
  const lengthMm = woundMm(on);
  const base = {
    on,
    by,
    printerName,
    limits,
    basis: found.basis,
    sections,
    targets,
    woundMm: lengthMm,
    totals: trueTotals(sections, on),
    choices,
    meanDiameterMm,
  };
  if (Math.round(lengthMm) === 0) return { ...base, plan: null, kept: null, verdict: null, warnings: [] };
  const { plan, trouble } = planAfterCuts(base);
  const verdict = spoolVerdict({
    name: `spool ${on.name}`,
    nominalMm: limits.nominalMm,
    profile: { ...limits, name: printerName },
    plan,
    ...(found.basis === 'night'
      ? { unknownBecause: 'its readings were let go, and it was wound by other limits' }
      : {}),
  });
  const unsure = verdict.fitness === 'unknown' ? [verdict.sentence] : [];
  return { ...base, plan, kept: keptBy(plan), verdict, warnings: [...unsure, ...trouble, ...plan.warnings] };
}

/** Cuts that a later measurement made longer than the spool must not hide the spool: the plan is told without them. */
function planAfterCuts(judged: ToBePlanned): { readonly plan: CutPlan; readonly trouble: readonly string[] } {
  const done = doneCuts(judged.on);
  try {
    return { plan: planFor(judged, done), trouble: [] };
  } catch (thrown) {
    if (!(thrown instanceof Problem) || done.length === 0) throw thrown;
    const trouble = [`The cuts that are ticked off do not fit this spool: ${thrown.message} ${thrown.remedy}`];
    return { plan: planFor(judged, []), trouble };
  }
}

type ToBePlanned = Omit<Judgement, 'plan' | 'kept' | 'verdict' | 'warnings'>;

/**
 * The plan of a judged spool after these cuts.
 * @throws Problem `bad-cut` for choices or cuts that cannot be
 */
export function planFor(judged: ToBePlanned, done: readonly DoneCut[]): CutPlan {
  const { on, choices, meanDiameterMm } = judged;
  const request: CutRequest = {
    spoolName: on.name,
    woundMm: judged.woundMm,
    stretches: stretchesOnSpool(judged.sections, on.startGaugeMm, on.scale.factor, judged.woundMm),
    shortestCoilMm: choices.shortestMm,
    objective: choices.objective,
    doubtful: choices.doubtful,
    unknown: choices.unknown,
    countError: countErrorOn(on),
    coilNames: namedStrand(on),
    stillWinding: isWinding(on),
    densityGPerCm3: on.settings.densityGPerCm3,
    meanDiameterMm,
  };
  return planCuts(request, done);
}

function trueTotals(sections: readonly Section[], on: WoundSpool): SpoolTotals {
  const { factor } = on.scale;
  const counted = spoolTotals(sections, on.startGaugeMm, on.endGaugeMm);
  return {
    discardMm: counted.discardMm * factor,
    doubtfulMm: counted.doubtfulMm * factor,
    unknownMm: counted.unknownMm * factor,
    goodMm: counted.goodMm * factor,
    longestCleanMm: counted.longestCleanMm * factor,
  };
}
