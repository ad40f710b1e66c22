import type { Coil } from '../plan/coil.ts';
import type { StrandRange } from '../plan/coil-names.ts';
import { type CutPlan, planCuts } from '../plan/cut-plan.ts';
import type { FlowError } from './flow-error.ts';
import { figureReasons, type SpoolVerdict, spoolVerdict, type VerdictInput } from './spool-verdict.ts';

/** The verdict on one coil of a plan, as if it were a separate spool that could be cut again. */
export function coilVerdict(
  plan: CutPlan,
  coil: Coil,
  about: Pick<VerdictInput, 'nominalMm' | 'profile'>,
  withinToleranceShare: number | null,
  flow: FlowError | null,
): SpoolVerdict {
  const { request } = plan;
  const lengthMm = coil.toMm - coil.fromMm;
  const inside = (mm: number) => Math.min(lengthMm, Math.max(0, mm - coil.fromMm));
  /** What is in the coil of each stretch, by its place in the coil. Nothing is left of one beyond its outer end. */
  const inCoil = <T extends StrandRange>(stretches: readonly T[] = []): T[] =>
    stretches
      .filter(({ toMm }) => toMm > coil.fromMm)
      .map((stretch) => ({ ...stretch, fromMm: inside(stretch.fromMm), toMm: inside(stretch.toMm) }));
  const planOfCoil = planCuts({
    ...request,
    spoolName: coil.name,
    woundMm: lengthMm,
    stretches: inCoil(request.stretches).map((stretch) => ({
      ...stretch,
      peakAtMm: stretch.peakAtMm == null ? null : stretch.peakAtMm - coil.fromMm,
    })),
    uncertain: inCoil(request.uncertain),
    shortestCoilMm: Math.min(request.shortestCoilMm, lengthMm),
    coilNames: [],
  });
  const verdict = spoolVerdict({
    ...about,
    name: `coil ${coil.name}`,
    plan: planOfCoil,
    ...(coil.condition === 'inDoubt' ? { unknownBecause: 'a bad stretch may be at one of its ends' } : {}),
  });
  const figures = figureReasons(withinToleranceShare, about.profile.toleranceMm, flow);
  return { ...verdict, reasons: [...verdict.reasons, ...figures] };
}
