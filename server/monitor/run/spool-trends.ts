import { firstIndex } from '../../probability/first-index.ts';
import type { Stretch } from '../../strand/position.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';
import type { StrandAdvisory } from '../../strand/trend/advisory.ts';
import { StrandTrend } from '../../strand/trend/strand-trend.ts';

/** Cut-outs are left out of the mean with this resolution, mm. */
const MARK_EVERY_MM = 25;
/** When there are so many marks, every second one is dropped: a spool of kilometres takes no more memory. Even, so that the last one stays. */
const MARKS_MAX = 8192;

/** Gauge length, sum of diameter × length and sum of lengths at each mark; arrays of numbers take the least memory. */
interface Marks {
  readonly gaugeMm: number[];
  readonly diameterLength: number[];
  readonly lengthMm: number[];
}

/** Drift, surging and mean diameter along a spool from its start. */
export class SpoolTrends {
  readonly #strandPresentMm: number;
  readonly #trend: StrandTrend;
  #lastGaugeMm: number;
  #diameterLengthSum = 0;
  #lengthSum = 0;
  #marks: Marks = { gaugeMm: [], diameterLength: [], lengthMm: [] };
  #markEveryMm = MARK_EVERY_MM;

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
      if (gaugeMm >= (this.#marks.gaugeMm.at(-1) ?? Number.NEGATIVE_INFINITY) + this.#markEveryMm) this.#mark(gaugeMm);
    }
    this.#trend.step(timeMs, gaugeMm, diameterMm);
  }

  interrupt(): void {
    this.#trend.interrupt();
  }

  open(): readonly StrandAdvisory[] {
    return this.#trend.open();
  }

  /** Averaged over length, without what was cut out; null = nothing measured yet. */
  meanDiameterMm(cutOuts: readonly Stretch[]): number | null {
    let [diameterLength, lengthMm] = [this.#diameterLengthSum, this.#lengthSum];
    for (const { fromMm, toMm } of cutOuts) {
      const [before, after] = [this.#sumsAt(fromMm), this.#sumsAt(toMm)];
      diameterLength -= after.diameterLength - before.diameterLength;
      lengthMm -= after.lengthMm - before.lengthMm;
    }
    return lengthMm > 0 ? diameterLength / lengthMm : null;
  }

  #mark(gaugeMm: number): void {
    this.#marks.gaugeMm.push(gaugeMm);
    this.#marks.diameterLength.push(this.#diameterLengthSum);
    this.#marks.lengthMm.push(this.#lengthSum);
    if (this.#marks.gaugeMm.length < MARKS_MAX) return;
    const { gaugeMm: gauge, diameterLength, lengthMm } = this.#marks;
    this.#marks = {
      gaugeMm: everySecond(gauge),
      diameterLength: everySecond(diameterLength),
      lengthMm: everySecond(lengthMm),
    };
    this.#markEveryMm *= 2;
  }

  /** The sums at the last mark up to a gauge length; 0 before the first. */
  #sumsAt(upToMm: number): { diameterLength: number; lengthMm: number } {
    const { gaugeMm, diameterLength, lengthMm } = this.#marks;
    const at = firstIndex(0, gaugeMm.length, (i) => gaugeMm[i]! > upToMm) - 1;
    return { diameterLength: diameterLength[at] ?? 0, lengthMm: lengthMm[at] ?? 0 };
  }
}

function everySecond(values: readonly number[]): number[] {
  return values.filter((_, i) => i % 2 === 1);
}

export function createSpoolTrends(limits: StrandLimits, fromGaugeMm: number): SpoolTrends {
  return new SpoolTrends(limits.strandPresentMm, new StrandTrend(limits), fromGaugeMm);
}
