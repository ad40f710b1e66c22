import type { Coil } from '../plan/coil.ts';
import { type CutPlan, planCuts } from '../plan/cut-plan.ts';
import type { PlanStretch } from '../plan/cut-request.ts';
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
  const planOfCoil = planCuts({
    ...request,
    spoolName: coil.name,
    woundMm: lengthMm,
    stretches: request.stretches
      .filter(({ fromMm, toMm }) => toMm > coil.fromMm && fromMm < coil.toMm)
      .map((stretch) => clipped(stretch, coil.fromMm, lengthMm)),
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

/** Clips a stretch to the `lengthMm` that start at `startMm`, and makes its positions relative to `startMm`. */
function clipped(stretch: PlanStretch, startMm: number, lengthMm: number): PlanStretch {
  const inside = (mm: number) => Math.min(lengthMm, Math.max(0, mm - startMm));
  const { fromMm, toMm, peakAtMm } = stretch;
  return {
    ...stretch,
    fromMm: inside(fromMm),
    toMm: inside(toMm),
    peakAtMm: peakAtMm == null ? null : inside(peakAtMm),
  };
}
