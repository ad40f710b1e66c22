import { changeEvidence } from '../statistics/change-evidence.ts';
import { longRunSpread } from '../statistics/long-run-spread.ts';

/** steady: no more than chance. step: another level from one place on. creep: it moved all along. unknown: cannot be decided. */
type SteadinessFinding = 'steady' | 'step' | 'creep' | 'unknown';

/** The mean on both sides of a step, or at both ends of a creep. */
interface LevelChange {
  /** Index of the first point after it; for a creep, the point that halves the strand's excess. */
  readonly index: number;
  /** Points by which the place may be off, either way, with 95 % confidence. */
  readonly indexUncertainty: number;
  readonly before: number;
  readonly after: number;
}

export interface SteadinessChart {
  /** Sums of the deviations from the mean of all points: they move away from 0 while the level differs, and end at 0. */
  readonly sums: Float64Array;
  readonly target: number;
  /** Sums beyond ± this come by chance on one steady spool in a hundred. */
  readonly decision: number;
  readonly finding: SteadinessFinding;
  readonly change: LevelChange | null;
  /** A smaller step in the middle of such strand may not be found; null where a change is found, or no step would be. */
  readonly smallestStep: number | null;
}

/** Fewer points say too little about their own spread. */
export const STEADINESS_POINTS_MIN = 50;
/** P(sup |Brownian bridge| > this) = 1 % (Kolmogorov 1933; scipy.special.kolmogi(0.01)). */
const DECISION = 1.627624;
/** From this correlation on the decision interval is too uncertain to call strand within it steady. */
const PHI_MAX = 0.7;
/**
 * A change must be this much likelier than the wander that suits the strand best. By chance that is so for at most one steady
 * spool in a hundred: noise, wander over 1 to 100 m of 330 m with or without noise, 1/f and random walk (simulated).
 */
const EVIDENCE_MIN = 22;
/** The smallest step that would be found is looked for between these multiples of the range, to within a twentieth. */
const STEPS = { least: 0.01, most: 10, accuracy: 1.05 };
/**
 * Like strands do not show a step equally well: four in five show one that is so much larger, also where they wander slowly
 * under fast noise or by 1/f (simulated).
 */
const STEP_MARGIN = 1.8;
/**
 * 95 % of the distances of the estimated place from the true one are below this, times (σ/shift)² (Bai 1997, Rev. Econ.
 * Stat. 79, from memory; the tests check the coverage).
 */
const PLACE_FACTOR = 11;
/** Constant, mean, slope and step are fitted before the spread is taken. */
const FITTED = 3;

/**
 * CUSUM of a whole series about its own mean: was the level the same all along, and if not, since where? The decision
 * interval holds for the series as a whole and follows from the long-run spread about the best step and slope, so neither
 * correlation of neighbours nor the change itself widens or narrows it (Ploberger & Krämer 1992, Econometrica 60). Beyond
 * it, a change is found only if wander does not explain the strand nearly as well: a slow wander under fast noise hardly
 * shows in the long-run spread.
 *
 * @param values evenly spaced, all finite, at least 50
 */
export function steadinessChart(values: Float64Array): SteadinessChart {
  const n = values.length;
  if (n < STEADINESS_POINTS_MIN) throw new RangeError(`${n} points are too few to tell whether they are steady`);
  const { sums, target, decision, fit, beyond, phi, sigma } = examine(values);
  const chart = { sums, target, decision };
  if (beyond && fit.evidence() > EVIDENCE_MIN) {
    const { before, after } = fit;
    const indexUncertainty = 1 + PLACE_FACTOR * (sigma / (after - before)) ** 2;
    const change = { index: fit.index, indexUncertainty, before, after };
    return { ...chart, finding: fit.kind, change, smallestStep: null };
  }
  const finding = beyond || phi >= PHI_MAX ? 'unknown' : 'steady';
  return { ...chart, finding, change: null, smallestStep: smallestStep(values) };
}

/** The smallest step, up and down, that is found when added in the middle of these values, and a margin. */
function smallestStep(values: Float64Array): number | null {
  const n = values.length;
  const range = Math.max(...values) - Math.min(...values);
  const isFound = (step: number) =>
    [step, -step].every((by) => {
      const { fit, beyond } = examine(values.map((value, i) => (i < n / 2 ? value : value + by)));
      return beyond && fit.evidence() > EVIDENCE_MIN;
    });
  let missed = STEPS.least * range;
  let found = STEPS.most * range;
  if (!isFound(found)) return null;
  while (found > STEPS.accuracy * missed) {
    const between = Math.sqrt(found * missed);
    if (isFound(between)) found = between;
    else missed = between;
  }
  return STEP_MARGIN * found;
}

/** The sums of a series, and the change that explains them best. */
function examine(values: Float64Array) {
  const n = values.length;
  const target = values.reduce((sum, value) => sum + value, 0) / n;
  const sums = new Float64Array(n);
  let sum = 0;
  let at = 0;
  for (const [i, value] of values.entries()) {
    sum += value - target;
    sums[i] = sum;
    if (Math.abs(sum) > Math.abs(sums[at]!)) at = i;
  }
  // Sums and residuals of equal values are rounding errors.
  const rounding = 1e-12 * n * Math.abs(target);
  const fit = fitLevels(values, target, at + 1, rounding);
  const { sigma, phi } = longRunSpread(fit.residuals, FITTED);
  const decision = DECISION * sigma * Math.sqrt(n);
  const beyond = Math.abs(sums[at]!) > Math.max(decision, rounding);
  return { sums, target, decision, fit, beyond, phi, sigma };
}

interface LevelFit {
  /** About a line and a step together. */
  readonly residuals: Float64Array;
  /** Which of both alone explains more. */
  readonly kind: 'step' | 'creep';
  /** For it, against wander. */
  readonly evidence: () => number;
  /** Of the first value after a step. */
  readonly index: number;
  readonly before: number;
  readonly after: number;
}

/** @param index of the first value after the step */
function fitLevels(values: Float64Array, mean: number, index: number, rounding: number): LevelFit {
  const n = values.length;
  const slopeAt = (i: number) => (2 * i + 1) / n - 1;
  const stepAt = (i: number) => (i < index ? 0 : 1) - (n - index) / n;
  let [tt, ss, ts, ty, sy] = [0, 0, 0, 0, 0];
  for (let i = 0; i < n; i++) {
    const [t, s, y] = [slopeAt(i), stepAt(i), values[i]! - mean];
    tt += t * t;
    ss += s * s;
    ts += t * s;
    ty += t * y;
    sy += s * y;
  }
  const determinant = tt * ss - ts * ts;
  const slope = (ss * ty - ts * sy) / determinant;
  const step = (tt * sy - ts * ty) / determinant;
  const residuals = Float64Array.from(values, (value, i) => {
    const residual = value - mean - slope * slopeAt(i) - step * stepAt(i);
    return Math.abs(residual) > rounding ? residual : 0;
  });
  const kind = ty ** 2 / tt > sy ** 2 / ss ? 'creep' : 'step';
  const [shapeAt, height] = kind === 'creep' ? [slopeAt, ty / tt] : [stepAt, sy / ss];
  const shape = values.map((_, i) => shapeAt(i));
  const evidence = () => changeEvidence(values, shape);
  const [first, last] = kind === 'creep' ? [-1, 1] : [stepAt(0), stepAt(n - 1)];
  return { residuals, kind, evidence, index, before: mean + height * first, after: mean + height * last };
}
