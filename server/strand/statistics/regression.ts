import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import { chiSquareQuantile } from '../../probability/distributions.ts';
import type { Uncertain } from './differences.ts';

/** What is modelled, one value per run: the run is the unit, because what varies from night to night is not in a single one. */
export interface Observed {
  /** Number of events, or a value on the scale of the model. */
  readonly y: readonly number[];
  /** For counts: the strand in which they were counted, in any unit. */
  readonly exposure: readonly number[];
  readonly family: 'count' | 'normal';
}

export interface Fit {
  /** One per column: on the scale of a logarithm for counts. */
  readonly coefficients: readonly number[];
  readonly covariance: readonly (readonly number[])[];
  /**
   * For counts, the variance between runs that are prepared alike, on the scale of a logarithm; 0 = chance within the runs explains
   * all. For `normal`, the variance.
   */
  readonly betweenRuns: number;
  /** Its 95 % interval. */
  readonly betweenRunsRange: { readonly lower: number; readonly upper: number };
  /** Runs less the columns that the data really determine. */
  readonly degreesOfFreedom: number;
}

/** Half of what an interval of 95 % leaves out. */
const TAIL = 0.025;
const ROUNDS_MAX = 200;
const SETTLED = 1e-10;
/** A rate is kept within e^±30, so that a column without any event ends the search at a finite place. */
const LINEAR_MAX = 30;

/**
 * A regression with a normal prior around 0 on each coefficient (ridge regression; Hoerl & Kennard 1970, Technometrics 12), by
 * iteratively reweighted least squares. Counts have a logarithmic link and the variance m + ωm², where ω is what nights that are
 * prepared alike differ by, found from Pearson's statistic (extra-Poisson variation; Breslow 1984, Applied Statistics 33). So a
 * night with many blobs does not count more than its own variation allows. Degrees of freedom lost are the trace of the smoother (Hastie, Tibshirani & Friedman 2009, 7.6).
 *
 * @param rows one per run; for counts, the first column is 1
 * @param priorSd one per column; Infinity = no prior
 * @returns null = the runs do not determine it: no degree of freedom is left, or nothing was counted at all
 */
export function fitRegression(
  rows: readonly (readonly number[])[],
  observed: Observed,
  priorSd: readonly number[],
): Fit | null {
  const n = rows.length;
  const columns = priorSd.length;
  if (n === 0 || (observed.family === 'count' && observed.y.every((count) => count === 0))) return null;
  const offset = observed.exposure.map((one) => (observed.family === 'count' ? Math.log(one) : 0));
  let betweenRuns = observed.family === 'count' ? 0 : 1;
  let beta = startOf(observed, columns);
  let inverse = Matrix.zeros(columns, columns);
  let lost = 0;
  for (let round = 0; ; round++) {
    const { weights, working } = weighted(observed, linearOf(observed, rows, beta, offset), offset, betweenRuns);
    const information = Matrix.zeros(columns, columns);
    const right = Matrix.zeros(columns, 1);
    for (let i = 0; i < n; i++)
      for (let a = 0; a < columns; a++) {
        const wx = weights[i]! * rows[i]![a]!;
        right.set(a, 0, right.get(a, 0) + wx * working[i]!);
        // Both halves get the same sum: rounding must not make the matrix unsymmetric.
        for (let b = 0; b <= a; b++) {
          const sum = information.get(a, b) + wx * rows[i]![b]!;
          information.set(a, b, sum);
          information.set(b, a, sum);
        }
      }
    const penalised = information.clone();
    for (let a = 0; a < columns; a++) penalised.set(a, a, penalised.get(a, a) + 1 / priorSd[a]! ** 2);
    const solver = new CholeskyDecomposition(penalised);
    if (!solver.isPositiveDefinite()) return null;
    const solved = solver.solve(Matrix.eye(columns));
    inverse = Matrix.add(solved, solved.transpose()).mul(0.5);
    const next = inverse.mmul(right).to1DArray();
    lost = inverse.mmul(information).trace();
    if (!(n - lost > 0.5)) return null;
    const moved = Math.max(...next.map((value, a) => Math.abs(value - beta[a]!)));
    beta = next;
    const before = betweenRuns;
    betweenRuns = spreadBetween(observed, linearOf(observed, rows, beta, offset), n - lost);
    const settled = moved < SETTLED && Math.abs(betweenRuns - before) < SETTLED * (1 + betweenRuns);
    if (settled || round === ROUNDS_MAX) break;
  }
  const degrees = n - lost;
  const linear = linearOf(observed, rows, beta, offset);
  const spreadAt = (p: number) => spreadBetween(observed, linear, chiSquareQuantile(p, degrees));
  return {
    coefficients: beta,
    covariance: inverse.to2DArray(),
    betweenRuns,
    // Pearson's statistic with the true spread is nearly chi-square.
    betweenRunsRange: { lower: spreadAt(1 - TAIL), upper: spreadAt(TAIL) },
    degreesOfFreedom: degrees,
  };
}

