import { type CutPlan, planCuts } from '../../../server/strand/plan/cut-plan.ts';
import type { DoneCut } from '../../../server/strand/plan/done-cuts.ts';
import { seeded } from '../../chance.ts';
import type { RewoundSpool } from './spool.ts';

/** What a user with a measuring wheel makes of a spool. */
export interface Rewound {
  readonly coilsCalledClean: number;
  /** Coils called clean that hold a stretch that had to go. */
  readonly spoilt: number;
  /** Strand in coils called clean, true mm. */
  readonly keptMm: number;
  readonly doubted: number;
}

export interface Rewinder {
  readonly seed: number;
  /** The wheel shows this much more than what passed, as a share. */
  readonly wheelOff: number;
  /** Each count is off by up to this much besides: its start, the knife, the moment at which a landmark was read. */
  readonly slipMm: number;
  /** The share of landmarks that are seen and confirmed. */
  readonly confirmed: number;
  /** Cuts are made up to this much before or behind the count that the page asks for. */
  readonly carelessMm: number;
}

/** Follows the cut list step by step, as the page of the rewinder shows it. */
export function rewind({ woundMm, bad, request }: RewoundSpool, rewinder: Rewinder): Rewound {
  const random = seeded(rewinder.seed);
  const uniform = (from: number, to: number): number => from + (to - from) * random();
  const passes = (countedMm: number): number =>
    Math.max(0, countedMm / (1 + rewinder.wheelOff) + uniform(-1, 1) * rewinder.slipMm);
  const shown = (trueMm: number): number =>
    Math.max(0, Math.round((trueMm + uniform(-1, 1) * rewinder.slipMm) * (1 + rewinder.wheelOff)));
  const done: DoneCut[] = [];
  const pieces: { readonly fromMm: number; readonly toMm: number }[] = [];
  let atMm = 0;
  let plan: CutPlan = planCuts(request);
  while (atMm < woundMm) {
    const step = plan.steps[0];
    if (step === undefined) break;
    const fromMm = atMm;
    let countedMm = Math.max(0, Math.round(step.countedMm + uniform(-1, 1) * rewinder.carelessMm));
    let toMm = fromMm + passes(countedMm);
    let seenAtMm: number | undefined;
    for (const { peakMm } of step.landmarks.length === 0 ? [] : [...bad].sort((a, b) => a.fromMm - b.fromMm)) {
      if (peakMm === null || peakMm <= fromMm || peakMm >= toMm || uniform(0, 1) >= rewinder.confirmed) continue;
      const reads = shown(peakMm - fromMm);
      const nearest = step.landmarks.reduce((a, b) =>
        Math.abs(b.afterCutMm - reads) < Math.abs(a.afterCutMm - reads) ? b : a,
      );
      // What is much too early for any landmark is something else.
      if (Math.abs(nearest.afterCutMm - reads) > nearest.countErrorMm) continue;
      seenAtMm = reads;
      countedMm = reads + nearest.thenMm;
      toMm = Math.max(peakMm, peakMm + passes(nearest.thenMm));
    }
    const reachedEnd = !step.cutAfter || toMm >= woundMm;
    atMm = reachedEnd ? woundMm : toMm;
    pieces.push({ fromMm, toMm: atMm });
    done.push({
      action: step.action === 'discard' ? 'discard' : 'keep',
      countedMm,
      ...(seenAtMm === undefined ? {} : { landmarkCountedMm: Math.min(seenAtMm, countedMm) }),
      ...(reachedEnd ? { reachedEnd } : {}),
    });
    plan = planCuts(request, done);
  }
  const kept = plan.donePieces.map((piece, i) => ({ ...piece, ...pieces[i]! })).filter(({ keep }) => keep);
  const clean = kept.filter(({ condition }) => condition === 'clean');
  return {
    coilsCalledClean: clean.length,
    spoilt: clean.filter((coil) => bad.some((b) => b.fromMm < coil.toMm && b.toMm > coil.fromMm)).length,
    keptMm: clean.reduce((sum, coil) => sum + coil.toMm - coil.fromMm, 0),
    doubted: kept.length - clean.length,
  };
}
