/** How far back the spread is remembered, in metres. */
const MEMORY = 200;
/** Of fewer metres no step can be told. */
const STEPS_TOLD_AFTER = 20;
/** A metre adds so many times the mean square to it at most: a step all at once would look like a wander as high. */
const MOST_LEARNT = 12;
/** The correlation may be higher than it looks in so few metres, by this many standard errors. */
const CORRELATION_ERRORS = 2;
/** Higher correlations would make the spread so large that nothing counts as a drift, or everything as steady. */
const CORRELATION_MAX = { most: 0.95, likely: 0.7 };
/** A gauge with micrometre resolution cannot show a smaller spread, mm. */
const SIGMA_MIN_MM = 0.0005;

/**
 * The long-run standard deviation of the means of successive metres, which are correlated: with x an AR(1) process,
 * D1 = E(x_t − x_{t−1})²/2 = σ²(1 − φ) and D2 = E(x_t − x_{t−2})²/2 = σ²(1 − φ²) give φ = D2/D1 − 1 and
 * σ_LR² = σ²(1 + φ)/(1 − φ).
 */
export class MetreSpread {
  #d1 = 0;
  #d2 = 0;
  #count = 0;

  /** Learns from the last three means. */
  learn(beforeLast: number, last: number, now: number): void {
    this.#count++;
    this.#d1 = this.#learnt(this.#d1, (now - last) ** 2 / 2);
    this.#d2 = this.#learnt(this.#d2, (now - beforeLast) ** 2 / 2);
  }

  /** As it looks, mm. */
  get likelyMm(): number {
    return this.#sigmaMm(Math.min(CORRELATION_MAX.likely, this.#correlation));
  }

  /** As large as it may be, mm: a wander over some metres looks like a drift if metres are taken for nearly independent. */
  get mostMm(): number {
    const seen = this.#correlation;
    const error = Math.sqrt((1 - seen ** 2) / Math.min(this.#count, MEMORY));
    return this.#sigmaMm(Math.min(CORRELATION_MAX.most, seen + CORRELATION_ERRORS * error));
  }

  get #correlation(): number {
    return Math.min(1, Math.max(0, this.#d2 / this.#leastD1 - 1));
  }

  get #leastD1(): number {
    return Math.max(this.#d1, SIGMA_MIN_MM ** 2);
  }

  #sigmaMm(correlation: number): number {
    return Math.sqrt(this.#leastD1 * (1 + correlation)) / (1 - correlation);
  }

  #learnt(mean: number, square: number): number {
    const most =
      this.#count < STEPS_TOLD_AFTER ? Number.POSITIVE_INFINITY : MOST_LEARNT * Math.max(mean, SIGMA_MIN_MM ** 2);
    return mean + (Math.min(square, most) - mean) * Math.max(1 / MEMORY, 1 / this.#count);
  }
}
