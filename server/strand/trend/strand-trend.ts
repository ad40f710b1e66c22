import type { StrandAdvisory } from './advisory.ts';
import { CellMeans, type MeanCell } from './cell-means.ts';
import { DriftTracker } from './drift-tracker.ts';
import { SurgeTracker } from './surge-tracker.ts';

/** Drift is searched for in means over this much strand. */
const METRE_MM = 1000;

/** Finds drift and surging in the cell means of strand. */
export class CellTrend {
  readonly #drift: DriftTracker;
  #toleranceMm: number;
  #surge: SurgeTracker | null = null;
  #metre = emptyMetre();
  readonly #surgesBefore: StrandAdvisory[] = [];

  constructor(toleranceMm: number) {
    this.#toleranceMm = toleranceMm;
    this.#drift = new DriftTracker(toleranceMm);
  }

  /** Compares later cells with this tolerance. */
  setTolerance(toleranceMm: number): void {
    this.#toleranceMm = toleranceMm;
    this.#drift.setTolerance(toleranceMm);
    this.#surge?.setTolerance(toleranceMm);
  }

  step(cell: MeanCell): void {
    if (cell.isFirst) this.interrupt();
    const { fromMm, lengthMm, nextMm } = cell;
    this.#surge ??= new SurgeTracker(lengthMm, this.#toleranceMm);
    this.#surge.step(fromMm, cell.fromTimeMs, cell.meanMm);
    // Cells that the last step jumped over were not measured.
    for (let mm = fromMm + lengthMm; mm < nextMm - lengthMm / 2; mm += lengthMm)
      this.#surge.step(mm, cell.nextTimeMs, Number.NaN);

    const metre = this.#metre;
    if (Number.isNaN(metre.fromMm)) {
      metre.fromMm = fromMm;
      metre.fromTimeMs = cell.fromTimeMs;
    }
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
    this.#metre = emptyMetre();
  }

  /** The strand was lost, or the run has ended: open advisories end. */
  interrupt(): void {
    this.#drift.interrupt();
    this.#surge?.interrupt();
    if (this.#surge !== null) this.#surgesBefore.push(...this.#surge.closed);
    this.#surge = null;
    this.#metre = emptyMetre();
  }

  open(): readonly StrandAdvisory[] {
    const all: StrandAdvisory[] = [];
    const drift = this.#drift.open();
    if (drift !== null) all.push(drift);
    const surging = this.#surge?.open() ?? null;
    if (surging !== null) all.push(surging);
    return all;
  }

  /** All so far, including open ones, by start. */
  advisories(): readonly StrandAdvisory[] {
    const all = [...this.#drift.closed, ...this.#surgesBefore, ...(this.#surge?.closed ?? []), ...this.open()];
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

function emptyMetre() {
  return { fromMm: Number.NaN, fromTimeMs: 0, sum: 0, coveredMm: 0 };
}
