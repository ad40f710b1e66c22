import { type StrandLimits, toleranceBand } from '../strand-limits.ts';
import { type Capability, capability } from './capability.ts';
import { CELLS_A_MM, type DiameterTally, tallyDiameters } from './diameter-tally.ts';
import { type EffectiveSize, effectiveSize } from './effective-size.ts';
import { type GaugeSteps, gaugeSteps } from './gauge-steps.ts';
import { binsFor, type Histogram, histogram, type ToleranceShares, toleranceShares } from './histogram.ts';
import { lengthWeights } from './length-weights.ts';
import { D2 } from './moving-range.ts';
import { quantiles } from './quantiles.ts';
import { WeightedMoments } from './weighted-moments.ts';

export interface StrandStatistics {
  readonly lengthMm: number;
  /** Length not measured: gaps in the data and samples without a value. */
  readonly unknownMm: number;
  readonly meanMm: number;
  readonly sdMm: number;
  readonly minMm: number;
  readonly maxMm: number;
  /** At 1, 5, 25, 50, 75, 95 and 99 % of the length. */
  readonly quantilesMm: Readonly<Record<'p1' | 'p5' | 'p25' | 'p50' | 'p75' | 'p95' | 'p99', number>>;
  readonly tolerance: ToleranceShares;
  readonly histogram: Histogram;
  /** Single diameters, evenly spaced along the strand, from which the short-term spread follows. */
  readonly individuals: EffectiveSize & { readonly spacingMm: number };
  /** null where there are fewer than two individuals. */
  readonly capability: Capability | null;
  /** Sentences; empty when the numbers can be taken as they are. */
  readonly warnings: readonly string[];
}

export interface StatisticsOptions {
  /** The length that each sample represents; by default with a gap where two are further apart than 5 × the mean pitch. */
  readonly weightsMm?: Float64Array;
  /** Spacing of the individuals; default `individualsApartMm`, or a fiftieth of a spool shorter than 12.5 m. */
  readonly individualsEveryMm?: number;
}

/** Below this lag-1 autocorrelation the short-term spread is at most 10 % too small: σ_MR = σ√(1 − ρ₁). */
const LAG1_TO_WARN = 0.2;
/** NIST/SEMATECH e-Handbook 6.1.6: about 50 independent samples are a large enough sample for capability. */
const ENOUGH_SAMPLES = 50;

const INDIVIDUALS_APART_MM = 250;
/** Enough for 25 km, which no spool holds: a wrong unit of the speed must not take all the memory. */
const INDIVIDUALS_MAX = 100_000;

/** What does not depend on limits: calculated once, used for every tolerance. */
export interface StrandBasis {
  readonly diameterMm: ArrayLike<number>;
  readonly weights: Float64Array;
  readonly lengthMm: number;
  readonly moments: WeightedMoments;
  readonly tally: DiameterTally;
  readonly gauge: GaugeSteps;
  readonly quantilesMm: StrandStatistics['quantilesMm'];
  readonly size: EffectiveSize;
  readonly spacingMm: number;
  readonly meanRange: { readonly mean: number; readonly count: number };
}

/** Parallel arrays, one entry per sample; NaN = no value. Throws RangeError where positions fall. */
export function strandBasis(
  lengthMm: ArrayLike<number>,
  diameterMm: ArrayLike<number>,
  options: StatisticsOptions = {},
): StrandBasis {
  const samples = lengthMm.length;
  if (samples !== diameterMm.length)
    throw new RangeError(`${samples} positions do not fit ${diameterMm.length} diameters`);
  const total = samples < 2 ? 0 : lengthMm[samples - 1]! - lengthMm[0]!;
  const pitch = total / (samples - 1);
  const weights = options.weightsMm ?? lengthWeights(lengthMm, 5 * pitch);
  const moments = new WeightedMoments();
  for (let i = 0; i < samples; i++) moments.add(diameterMm[i]!, weights[i]!);
  const spacingMm =
    options.individualsEveryMm ??
    Math.min(individualsApartMm(total), total === 0 ? Number.POSITIVE_INFINITY : total / 50);
  const tally = tallyDiameters(diameterMm, weights);
  const talliedMm = tally.cells.map((cell) => cell / CELLS_A_MM);
  const shares = [0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99] as const;
  // A million readings hold a few hundred different diameters.
  const [p1, p5, p25, p50, p75, p95, p99] = quantiles(talliedMm, shares, tally.lengthsMm);
  const picked = individuals(lengthMm, diameterMm, spacingMm, pitch);
  return {
    diameterMm,
    weights,
    lengthMm: total,
    moments,
    tally,
    gauge: gaugeSteps(tally),
    quantilesMm: { p1, p5, p25, p50, p75, p95, p99 },
    size: effectiveSize(picked),
    spacingMm,
    meanRange: meanMovingRange(picked),
  };
}

