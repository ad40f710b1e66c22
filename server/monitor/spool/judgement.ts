import type { Printer } from '../../entities/printer.ts';
import type { SpoolChoices } from '../../entities/spool.ts';
import { Problem } from '../../problem/problem.ts';
import type { LengthDoubt } from '../../strand/length-doubts.ts';
import { gramsOfLength, massUncertaintyShare } from '../../strand/mass.ts';
import { type CutPlan, type KeptByPlan, keptBy, planCuts } from '../../strand/plan/cut-plan.ts';
import {
  type CountError,
  type CutRequest,
  type PlanStretch,
  stretchOfSection,
  type UncertainStretch,
} from '../../strand/plan/cut-request.ts';
import type { DoneCut } from '../../strand/plan/done-cuts.ts';
import { spoolPositionMm } from '../../strand/position.ts';
import type { MeasuredSection, Section, SectionKind } from '../../strand/section.ts';
import { type SpoolTotals, spoolTotals } from '../../strand/spool-totals.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import { withReserveMm } from '../../strand/verdict/print-fit.ts';
import { LINE_PRINTER_ID } from '../../strand/verdict/printer-profile.ts';
import { type SpoolVerdict, spoolVerdict } from '../../strand/verdict/spool-verdict.ts';
import type { SectionTarget } from './section-target.ts';
import { recordedWithStatements, sectionsWithStatements } from './statements-by-place.ts';
import { doneCuts, isWinding, namedStrand, positionMm, strandOn, type WoundSpool, woundMm } from './wound-spool.ts';

/** The limits by which a spool is judged: those in force when it was wound (`run`), or those of a printer. */
export type JudgedBy = { readonly kind: 'run' } | { readonly kind: 'printer'; readonly printer: Printer };

/** Sections found on the strand of a spool with certain limits. */
export interface Found {
  /**
   * `recorded`: found during winding, with the same limits. `readings`: found again in its readings. `otherLimits`: found during
   * winding with other limits, and its readings were deleted.
   */
  readonly basis: 'recorded' | 'readings' | 'otherLimits';
  /** Gauge lengths; unmeasured ends are included. */
  readonly sections: readonly MeasuredSection[];
}

/** Choices for the plan; `shortestMm` with the line's setting filled in. */
type PlanChoices = Pick<CutRequest, 'objective' | 'doubtful' | 'unknown'> &
  Pick<SpoolChoices, 'prints'> & { readonly shortestMm: number };

/**
 * The judgement of a spool by certain limits: its sections with users' statements, totals, the plan with the cuts made, and
 * the verdict. All lengths are true lengths, except that sections are at gauge lengths.
 */
export interface Judgement {
  readonly woundSpool: WoundSpool;
  readonly by: JudgedBy;
  readonly printerName: string;
  readonly limits: StrandLimits;
  readonly basis: Found['basis'];
  /** In order of length; `m12` = recorded, `p5` = marked by a user, `j12345` = found only with these limits. */
  readonly sections: readonly Section[];
  /** By section id: what a statement under it refers to. */
  readonly targets: ReadonlyMap<string, SectionTarget>;
  readonly woundMm: number;
  readonly totals: SpoolTotals;
  readonly choices: PlanChoices;
  /** Diameter of the mean cross-section; null = nothing was measured. */
  readonly meanDiameterMm: number | null;
  /** Where counter and speed disagreed. */
  readonly lengthDoubts: readonly LengthDoubt[];
  /** `plan`, `kept` and `verdict` are null for an empty spool. */
  readonly plan: CutPlan | null;
  readonly kept: KeptByPlan | null;
  readonly verdict: SpoolVerdict | null;
  /** Reasons to be careful with the plan. */
  readonly warnings: readonly string[];
}

/** A section that a user dismissed, as it was measured or first marked; gauge lengths. */
export interface DismissedSection {
  readonly id: string;
  readonly kind: SectionKind;
  readonly fromMm: number;
  readonly toMm: number;
  readonly peakMm: number | null;
  /** null = not known. */
  readonly who: string | null;
  /** Why, as the user said; '' = not said. */
  readonly reason: string;
}

/** In order of length. */
export function dismissedSections({ woundSpool, targets }: Judgement): readonly DismissedSection[] {
  return [...targets]
    .flatMap(([id, { ordinal, about, statement, original }]): DismissedSection[] => {
      const stated = woundSpool.stated.find((one) => one.id === statement?.id);
      if (stated?.removed !== true || stated.decision !== undefined || original === null) return [];
      const recorded = woundSpool.recorded.find((one) => one.ordinal === ordinal);
      const kind = recorded?.kind ?? about?.kind ?? 'marked';
      const { fromMm, toMm } = original;
      return [
        { id, kind, fromMm, toMm, peakMm: recorded?.peakMm ?? null, who: stated.who ?? null, reason: stated.note },
      ];
    })
    .sort((a, b) => a.fromMm - b.fromMm);
}

