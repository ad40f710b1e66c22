import { studentTwoSided } from '../../probability/student-t.ts';
import { correlationAt, lagCorrelations, levelScores } from './lagged-correlation.ts';

/** A signal of the line, averaged over the same even steps of time as the strand. NaN = no value. */
export interface SignalSteps {
  readonly name: string;
  readonly values: ArrayLike<number>;
}

export interface RelatedReading {
  readonly signal: string;
  /** What moved with it: the diameter, or how much of the strand was bad. */
  readonly strand: 'diameter' | 'badStretches';
  /** The strand followed so much later, ms. */
  readonly lagMs: number;
  /** Of the ranks, −1 to 1. */
  readonly correlation: number;
  /** How probable so close a relation, or a closer one, is between unrelated signals, for all that were tried. */
  readonly chance: number;
}

/** Of all findings about a run, false ones are to be this rare. */
const FALSE_SHARE = 0.01;
/** Melt takes minutes to follow the heat. */
const LAG_MAX_MS = 10 * 60_000;
/** Fewer independent pairs show nothing, however alike they look. */
const EFFECTIVE_MIN = 12;
/** A relation of blobs with a signal needs some of them. */
const BAD_STEPS_MIN = 5;

/**
 * Which signals moved before or with the strand: an observation, not a cause. Both are freed of slow drift, which any two
 * signals of one evening share, and replaced by ranks, which no outlier rules. Their correlation is then tried at each lag up
 * to ten minutes. Neighbouring steps are alike, so the number of independent pairs is much lower than that of steps:
 * Var r ≈ Σ ρ_x(j) ρ_y(j) / n (Bartlett 1935, J. R. Stat. Soc. 98). The chance is multiplied by the number of signals and
 * of different lags tried (Bonferroni).
 *
 * @param diameterMm means over even steps of time; NaN = no strand
 * @param badShare of each step: 0 to 1
 */
export function relatedReadings(
  stepMs: number,
  diameterMm: ArrayLike<number>,
  badShare: ArrayLike<number>,
  signals: readonly SignalSteps[],
): RelatedReading[] {
  const lags = Math.max(1, Math.min(Math.floor(LAG_MAX_MS / stepMs), Math.floor(diameterMm.length / 8)));
  const strands = (
    [
      ['diameter', diameterMm],
      ['badStretches', spells(badShare) < BAD_STEPS_MIN ? [] : badShare],
    ] as const
  ).flatMap(([strand, values]) => {
    const scores = levelScores(values);
    return scores === null ? [] : [{ strand, scores, own: lagCorrelations(scores) }];
  });
  const moving = signals.flatMap(({ name, values }) => {
    const scores = levelScores(values);
    return scores === null ? [] : [{ name, scores, own: lagCorrelations(scores) }];
  });
  const pairsTried = strands.length * moving.length;
  const found: RelatedReading[] = [];
  for (const { name, scores, own } of moving) {
    for (const { strand, scores: of, own: ownOfStrand } of strands) {
      const pairs = effectivePairs(of.length, own, ownOfStrand);
      if (pairs < EFFECTIVE_MIN) continue;
      let [best, lag] = [0, 0];
      for (let one = 0; one <= lags; one++) {
        const r = correlationAt(scores, of, one);
        if (Math.abs(r) > Math.abs(best)) [best, lag] = [r, one];
      }
      const t = Math.abs(best) * Math.sqrt((pairs - 2) / Math.max(1e-12, 1 - best * best));
      // Neighbouring lags try nearly the same: as many are new as there are independent pairs among so many steps.
      const lagsTried = 1 + (lags * pairs) / of.length;
      const chance = Math.min(1, studentTwoSided(t, pairs - 2) * pairsTried * lagsTried);
      if (chance <= FALSE_SHARE) found.push({ signal: name, strand, lagMs: lag * stepMs, correlation: best, chance });
    }
  }
  return found.sort((a, b) => a.chance - b.chance || Math.abs(b.correlation) - Math.abs(a.correlation));
}

/** Independent pairs that say as much as the steps of two series. @param a, b their autocorrelations from lag 1 */
export function effectivePairs(steps: number, a: ArrayLike<number>, b: ArrayLike<number>): number {
  let sum = 1;
  for (let lag = 1; lag <= a.length; lag++) sum += 2 * (1 - lag / steps) * a[lag - 1]! * b[lag - 1]!;
  return Math.min(steps, steps / Math.max(1, sum));
}

/** Separate stretches with something in them. */
function spells(values: ArrayLike<number>): number {
  let count = 0;
  for (let i = 0; i < values.length; i++) if (values[i]! > 0 && !(values[i - 1]! > 0)) count++;
  return count;
}
