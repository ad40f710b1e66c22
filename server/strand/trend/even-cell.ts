/** Mean diameter of cells of equal length, by length of strand: a fast stretch counts no less than a slow one. */
export class EvenCell {
  readonly lengthMm: number;
  /** Where the cell that is being filled begins. */
  fromMm = Number.NaN;
  #fromTimeMs = 0;
  #sum = 0;
  #covered = 0;
  #lastMm = Number.NaN;
  /** The cell that was completed last. */
  doneFromMm = Number.NaN;
  doneFromTimeMs = 0;
  /** NaN = nothing of it was measured. */
  doneMeanMm = Number.NaN;
  doneCoveredMm = 0;

  constructor(lengthMm: number) {
    this.lengthMm = lengthMm;
  }

  /** True = a cell is complete; `done…` tells of it. One step may jump over cells: then `fromMm` lies further on. */
  add(timeMs: number, gaugeMm: number, diameterMm: number): boolean {
    if (Number.isNaN(this.fromMm)) {
      this.fromMm = gaugeMm;
      this.#fromTimeMs = timeMs;
      this.#lastMm = gaugeMm;
    }
    const done = gaugeMm >= this.fromMm + this.lengthMm;
    if (done) this.#complete(timeMs, gaugeMm, diameterMm);
    // A reading stands for the strand since the one before, never for more than a cell.
    const advance = Math.min(gaugeMm - this.#lastMm, this.lengthMm);
    this.#lastMm = gaugeMm;
    this.#sum += advance * diameterMm;
    this.#covered += advance;
    return done;
  }

  #complete(timeMs: number, gaugeMm: number, diameterMm: number): void {
    this.doneFromMm = this.fromMm;
    this.doneFromTimeMs = this.#fromTimeMs;
    // One that a single step passed over has no reading of its own but that at its end.
    this.doneMeanMm = this.#covered > 0 ? this.#sum / this.#covered : diameterMm;
    this.doneCoveredMm = this.#covered;
    this.fromMm += Math.floor((gaugeMm - this.fromMm) / this.lengthMm) * this.lengthMm;
    this.#fromTimeMs = timeMs;
    this.#sum = 0;
    this.#covered = 0;
  }
}