/** Errors of the measuring wheel at the rewinder and of the start of counting. Common practice, no source. */
const WHEEL_SHARE = 0.01;
const SLIP_MM = 20;
/** By the bench of the detector, sections leave out less bad strand than this: on rough strand, or where readings are far apart. */
const EDGE_MM = 20;

export function countErrorOn({ scale }: Pick<WoundSpool, 'scale'>): Required<CountError> {
  return { wheelShare: WHEEL_SHARE, lengthScaleShare: scale.share, slipMm: SLIP_MM, edgeMm: EDGE_MM };
}

/** Recycled blends differ from the density of their polymer by a few per cent (k = 2). Common practice, no source. */
const DENSITY_SHARE = 0.03;

/** What strand of a spool weighs. */
export interface StrandMass {
  readonly densityGPerCm3: number;
  /** Relative uncertainty of a mass, k = 2. */
  readonly share: number;
}

/**
 * By weighing the whole spool: ρ = m / (π/4 · d² · L). Mass then has the uncertainty of the scale alone, also that of a part,
 * because length and diameter of a part are off by the same factors as those of the whole. Without a weighing, by the density
 * in the settings.
 * @param diameterMm by which the mass is computed; null = nothing was measured
 */
export function strandMass(
  { woundSpool, limits, woundMm: lengthMm }: Pick<Judgement, 'woundSpool' | 'limits' | 'woundMm'>,
  diameterMm: number | null,
): StrandMass {
  const { weighing, scale, settings } = woundSpool;
  const strandMm = diameterMm ?? limits.nominalMm;
  if (weighing !== null && lengthMm > 0) {
    const netG = weighing.grossG - weighing.tareG;
    return { densityGPerCm3: netG / gramsOfLength(lengthMm, strandMm, 1), share: weighing.uncertaintyG / netG };
  }
  const share = massUncertaintyShare({
    lengthShare: scale.share,
    diameterShare: limits.gaugeUncertaintyMm / strandMm,
    densityShare: DENSITY_SHARE,
  });
  return { densityGPerCm3: settings.densityGPerCm3, share };
}

function printerNameOf(by: JudgedBy): string {
  if (by.kind === 'run') return 'a printer with the limits of that night';
  return by.printer.id === LINE_PRINTER_ID ? 'the printer set for this line' : by.printer.name;
}

/** The printer of a judgement, with the limits used; the line's own printer if judged by the limits of winding. */
export function printerIn({ by, limits, printerName }: Judgement): Printer {
  const { hotendLimitMm, smallestFeedableMm, toleranceMm } = limits;
  const printer = by.kind === 'printer' ? by.printer : { id: LINE_PRINTER_ID, name: printerName, note: '' };
  return { ...printer, hotendLimitMm, smallestFeedableMm, toleranceMm };
}

/** @throws Problem `bad-printer`, `bad-cut` for impossible limits, choices or cuts */
export function judgementOf(
  woundSpool: WoundSpool,
  by: JudgedBy,
  limits: StrandLimits,
  found: Found,
  also: {
    readonly shortestCoilMm: number;
    readonly meanDiameterMm: number | null;
    readonly lengthDoubts?: readonly LengthDoubt[];
  },
): Judgement {
  const { startGaugeMm, endGaugeMm, reachGaugeMm } = woundSpool;
  const combine = found.basis === 'readings' ? sectionsWithStatements : recordedWithStatements;
  const { sections: all, targets } = combine(found.sections, woundSpool.recorded, woundSpool.stated);
  // A crash can lose the last second of readings, so the end too. Statements of users about that strand still apply.
  const sections = all.filter(
    ({ origin, fromMm, toMm }) => toMm > startGaugeMm && fromMm < (origin === 'measured' ? endGaugeMm : reachGaugeMm),
  );
  const printerName = printerNameOf(by);
  const choices: PlanChoices = {
    objective: woundSpool.choices.objective,
    prints: woundSpool.choices.prints,
    doubtful: woundSpool.choices.doubtful,
    unknown: woundSpool.choices.unknown,
    shortestMm: woundSpool.choices.shortestMm ?? also.shortestCoilMm,
  };
  const { meanDiameterMm, lengthDoubts = [] } = also;
  const lengthMm = woundMm(woundSpool);
  const base = {
    woundSpool,
    by,
    printerName,
    limits,
    basis: found.basis,
    sections,
    targets,
    woundMm: lengthMm,
    totals: trueTotals(sections, woundSpool),
    choices,
    meanDiameterMm,
    lengthDoubts,
  };
  if (Math.round(lengthMm) === 0) return { ...base, plan: null, kept: null, verdict: null, warnings: [] };
  const { plan, trouble } = planAfterCuts(base);
  const verdict = spoolVerdict({
    name: `spool ${woundSpool.name}`,
    nominalMm: limits.nominalMm,
    profile: { ...limits, name: printerName },
    plan,
    ...(found.basis === 'otherLimits'
      ? { unknownBecause: 'its single readings were deleted, and it was wound under other limits' }
      : {}),
  });
  const unknown = verdict.fitness === 'unknown' ? [verdict.sentence] : [];
  const warnings = [...unknown, ...trouble, ...plan.warnings, ...jointWarnings(base)];
  return { ...base, plan, kept: keptBy(plan), verdict, warnings };
}

