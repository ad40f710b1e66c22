import type { StrandAdvisory } from './advisory.ts';
import { CellMeans, type MeanCell } from './cell-means.ts';
import { DriftTracker } from './drift-tracker.ts';
import { SurgeTracker } from './surge-tracker.ts';

/** Drift is searched for in means over this much strand. */
const METRE_MM = 1000;

/** Finds drift and surging in the cell means of strand. */
export class CellTrend {
  readonly #drift: DriftTracker;
  readonly #surge: SurgeTracker;
  #metre: { readonly fromMm: number; readonly fromTimeMs: number; sum: number; coveredMm: number } | null = null;

  constructor(toleranceMm: number) {
    this.#drift = new DriftTracker(toleranceMm);
    this.#surge = new SurgeTracker(toleranceMm);
  }

  /** Compares later cells with this tolerance. */
  setTolerance(toleranceMm: number): void {
    this.#drift.setTolerance(toleranceMm);
    this.#surge.setTolerance(toleranceMm);
  }

  step(cell: MeanCell): void {
    if (cell.isFirst) this.interrupt();
    const { fromMm, fromTimeMs, lengthMm, nextMm } = cell;
    this.#surge.step(fromMm, fromTimeMs, cell.meanMm, lengthMm);
    // Cells that the last step jumped over were not measured.
    for (let mm = fromMm + lengthMm; mm < nextMm - lengthMm / 2; mm += lengthMm)
      this.#surge.step(mm, cell.nextTimeMs, Number.NaN, lengthMm);

    this.#metre ??= { fromMm, fromTimeMs, sum: 0, coveredMm: 0 };
    const metre = this.#metre;
    metre.sum += cell.meanMm * cell.coveredMm;
    metre.coveredMm += cell.coveredMm;
    if (nextMm - metre.fromMm < METRE_MM) return;
    if (metre.coveredMm >= METRE_MM / 2)
      this.#drift.step({
        fromMm: metre.fromMm,
        toMm: nextMm,
        fromTimeMs: metre.fromTimeMs,
        toTimeMs: cell.nextTimeMs,
        meanMm: metre.sum / metre.coveredMm,
      });
    this.#metre = null;
  }

  /** The strand was lost, or the run has ended: open advisories end. */
  interrupt(): void {
    this.#drift.interrupt();
    this.#surge.interrupt();
    this.#metre = null;
  }

  open(): readonly StrandAdvisory[] {
    return [this.#drift.open(), this.#surge.open()].filter((one) => one !== null);
  }

  /** All so far, including open ones, by start. */
  advisories(): readonly StrandAdvisory[] {
    const all = [...this.#drift.closed, ...this.#surge.closed, ...this.open()];
    return all.sort((a, b) => a.fromMm - b.fromMm);
  }
}

/**
 * Finds drift and surging, one reading at a time, so the result does not depend on batches. Stored spools are analysed with
 * the same parts.
 */
export class StrandTrend {
  readonly #cells: CellMeans;
  readonly #trend: CellTrend;

  constructor(limits: { readonly nominalMm: number; readonly toleranceMm: number; readonly strandPresentMm: number }) {
    this.#cells = new CellMeans(limits);
    this.#trend = new CellTrend(limits.toleranceMm);
  }

  /** Compares later strand with this tolerance. */
  setTolerance(toleranceMm: number): void {
    this.#trend.setTolerance(toleranceMm);
  }

  /** `diameterMm` NaN = no value; `gaugeMm` must not fall. */
  step(timeMs: number, gaugeMm: number, diameterMm: number): void {
    const cell = this.#cells.step(timeMs, gaugeMm, diameterMm);
    if (cell !== null) this.#trend.step(cell);
  }

  /** The strand was lost, or the run has ended. */
  interrupt(): void {
    this.#cells.restart();
    this.#trend.interrupt();
  }

  open(): readonly StrandAdvisory[] {
    return this.#trend.open();
  }

  advisories(): readonly StrandAdvisory[] {
    return this.#trend.advisories();
  }
}
