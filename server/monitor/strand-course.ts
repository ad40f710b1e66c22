import type { StrandLimits } from '../strand/strand-limits.ts';
import type { StrandAdvisory } from '../strand/trend/advisory.ts';
import { StrandTrend } from '../strand/trend/strand-trend.ts';

/** What is followed along the whole of a spool while it is wound: its trends, and its mean diameter. */
export class StrandCourse {
  readonly #strandPresentMm: number;
  readonly #trend: StrandTrend;
  #lastGaugeMm: number;
  #diameterLengthSum = 0;
  #lengthSum = 0;

  constructor(limits: StrandLimits, fromGaugeMm: number) {
    this.#strandPresentMm = limits.strandPresentMm;
    this.#trend = new StrandTrend(limits);
    this.#lastGaugeMm = fromGaugeMm;
  }

  setTolerance(toleranceMm: number): void {
    this.#trend.setTolerance(toleranceMm);
  }

  /** `diameterMm` NaN = no value; `measured`: false = a frozen gauge repeats itself. */
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

  /** Along the length; null = nothing measured yet. */
  get meanDiameterMm(): number | null {
    return this.#lengthSum > 0 ? this.#diameterLengthSum / this.#lengthSum : null;
  }
}
