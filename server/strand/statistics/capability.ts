import { chiSquareQuantile, normalQuantile } from '../../probability/distributions.ts';

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
 * follows from cov|x2−x1|,|x3−x2| = (2√3/π + 1/3 − 4/π) σ²).
 */
const DEGREES_A_MOVING_RANGE = 0.605;

/**
 * Process capability (short-term: Cp, Cpk) and performance (long-term: Pp, Ppk; about the target: Cpm).
 *
 * Cp = (upper − lower)/6σ; Cpk = min(upper − m, m − lower)/3σ; Cpm = (upper − lower)/6√(σ² + (m − target)²)
 * (NIST/SEMATECH e-Handbook 6.1.6). Intervals: Cp and Pp by the chi-square distribution (Kane 1986, J. Qual. Technol.
 * 18(1)); Cpk and Ppk by the normal approximation of Bissell 1990, Appl. Stat. 39(3); Cpm by Boyles 1991,
 * J. Qual. Technol. 23(1). Without any variation the indices and their intervals are infinite.
 */
export function capability(input: CapabilityInput): Capability {
  const { lowerMm, upperMm, targetMm, meanMm, sdWithinMm, sdOverallMm } = input;
  if (!(lowerMm < upperMm)) throw new RangeError(`the limits ${lowerMm} and ${upperMm} mm are in the wrong order`);

  const width = upperMm - lowerMm;
  const nearest = Math.min(upperMm - meanMm, meanMm - lowerMm);
  const forMean = Math.max(2, input.effectiveForMean);
  const within = Math.max(1, Math.min(input.movingRanges * DEGREES_A_MOVING_RANGE, forMean - 1));
  const overall = Math.max(1, input.effectiveForSd - 1);
  const offTarget = (meanMm - targetMm) / sdOverallMm;
  const boyles = ((overall + 1) * (1 + offTarget ** 2) ** 2) / (1 + 2 * offTarget ** 2);

  return {
    cp: chiSquareInterval(width / (6 * sdWithinMm), within),
    cpk: bissellInterval(nearest / (3 * sdWithinMm), within, forMean),
    pp: chiSquareInterval(width / (6 * sdOverallMm), overall),
    ppk: bissellInterval(nearest / (3 * sdOverallMm), overall, forMean),
    cpm: chiSquareInterval(width / (6 * Math.hypot(sdOverallMm, meanMm - targetMm)), boyles),
  };
}

function chiSquareInterval(value: number, degrees: number): IndexEstimate {
  if (!Number.isFinite(value) || !Number.isFinite(degrees)) return { value, lower: value, upper: value };
  const miss = (1 - CONFIDENCE) / 2;
  return {
    value,
    lower: value * Math.sqrt(chiSquareQuantile(miss, degrees) / degrees),
    upper: value * Math.sqrt(chiSquareQuantile(1 - miss, degrees) / degrees),
  };
}

function bissellInterval(value: number, degrees: number, samples: number): IndexEstimate {
  if (!Number.isFinite(value)) return { value, lower: value, upper: value };
  const half = normalQuantile((1 + CONFIDENCE) / 2) * Math.sqrt(1 / (9 * samples) + value ** 2 / (2 * degrees));
  return { value, lower: value - half, upper: value + half };
}
