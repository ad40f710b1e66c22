import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import type { Value } from '../preparation/fields.ts';
import { incompleteBeta } from '../probability/beta.ts';
import { correlation } from '../probability/correlation.ts';
import { holm, intervalOf } from '../strand/statistics/differences.ts';
import { combined, type Fit, fitRegression } from '../strand/statistics/regression.ts';
import { contrastOf, type Design, designOf, type Factor } from './design.ts';
import { type Night, OUTCOME_MODELS, OUTCOMES, type OutcomeKey } from './outcomes.ts';

/** A value with its 95 % interval. */
export interface Estimate {
  readonly value: number;
  readonly lower: number;
  readonly upper: number;
}

export const FINDINGS = ['shown', 'perhaps', 'notShown'] as const;
/** `perhaps`: of twenty years in which no field does anything, one has it. */
type Finding = (typeof FINDINGS)[number];

export interface FieldEffect {
  readonly key: string;
  /** The outcome at each level, all else as in an average night. */
  readonly levels: readonly { readonly value: Value; readonly nights: number; readonly estimate: Estimate }[];
  /** Chance of so large an effect if there is none, corrected for the number of fields and of outcomes. */
  readonly p: number;
  readonly finding: Finding;
  /** The two levels that differ most surely: how many times as much the second has; of good strand, as odds. */
  readonly largest: { readonly from: number; readonly to: number; readonly ratio: Estimate };
  /** Fields that were changed nearly always together with it: their effects cannot be told apart. */
  readonly changedWith: readonly string[];
}

/** What the fields did to one outcome. */
export interface OutcomeEffects {
  readonly key: OutcomeKey;
  /** In order of size. */
  readonly fields: readonly FieldEffect[];
  readonly average: Estimate;
  /** Factor by which nights that were prepared alike usually differ (one standard deviation); 1 = no more than chance explains. */
  readonly nightsDifferBy: Estimate;
}

export type Effects =
  | { readonly known: false; readonly why: string }
  | {
      readonly known: true;
      readonly nights: number;
      /** Those that the nights say something about; the first is that of blobs, if they do. */
      readonly outcomes: readonly OutcomeEffects[];
      readonly leftOut: readonly string[];
    };

const NIGHTS_MIN = 6;
const CONFIDENCE = 0.95;
/** Of all years in which no field does anything, at most this share may show an effect. */
const ALPHA = 0.01;
const ALPHA_PERHAPS = 0.05;
const TOGETHER = 0.9;

/** What each field of the preparation does to what comes of a night, from all nights together. */
export function effectsOf(given: readonly Night[]): Effects {
  const nights = given.filter(({ measuredMm }) => measuredMm > 0);
  if (nights.length < NIGHTS_MIN) return { known: false, why: tooFewText(nights.length) };
  const design = designOf(nights.map(({ values }) => values));
  if (design.factors.length === 0)
    return {
      known: false,
      why: 'All nights were prepared alike, as far as entered. Change one thing, such as the drying time, and enter it.',
    };
  const outcomes = OUTCOMES.map((key) => outcomeOf(key, nights)).filter((one) => one !== null);
  if (outcomes.length === 0)
    return { known: false, why: 'Too much was changed in too few nights. Repeat one of the preparations.' };
  return { known: true, nights: nights.length, outcomes, leftOut: design.leftOut };
}

/** null = the nights do not determine it, or no night had a blob. */
function outcomeOf(key: OutcomeKey, all: readonly Night[]): OutcomeEffects | null {
  const model = OUTCOME_MODELS[key];
  const nights = all.filter(model.isKnown);
  const design = designOf(nights.map(({ values }) => values));
  if (nights.length < NIGHTS_MIN || design.factors.length === 0) return null;
  const sds = design.rows[0]!.map((_, column) => (column === 0 ? Number.POSITIVE_INFINITY : model.stepSd));
  const fit = fitRegression(design.rows, model.observed(nights), sds);
  if (fit === null) return null;
  const adjusted = holm(design.factors.map((factor) => jointP(fit, factor))).map((p) =>
    Math.min(1, (p ?? 1) / model.alphaShare),
  );
  const fields = design.factors.map((factor, i) => effectOf(design, fit, factor, adjusted[i]!, model.valueOf));
  const differBy = (variance: number) => Math.exp(Math.sqrt(variance));
  return {
    key,
    fields: fields.toSorted((a, b) => sizeOf(b) - sizeOf(a)),
    average: estimateAt(fit, new Array<number>(fit.coefficients.length).fill(0).with(0, 1), model.valueOf),
    nightsDifferBy: {
      value: differBy(fit.betweenRuns),
      lower: differBy(fit.betweenRunsRange.lower),
      upper: differBy(fit.betweenRunsRange.upper),
    },
  };
}