/** A joint may be thicker than the strand, and nothing has measured it. */
export function jointWarnings({ sections, woundSpool, woundMm: lengthMm }: ToBePlanned): string[] {
  return sections.flatMap(({ kind, fromMm }) => {
    if (kind !== 'joint') return [];
    const outerM = (lengthMm - positionMm(woundSpool, fromMm)) / 1000;
    return [`There is a joint ${outerM.toFixed(2)} m from the outer end. Feel whether it is thicker than the strand.`];
  });
}

/** If a later measurement makes the cuts longer than the spool, the plan leaves them out and a warning says so. */
function planAfterCuts(spool: ToBePlanned): { readonly plan: CutPlan; readonly trouble: readonly string[] } {
  const done = doneCuts(spool.woundSpool);
  try {
    return { plan: planFor(spool, done), trouble: [] };
  } catch (thrown) {
    if (!(thrown instanceof Problem) || done.length === 0) throw thrown;
    const trouble = [`The cuts that are ticked off do not fit this spool: ${thrown.message} ${thrown.remedy}`];
    return { plan: planFor(spool, []), trouble };
  }
}

type ToBePlanned = Omit<Judgement, 'plan' | 'kept' | 'verdict' | 'warnings'>;

/**
 * The plan for a spool after these cuts.
 * @throws Problem `bad-cut` for impossible choices or cuts
 */
export function planFor(spool: ToBePlanned, done: readonly DoneCut[]): CutPlan {
  const { woundSpool, choices, meanDiameterMm, limits } = spool;
  // The slicer of a print knows only this density.
  const slicer = { diameterMm: limits.nominalMm, densityGPerCm3: woundSpool.settings.densityGPerCm3 };
  const mass = strandMass(spool, meanDiameterMm);
  const request: CutRequest = {
    spoolName: woundSpool.name,
    woundMm: spool.woundMm,
    stretches: stretchesOnSpool(spool),
    shortestCoilMm: choices.shortestMm,
    objective: choices.objective,
    printsMm: choices.prints.map((print) => withReserveMm(print, slicer)),
    doubtful: choices.doubtful,
    unknown: choices.unknown,
    countError: countErrorOn(woundSpool),
    uncertain: uncertainOnSpool(spool),
    coilNames: namedStrand(woundSpool),
    stillWinding: isWinding(woundSpool),
    densityGPerCm3: mass.densityGPerCm3,
    meanDiameterMm,
    massShare: mass.share,
  };
  return planCuts(request, done);
}

function uncertainOnSpool({ lengthDoubts, woundSpool }: ToBePlanned): UncertainStretch[] {
  return lengthDoubts.flatMap(({ fromMm, toMm, offMm }) =>
    toMm <= woundSpool.startGaugeMm || fromMm >= woundSpool.endGaugeMm
      ? []
      : [
          {
            fromMm: positionMm(woundSpool, fromMm),
            toMm: positionMm(woundSpool, toMm),
            offMm: offMm * woundSpool.scale.factor,
          },
        ],
  );
}

/** Sections that are not good, as true lengths from the inner end. */
function stretchesOnSpool({ sections, woundSpool }: ToBePlanned): PlanStretch[] {
  return sections.flatMap((section) => stretchOfSection(section, (gaugeMm) => positionMm(woundSpool, gaugeMm)) ?? []);
}

function trueTotals(sections: readonly Section[], woundSpool: WoundSpool): SpoolTotals {
  const strand = strandOn(woundSpool);
  const placed = sections.map((section) => ({
    ...section,
    fromMm: spoolPositionMm(section.fromMm, strand),
    toMm: spoolPositionMm(section.toMm, strand),
  }));
  return spoolTotals(placed, 0, woundMm(woundSpool));
}
