import type { CutPlanView } from '../../server/api/contract/cut-plan.ts';

/** A piece of the spool on the bar, as shares of the whole. The bar starts at the outer end, which comes off first. */
interface BarPiece {
  readonly key: string;
  readonly left: number;
  readonly width: number;
  readonly fate: 'keep' | 'discard';
  readonly state: 'done' | 'present' | 'coming';
}

export interface Progress {
  readonly pieces: readonly BarPiece[];
  /** Already off the spool, in mm and as a share. */
  readonly offMm: number;
  readonly offShare: number;
  /** Completed steps, and all steps. */
  readonly step: number;
  readonly steps: number;
}

export function progressOf(plan: Pick<CutPlanView, 'done' | 'steps' | 'totals'>): Progress {
  const whole = Math.max(1, plan.totals.woundMm);
  const share = (mm: number) => Math.min(1, Math.max(0, mm / whole));
  const done = plan.done.map((cut) => ({
    key: `d${cut.id}`,
    left: share(cut.fromOuterMm),
    width: share(cut.toOuterMm) - share(cut.fromOuterMm),
    fate: cut.action,
    state: 'done' as const,
  }));
  const coming = plan.steps.map((step, i) => ({
    key: `s${step.ordinal}`,
    left: share(step.fromOuterMm),
    width: share(step.toOuterMm) - share(step.fromOuterMm),
    fate: step.action === 'discard' ? ('discard' as const) : ('keep' as const),
    state: i === 0 ? ('present' as const) : ('coming' as const),
  }));
  // Without a cut yet, this is the outer end itself.
  const offMm = plan.done.reduce((most, cut) => Math.max(most, cut.toOuterMm), 0);
  return {
    pieces: [...done, ...coming],
    offMm,
    offShare: share(offMm),
    step: plan.done.length,
    steps: plan.done.length + plan.steps.length,
  };
}
