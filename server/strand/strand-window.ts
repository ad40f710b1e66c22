/** Samples are averaged in cells of this length first, so that a fine pitch costs no more than a coarse one. */
const CELL_MM = 2;
/** The mean covers this much strand, or `CELLS_MIN` cells if they are longer. */
const WINDOW_MM = 20;
const CELLS_MIN = 4;
const RING = 32;

/** Centred moving mean along the strand: it follows slow changes but not noise, and does not shift edges. */
export class StrandWindow {
  readonly #mm = new Float64Array(RING);
  readonly #timeMs = new Float64Array(RING);
  readonly #diameter = new Float64Array(RING);
  readonly #outOfRound = new Float64Array(RING);
  #first = 0;
  #cells = 0;
  #cellFromMm = Number.NaN;
  #n = 0;
  #sumMm = 0;
  #sumTime = 0;
  #sumDiameter = 0;
  #sumOutOfRound = 0;
  #timeZero = 0;

  /** Middle of the window. */
  centreMm = Number.NaN;
  centreTimeMs = Number.NaN;
  meanMm = Number.NaN;
  /** NaN where one axis is measured. */
  meanOutOfRoundMm = Number.NaN;
  /** From the middle of the first cell to that of the last. */
  spanMm = 0;

  /** Adds a sample; true if it completed a cell and so updated the means. */
  add(timeMs: number, gaugeMm: number, diameterMm: number, outOfRoundMm: number): boolean {
    if (this.#n === 0) {
      this.#timeZero = timeMs;
      if (Number.isNaN(this.#cellFromMm)) this.#cellFromMm = gaugeMm;
    }
    this.#n++;
    this.#sumMm += gaugeMm;
    this.#sumTime += timeMs - this.#timeZero;
    this.#sumDiameter += diameterMm;
    this.#sumOutOfRound += outOfRoundMm;
    if (gaugeMm - this.#cellFromMm < CELL_MM) return false;
    this.#complete(gaugeMm);
    return true;
  }

  /** Starts again: earlier samples must not be averaged with later ones. */
  reset(): void {
    this.#cells = 0;
    this.#clearCell(Number.NaN);
  }

  #clearCell(fromMm: number): void {
    this.#cellFromMm = fromMm;
    this.#n = 0;
    this.#sumMm = 0;
    this.#sumTime = 0;
    this.#sumDiameter = 0;
    this.#sumOutOfRound = 0;
  }

  #complete(gaugeMm: number): void {
    const at = (this.#first + this.#cells) % RING;
    this.#mm[at] = this.#sumMm / this.#n;
    this.#timeMs[at] = this.#timeZero + this.#sumTime / this.#n;
    this.#diameter[at] = this.#sumDiameter / this.#n;
    this.#outOfRound[at] = this.#sumOutOfRound / this.#n;
    const newest = this.#mm[at] as number;
    this.#clearCell(gaugeMm);
    this.#cells++;
    while (
      this.#cells > CELLS_MIN &&
      (this.#cells === RING || newest - (this.#mm[this.#first] as number) > WINDOW_MM)
    ) {
      this.#first = (this.#first + 1) % RING;
      this.#cells--;
    }
    let mm = 0;
    let time = 0;
    let diameter = 0;
    let outOfRound = 0;
    const zero = this.#timeMs[at] as number;
    for (let i = 0; i < this.#cells; i++) {
      const cell = (this.#first + i) % RING;
      mm += this.#mm[cell] as number;
      time += (this.#timeMs[cell] as number) - zero;
      diameter += this.#diameter[cell] as number;
      outOfRound += this.#outOfRound[cell] as number;
    }
    this.spanMm = newest - (this.#mm[this.#first] as number);
    this.centreMm = mm / this.#cells;
    this.centreTimeMs = zero + time / this.#cells;
    this.meanMm = diameter / this.#cells;
    this.meanOutOfRoundMm = outOfRound / this.#cells;
  }
}