function tooFewText(nights: number): string {
  const todo = `Wind at least ${NIGHTS_MIN} nights, change one thing at a time, and repeat each preparation.`;
  if (nights === 0) return `There is no night to compare yet. ${todo}`;
  const have = nights === 1 ? 'One night' : `${nights} nights`;
  return `${have} cannot show what a preparation does: nights that were prepared alike differ too, and by how much is not known yet. ${todo}`;
}

type Scale = (linear: number) => number;

function effectOf(design: Design, fit: Fit, factor: Factor, p: number, scale: Scale): FieldEffect {
  return {
    key: factor.key,
    levels: factor.levels.map(({ value, nights }, level) => ({
      value,
      nights,
      estimate: estimateAt(fit, rowOf(design, fit, factor, level), scale),
    })),
    p,
    finding: p < ALPHA ? 'shown' : p < ALPHA_PERHAPS ? 'perhaps' : 'notShown',
    largest: surestPair(fit, factor),
    changedWith: design.factors
      .filter((other) => other !== factor && areTogether(design, factor, other))
      .map(({ key }) => key),
  };
}

/** The two levels whose difference is largest for its standard error. Its interval allows for the choice of the pair (Bonferroni). */
function surestPair(fit: Fit, factor: Factor): FieldEffect['largest'] {
  const pairs = factor.levels.flatMap((_, from) =>
    factor.levels.slice(from + 1).map((__, i) => [from, from + 1 + i] as const),
  );
  const [best] = pairs
    .map(([from, to]) => {
      const vector = vectorOf(fit, factor, contrastOf(factor, from, to));
      const { value, standardError } = combined(fit, vector);
      return { from, to, vector, sureness: Math.abs(value) / standardError };
    })
    .sort((a, b) => b.sureness - a.sureness);
  const { from, to, vector } = best!;
  return { from, to, ratio: estimateAt(fit, vector, Math.exp, 1 - (1 - CONFIDENCE) / pairs.length) };
}

/** Shown effects come first, then those that may be there. */
function sizeOf({ largest: { ratio }, finding }: FieldEffect): number {
  return Math.abs(Math.log(ratio.value)) - 100 * FINDINGS.indexOf(finding);
}

/** A vector over all columns with these entries for the factor and 0 elsewhere. */
function vectorOf(fit: Fit, { firstColumn }: Factor, entries: readonly number[]): number[] {
  return fit.coefficients.map((_, column) => entries[column - firstColumn] ?? 0);
}

/** An average night, but with this level of the factor. */
function rowOf(design: Design, fit: Fit, factor: Factor, level: number): number[] {
  const night = factor.levelOf.indexOf(level);
  const entries = factor.levels.slice(1).map((_, i) => design.rows[night]![factor.firstColumn + i]!);
  return vectorOf(fit, factor, entries).with(0, 1);
}

function estimateAt(fit: Fit, vector: readonly number[], scale: Scale, confidence = CONFIDENCE): Estimate {
  const estimate = combined(fit, vector);
  const { lower, upper } = intervalOf(estimate, confidence);
  return { value: scale(estimate.value), lower: scale(lower), upper: scale(upper) };
}

/** Wald test that a factor does nothing: F with its columns and the degrees of freedom of the fit. */
function jointP(fit: Fit, { firstColumn, levels }: Factor): number {
  const columns = levels.slice(1).map((_, i) => firstColumn + i);
  const beta = columns.map((column) => fit.coefficients[column]!);
  const block = columns.map((a) => columns.map((b) => fit.covariance[a]![b]!));
  const solved = new CholeskyDecomposition(new Matrix(block)).solve(Matrix.columnVector(beta)).to1DArray();
  const k = columns.length;
  const f = beta.reduce((sum, value, i) => sum + value * solved[i]!, 0) / k;
  const degrees = fit.degreesOfFreedom;
  return incompleteBeta(degrees / (degrees + k * f), degrees / 2, k / 2);
}

/** Only nights in which both are known say whether they were changed together. */
function areTogether({ rows }: Design, one: Factor, other: Factor): boolean {
  const both = rows.filter((_, i) => one.levelOf[i] !== null && other.levelOf[i] !== null);
  const columnsOf = ({ firstColumn, levels }: Factor) =>
    levels.slice(1).map((_, i) => both.map((row) => row[firstColumn + i]!));
  return columnsOf(one).some((a) => columnsOf(other).some((b) => Math.abs(correlation(a, b)) > TOGETHER));
}