export function statisticsAgainst(
  basis: StrandBasis,
  limits: Pick<StrandLimits, 'nominalMm' | 'toleranceMm'>,
): StrandStatistics {
  if (!(limits.toleranceMm > 0)) throw new RangeError(`a tolerance of ${limits.toleranceMm} mm leaves no band`);
  const { diameterMm, weights, moments, size, spacingMm, meanRange } = basis;
  const { lowerMm, upperMm } = toleranceBand(limits);
  return {
    lengthMm: basis.lengthMm,
    unknownMm: Math.max(0, basis.lengthMm - moments.weight),
    meanMm: moments.mean,
    sdMm: moments.sd,
    minMm: moments.min,
    maxMm: moments.max,
    quantilesMm: basis.quantilesMm,
    tolerance: toleranceShares(diameterMm, weights, lowerMm, upperMm),
    histogram: histogram(basis.tally, binsFor([basis.gauge], limits)),
    individuals: { ...size, spacingMm },
    capability:
      meanRange.count === 0 || moments.count < 2
        ? null
        : capability({
            lowerMm,
            upperMm,
            targetMm: limits.nominalMm,
            meanMm: moments.mean,
            sdWithinMm: meanRange.mean / D2,
            sdOverallMm: moments.sd,
            movingRanges: meanRange.count,
            effectiveForMean: size.forMean,
            effectiveForSd: size.forSd,
          }),
    warnings: warningsFor(size, spacingMm),
  };
}

/** Spacing of the individuals on so much strand. */
export function individualsApartMm(lengthMm: number): number {
  return Math.max(INDIVIDUALS_APART_MM, lengthMm / INDIVIDUALS_MAX);
}

/** The sample nearest to each whole multiple of the spacing; NaN where none is near. */
export function individuals(
  lengthMm: ArrayLike<number>,
  diameterMm: ArrayLike<number>,
  spacingMm: number,
  pitchMm: number,
): Float64Array {
  if (!(spacingMm > 0)) throw new RangeError(`individuals cannot be ${spacingMm} mm apart`);
  if (lengthMm.length < 2) return new Float64Array(0);
  const start = lengthMm[0]!;
  const count = Math.floor((lengthMm[lengthMm.length - 1]! - start) / spacingMm + 1e-9) + 1;
  const near = Math.max(spacingMm / 2, pitchMm);
  const picked = new Float64Array(count).fill(Number.NaN);
  let i = 0;
  for (let k = 0; k < count; k++) {
    const at = start + k * spacingMm;
    while (i + 1 < lengthMm.length && Math.abs(lengthMm[i + 1]! - at) <= Math.abs(lengthMm[i]! - at)) i++;
    if (Math.abs(lengthMm[i]! - at) <= near) picked[k] = diameterMm[i]!;
  }
  return picked;
}

function meanMovingRange(values: Float64Array): StrandBasis['meanRange'] {
  let sum = 0;
  let count = 0;
  for (let i = 1; i < values.length; i++) {
    const range = Math.abs(values[i]! - values[i - 1]!);
    if (!Number.isFinite(range)) continue;
    sum += range;
    count += 1;
  }
  return { mean: count === 0 ? Number.NaN : sum / count, count };
}

function warningsFor(size: EffectiveSize, spacingMm: number): string[] {
  const warnings: string[] = [];
  if (size.lag1 > LAG1_TO_WARN) {
    const factor = 1 / Math.sqrt(Math.max(1e-6, 1 - size.lag1));
    warnings.push(
      `Diameters ${spacingMm.toFixed(0)} mm apart still follow each other (lag-1 autocorrelation ${size.lag1.toFixed(2)}), ` +
        `so Cp and Cpk look about ${factor.toFixed(1)} times too good: judge by Pp and Ppk.`,
    );
  }
  if (size.count > 0 && size.forMean < ENOUGH_SAMPLES) {
    warnings.push(
      `The stretch is worth only about ${Math.max(1, Math.floor(size.forMean))} independent samples; ` +
        `capability asks for about ${ENOUGH_SAMPLES}, so take its numbers with their intervals.`,
    );
  }
  return warnings;
}
