import type { StrandLimits } from '../../strand/strand-limits.ts';
import type { StrandAdvisory } from '../../strand/trend/advisory.ts';
import { StrandTrend } from '../../strand/trend/strand-trend.ts';

/** Drift, surging and mean diameter along a spool from its start. */
export class SpoolTrends {
  readonly #strandPresentMm: number;
  readonly #trend: StrandTrend;
  #lastGaugeMm: number;
  #diameterLengthSum = 0;
  #lengthSum = 0;

  constructor(strandPresentMm: number, trend: StrandTrend, fromGaugeMm: number) {
    this.#strandPresentMm = strandPresentMm;
    this.#trend = trend;
    this.#lastGaugeMm = fromGaugeMm;
  }

  setTolerance(toleranceMm: number): void {
    this.#trend.setTolerance(toleranceMm);
  }

  /** @param diameterMm NaN = no value @param measured false = a frozen gauge repeats its last value */
  step(timeMs: number, gaugeMm: number, diameterMm: number, measured: boolean): void {
    const advanceMm = gaugeMm - this.#lastGaugeMm;
    this.#lastGaugeMm = gaugeMm;
    if (!measured) return;
    if (diameterMm > this.#strandPresentMm && advanceMm > 0) {
      this.#diameterLengthSum += diameterMm * advanceMm;
      this.#lengthSum += advanceMm;
    }
    this.#trend.step(timeMs, gaugeMm, diameterMm);
  }

  interrupt(): void {
    this.#trend.interrupt();
  }

  open(): readonly StrandAdvisory[] {
    return this.#trend.open();
  }

  /** Averaged over length; null = nothing measured yet. */
  get meanDiameterMm(): number | null {
    return this.#lengthSum > 0 ? this.#diameterLengthSum / this.#lengthSum : null;
  }
}

export function createSpoolTrends(limits: StrandLimits, fromGaugeMm: number): SpoolTrends {
  return new SpoolTrends(limits.strandPresentMm, new StrandTrend(limits), fromGaugeMm);
}