/** The sum of the coefficients, each times its entry in the vector: a value that the model expects, or a difference. */
export function combined(fit: Fit, vector: readonly number[]): Uncertain {
  let [value, variance] = [0, 0];
  for (const [a, x] of vector.entries()) {
    if (x === 0) continue;
    value += x * fit.coefficients[a]!;
    for (const [b, z] of vector.entries()) variance += x * z * fit.covariance[a]![b]!;
  }
  return { value, standardError: Math.sqrt(variance), degreesOfFreedom: fit.degreesOfFreedom };
}

function startOf({ y, exposure, family }: Observed, columns: number): number[] {
  const sum = (values: readonly number[]) => values.reduce((total, value) => total + value, 0);
  const first = family === 'count' ? Math.log(sum(y) / sum(exposure)) : sum(y) / y.length;
  return Array.from({ length: columns }, (_, i) => (i === 0 ? first : 0));
}

function linearOf(
  { family }: Observed,
  rows: readonly (readonly number[])[],
  beta: readonly number[],
  offset: readonly number[],
): readonly number[] {
  return rows.map((row, i) => {
    const linear = row.reduce((sum, value, a) => sum + value * beta[a]!, offset[i]!);
    return family === 'normal' ? linear : Math.min(LINEAR_MAX, Math.max(-LINEAR_MAX, linear));
  });
}

/** Weights and working values of one step. */
function weighted({ y, family }: Observed, linear: readonly number[], offset: readonly number[], betweenRuns: number) {
  if (family === 'normal') return { weights: y.map(() => 1 / betweenRuns), working: y };
  const means = linear.map(Math.exp);
  return {
    weights: means.map((mean) => mean / (1 + betweenRuns * mean)),
    working: linear.map((one, i) => one - offset[i]! + (y[i]! - means[i]!) / means[i]!),
  };
}

/** Values that differ less are taken for equal. */
export const LEAST_VARIANCE = 1e-12;
const HALVINGS = 60;
const BETWEEN_MAX = 100;

/** The variance between runs with which Pearson's statistic is as large as this; at best, its degrees of freedom. */
function spreadBetween({ y, family }: Observed, linear: readonly number[], wanted: number): number {
  if (family === 'normal')
    return Math.max(LEAST_VARIANCE, y.reduce((sum, value, i) => sum + (value - linear[i]!) ** 2, 0) / wanted);
  const means = linear.map(Math.exp);
  const statistic = (between: number) =>
    y.reduce((sum, count, i) => sum + (count - means[i]!) ** 2 / (means[i]! * (1 + between * means[i]!)), 0);
  if (statistic(0) <= wanted) return 0;
  let [low, high] = [0, BETWEEN_MAX];
  for (let i = 0; i < HALVINGS; i++) {
    const middle = (low + high) / 2;
    if (statistic(middle) > wanted) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
