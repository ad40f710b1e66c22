import { chiSquareQuantile } from '../../probability/distributions.ts';
import { studentHalfWidth } from '../../probability/student-t.ts';

/** Of the intervals. */
const CONFIDENCE = 0.95;

/** An index with the interval that holds its true value with 95 % confidence. */
interface IndexEstimate {
  readonly value: number;
  readonly lower: number;
  readonly upper: number;
}

export interface CapabilityInput {
  readonly lowerMm: number;
  readonly upperMm: number;
  /** For Cpm; the nominal diameter. */
  readonly targetMm: number;
  readonly meanMm: number;
  /** Short-term spread: mean moving range / d2. */
  readonly sdWithinMm: number;
  /** Long-term spread: the standard deviation of everything. */
  readonly sdOverallMm: number;
  /** Number of moving ranges behind `sdWithinMm`. */
  readonly movingRanges: number;
  /** Effective number of independent samples for the mean and for the long-term spread (`effectiveSize`). */
  readonly effectiveForMean: number;
  readonly effectiveForSd: number;
}

export interface Capability {
  readonly cp: IndexEstimate;
  readonly cpk: IndexEstimate;
  readonly pp: IndexEstimate;
  readonly ppk: IndexEstimate;
  readonly cpm: IndexEstimate;
}

/**
 * Degrees of freedom per moving range. Successive ranges share a value, so their mean says less than a standard
 * deviation: var(MR̄/d2) → 0.8264 σ²/n against σ²/2n (Cryer & Ryan 1990, J. Qual. Technol. 22(3), from memory;
 * follows from cov|x2−x1|,|x3−x2| = (2√3/π + 1/3 − 4/π) σ²). Ranges of correlated values are less correlated, not more.
 */
const DEGREES_A_MOVING_RANGE = 0.605;
/** A short series spreads less about its own mean than about the true one; the share by which is known no better than this. */
const SHORTFALL_MAX = 0.3;

/**
 * Process capability (short-term: Cp, Cpk) and performance (long-term: Pp, Ppk; about the target: Cpm).
 *
 * Cp = (upper − lower)/6σ; Cpk = min(upper − m, m − lower)/3σ; Cpm = (upper − lower)/6√(σ² + (m − target)²)
 * (NIST/SEMATECH e-Handbook 6.1.6). Intervals: Cp and Pp by the chi-square distribution (Kane 1986, J. Qual. Technol.
 * 18(1)); Cpk and Ppk from those of the spread and of the mean (Zou & Donner 2008, Stat. Med. 27; for large samples that of
 * Bissell 1990, Appl. Stat. 39(3)); Cpm by Boyles 1991, J. Qual. Technol. 23(1), with an effective size each for spread and
 * mean. Without any variation the indices and their intervals are infinite.
 */
export function capability(input: CapabilityInput): Capability {
  const { lowerMm, upperMm, targetMm, meanMm, sdWithinMm, sdOverallMm } = input;
  if (!(lowerMm < upperMm)) throw new RangeError(`the limits ${lowerMm} and ${upperMm} mm are in the wrong order`);

  const width = upperMm - lowerMm;
  const nearest = Math.min(upperMm - meanMm, meanMm - lowerMm);
  const forMean = Math.max(1, input.effectiveForMean);
  const within = Math.max(1, input.movingRanges * DEGREES_A_MOVING_RANGE);
  const overall = Math.max(1, input.effectiveForSd - 1);
  const offTarget = (meanMm - targetMm) / sdOverallMm;
  const boyles = (1 + offTarget ** 2) ** 2 / (1 / overall + (2 * offTarget ** 2) / forMean);
  const cp = chiSquareInterval(width / (6 * sdWithinMm), within);
  const pp = chiSquareInterval(width / (6 * sdOverallMm), overall, shortfall(forMean, input.movingRanges));
  const meanHalfMm = (sdOverallMm / Math.sqrt(forMean)) * studentHalfWidth(CONFIDENCE, overall);
  return {
    cp,
    cpk: placedInterval(cp, nearest / (width / 2), meanHalfMm / (3 * sdWithinMm)),
    pp,
    ppk: placedInterval(pp, nearest / (width / 2), meanHalfMm / (3 * sdOverallMm)),
    cpm: chiSquareInterval(width / (6 * Math.hypot(sdOverallMm, meanMm - targetMm)), boyles),
  };
}

/** Factor by which the true standard deviation is probably larger than that about the mean of a correlated series. */
function shortfall(forMean: number, movingRanges: number): number {
  const beyondIndependent = 1 / Math.max(1e-9, forMean - 1) - 1 / movingRanges;
  return Math.sqrt(1 + Math.min(SHORTFALL_MAX, Math.max(0, beyondIndependent)));
}

function chiSquareInterval(value: number, degrees: number, spreadFactor = 1): IndexEstimate {
  if (!Number.isFinite(value) || !Number.isFinite(degrees)) return { value, lower: value, upper: value };
  const miss = (1 - CONFIDENCE) / 2;
  const end = (p: number) => (value / spreadFactor) * Math.sqrt(chiSquareQuantile(p, degrees) / degrees);
  return { value, lower: end(miss), upper: end(1 - miss) };
}

/**
 * From an index of the spread alone to that of its place in the band.
 *
 * @param share of the half band between the mean and the nearer limit
 * @param meanHalf half of the interval of the mean, on the scale of the index
 */
function placedInterval({ value, lower, upper }: IndexEstimate, share: number, meanHalf: number): IndexEstimate {
  const placed = value * share;
  if (!Number.isFinite(value)) return { value: placed, lower: placed, upper: placed };
  const [below, above] = [(value - lower) * share, (upper - value) * share];
  // Outside the band a larger spread brings the index nearer to 0.
  const [down, up] = share >= 0 ? [below, above] : [-above, -below];
  return { value: placed, lower: placed - Math.hypot(down, meanHalf), upper: placed + Math.hypot(up, meanHalf) };
}
