/** Length of a cell, or this many sample pitches if they are longer. */
const CELL_MM = 10;
const PITCHES_PER_CELL = 1.5;
/** The pitch is learnt over this many readings before the first cell starts. */
const READINGS_TO_LEARN = 32;
/** After a longer unmeasured stretch, later cells are not compared with earlier ones. */
const GAP_MM = 5000;
/** Values further from the nominal diameter are blobs, necks or garbage, and are clipped, mm. */
const CLIP_MM = 0.25;

/** Mean diameter of one cell. */
export interface MeanCell {
  /** The same for all cells until the next one that `isFirst`. */
  readonly lengthMm: number;
  readonly fromMm: number;
  readonly fromTimeMs: number;
  /** Start of the next cell, which is further away where a step jumped over cells. */
  readonly nextMm: number;
  readonly nextTimeMs: number;
  readonly meanMm: number;
  readonly coveredMm: number;
  /** Earlier cells must not be compared with it. */
  readonly isFirst: boolean;
}

/** Turns readings into means over equal lengths of strand; independent of any tolerance. */
export class CellMeans {
  readonly #nominalMm: number;
  readonly #strandPresentMm: number;
  #cell: CellSum | null = null;
  #isFirst = true;
  #learnt = 0;
  #learnFromMm = Number.NaN;
  #lastMm = Number.NaN;

  constructor(limits: { readonly nominalMm: number; readonly strandPresentMm: number }) {
    this.#nominalMm = limits.nominalMm;
    this.#strandPresentMm = limits.strandPresentMm;
  }

  /** `diameterMm` NaN = no value; `gaugeMm` must not fall. Returns the cell that this reading completed, or null. */
  step(timeMs: number, gaugeMm: number, diameterMm: number): MeanCell | null {
    if (!(diameterMm >= this.#strandPresentMm)) return null;
    if (gaugeMm - this.#lastMm > GAP_MM) this.restart();
    this.#lastMm = gaugeMm;
    const cell = this.#cell;
    if (cell === null) {
      this.#learn(gaugeMm);
      return null;
    }
    const clipped = Math.min(this.#nominalMm + CLIP_MM, Math.max(this.#nominalMm - CLIP_MM, diameterMm));
    if (!cell.add(timeMs, gaugeMm, clipped)) return null;
    const isFirst = this.#isFirst;
    this.#isFirst = false;
    return {
      lengthMm: cell.lengthMm,
      fromMm: cell.doneFromMm,
      fromTimeMs: cell.doneFromTimeMs,
      nextMm: cell.fromMm,
      nextTimeMs: timeMs,
      meanMm: cell.doneMeanMm,
      coveredMm: cell.doneCoveredMm,
      isFirst,
    };
  }

  /** The strand was lost, or the run has ended. */
  restart(): void {
    this.#cell = null;
    this.#isFirst = true;
    this.#learnt = 0;
    this.#lastMm = Number.NaN;
  }

  #learn(gaugeMm: number): void {
    if (this.#learnt === 0) this.#learnFromMm = gaugeMm;
    this.#learnt++;
    if (this.#learnt < READINGS_TO_LEARN) return;
    const pitchMm = (gaugeMm - this.#learnFromMm) / (READINGS_TO_LEARN - 1);
    this.#cell = new CellSum(Math.max(CELL_MM, PITCHES_PER_CELL * pitchMm));
  }
}

/** Mean diameter of cells of equal length, weighted by length, so that fast stretches count as much as slow ones. */
class CellSum {
  readonly lengthMm: number;
  /** Start of the cell being filled. */
  fromMm = Number.NaN;
  #fromTimeMs = 0;
  #sum = 0;
  #covered = 0;
  #lastMm = Number.NaN;
  /** The cell completed last. */
  doneFromMm = Number.NaN;
  doneFromTimeMs = 0;
  doneMeanMm = Number.NaN;
  doneCoveredMm = 0;

  constructor(lengthMm: number) {
    this.lengthMm = lengthMm;
  }

  /** True = a cell is complete, see `done…`. A step may jump over cells, which moves `fromMm` further. */
  add(timeMs: number, gaugeMm: number, diameterMm: number): boolean {
    if (Number.isNaN(this.fromMm)) {
      this.fromMm = gaugeMm;
      this.#fromTimeMs = timeMs;
      this.#lastMm = gaugeMm;
    }
    const done = gaugeMm >= this.fromMm + this.lengthMm;
    if (done) this.#complete(timeMs, gaugeMm, diameterMm);
    // A reading represents the strand since the previous one, but at most one cell.
    const advance = Math.min(gaugeMm - this.#lastMm, this.lengthMm);
    this.#lastMm = gaugeMm;
    this.#sum += advance * diameterMm;
    this.#covered += advance;
    return done;
  }

  #complete(timeMs: number, gaugeMm: number, diameterMm: number): void {
    this.doneFromMm = this.fromMm;
    this.doneFromTimeMs = this.#fromTimeMs;
    // A cell passed in a single step has only the reading at its end.
    this.doneMeanMm = this.#covered > 0 ? this.#sum / this.#covered : diameterMm;
    this.doneCoveredMm = this.#covered;
    this.fromMm += Math.floor((gaugeMm - this.fromMm) / this.lengthMm) * this.lengthMm;
    this.#fromTimeMs = timeMs;
    this.#sum = 0;
    this.#covered = 0;
  }
}
