/** Points are also joined in twos and fours: a slow wander under fast noise shows only in longer means. */
const SCALES = [1, 2, 4] as const;
/** Fewer longer means say too little about their correlation. */
const MEANS_MIN = 25;
/** Of the squares that independent points would have. */
const CANCELLED_SHARE = 0.01;

/** A higher correlation would leave the number of points without meaning. */
const PHI_MAX = 0.95;

interface LongRunSpread {
  /** σ√((1 + φ)/(1 − φ)): the spread that a mean of many points has, times the root of their number. */
  readonly sigma: number;
  /** The same of the squares of normal values: 2σ⁴(1 + φ²)/(1 − φ²), and its root. */
  readonly sigmaOfSquares: number;
  /** Correlation of neighbouring points, from 0 to 0.95. */
  readonly phi: number;
}

/**
 * How much sums of correlated values vary: their standard deviation grows with σ√((1 + φ)/(1 − φ)) and not with σ, as in a
 * first-order autoregression. The largest at any scale counts, because a value too small would turn chance into findings.
 *
 * @param residuals what is left of evenly spaced values after fitting
 * @param fitted number of fitted parameters: each makes a short series look less correlated than it is, by about
 *   (1 + 3φ)/n (Kendall 1954, Biometrika 41, for the mean)
 * @param errors by how many standard errors the correlation counts higher than it looks: √((1 − φ²)/n) (Bartlett 1946,
 *   J. R. Stat. Soc. Suppl. 8)
 */
export function longRunSpread(residuals: Float64Array, fitted: number, errors = 0): LongRunSpread {
  const total = residuals.reduce((sum, value) => sum + value * value, 0);
  let variance = 0;
  let varianceOfSquares = 0;
  let phi = 0;
  for (const scale of SCALES) {
    const n = Math.floor(residuals.length / scale);
    if (scale > 1 && n < MEANS_MIN) break;
    let squares = 0;
    let products = 0;
    let last = 0;
    for (let i = 0; i < n; i++) {
      let sum = 0;
      for (let j = 0; j < scale; j++) sum += residuals[i * scale + j]!;
      const value = sum / scale;
      squares += value * value;
      products += value * last;
      last = value;
    }
    // Values that cancel in longer means leave next to nothing there, whose correlation means nothing.
    if (!(scale ** 2 * squares > CANCELLED_SHARE * total)) continue;
    const seen = Math.min(1, Math.max(0, (n * (products / squares) + fitted) / (n - 3 * fitted - 1)));
    const own = Math.min(PHI_MAX, seen + errors * Math.sqrt((1 - seen ** 2) / n));
    phi = Math.max(phi, own);
    const each = squares / (n - fitted);
    variance = Math.max(variance, (scale * each * (1 + own)) / (1 - own));
    varianceOfSquares = Math.max(varianceOfSquares, (2 * scale * each ** 2 * (1 + own ** 2)) / (1 - own ** 2));
  }
  return { sigma: Math.sqrt(variance), sigmaOfSquares: Math.sqrt(varianceOfSquares), phi };
}
