/**
 * Tabular CUSUM: S_H = max(0, x − (target + K) + S_H), S_L = max(0, (target − K) − x + S_L) (Montgomery & Runger, Applied
 * Statistics and Probability for Engineers, 16-10; NIST/SEMATECH e-Handbook 6.3.2.3).
 */
export class TabularCusum<Place> {
  #high = 0;
  #low = 0;
  #highSince: Place | null = null;
  #lowSince: Place | null = null;

  /**
   * @param off deviation from the target
   * @param allowance K, in the unit of the deviation
   * @param most what one value can add
   */
  step(place: Place, off: number, allowance: number, most = Number.POSITIVE_INFINITY): void {
    if (this.#high === 0) this.#highSince = place;
    if (this.#low === 0) this.#lowSince = place;
    this.#high = Math.max(0, this.#high + Math.min(most, off - allowance));
    this.#low = Math.max(0, this.#low + Math.min(most, -off - allowance));
  }

  reset(): void {
    this.#high = 0;
    this.#low = 0;
  }

  get high(): number {
    return this.#high;
  }

  get low(): number {
    return this.#low;
  }

  /** The larger of both sums. */
  get larger(): number {
    return Math.max(this.#high, this.#low);
  }

  /** Where the larger sum started to rise; null before the first value. */
  get since(): Place | null {
    return this.#high >= this.#low ? this.#highSince : this.#lowSince;
  }
}
