/** What a run was fed with, and what came of it. */
export interface FedRun {
  readonly runId: number;
  /** Material and preparation in words; runs with the same words are added up. */
  readonly preparation: string;
  readonly fedKg: number;
  readonly woundKg: number;
  /** Kept by the cut lists. */
  readonly goodKg: number;
}

export interface YieldRow {
  readonly preparation: string;
  readonly runIds: readonly number[];
  readonly fedKg: number;
  readonly woundKg: number;
  readonly goodKg: number;
  /** Good strand per material fed. */
  readonly goodShare: number;
  /** More was wound than fed, so one of the figures is wrong. */
  readonly isImpossible: boolean;
}

/** The balance is a little off, and so is the density. Common practice, no source. */
const TOLERATED_SHARE = 0.05;

/** Yield by preparation, best first. */
export function yields(runs: readonly FedRun[]): readonly YieldRow[] {
  const preparations = [...new Set(runs.map(({ preparation }) => preparation))];
  const rows = preparations.map((preparation) => {
    const of = runs.filter((run) => run.preparation === preparation);
    const total = (what: 'fedKg' | 'woundKg' | 'goodKg') => of.reduce((kg, run) => kg + run[what], 0);
    const [fedKg, woundKg, goodKg] = [total('fedKg'), total('woundKg'), total('goodKg')];
    return {
      preparation,
      runIds: of.map(({ runId }) => runId),
      fedKg,
      woundKg,
      goodKg,
      goodShare: goodKg / fedKg,
      isImpossible: of.some((run) => run.woundKg > run.fedKg * (1 + TOLERATED_SHARE)),
    };
  });
  return rows.sort((a, b) => Number(a.isImpossible) - Number(b.isImpossible) || b.goodShare - a.goodShare);
}
