/**
 * The strand between die and winder, as a row of short elements that move together. A place on the strand is given as
 * *gauge length*: the strand that had passed the gauge since the start when that place passed it.
 */

/** Shorter pieces are combined into one element, so that a slow strand does not fill the row. */
const ELEMENT_MM_MIN = 0.1;

export class StrandBelt {
  readonly #endMm: Float64Array;
  readonly #diameterMm: Float64Array;
  readonly #mask: number;
  #count = 0;
  readonly #firstMm: number;
  #headMm: number;
  #openLengthMm = 0;
  #openVolumeMm3 = 0;

  /**
   * @param firstMm gauge length of the first strand that leaves the die: the path from die to gauge
   * @param spanMm length of strand after the die that can be read
   */
  constructor(firstMm: number, spanMm: number) {
    let size = 1;
    while (size < spanMm / ELEMENT_MM_MIN + 16) size *= 2;
    this.#endMm = new Float64Array(size);
    this.#diameterMm = new Float64Array(size);
    this.#mask = size - 1;
    this.#firstMm = firstMm;
    this.#headMm = firstMm;
  }

  /** Gauge length of the strand that is leaving the die. */
  get headMm(): number {
    return this.#headMm + this.#openLengthMm;
  }

  /** Add a piece of strand at the die; without volume, there is no strand. */
  push(lengthMm: number, volumeMm3: number): void {
    this.#openLengthMm += lengthMm;
    this.#openVolumeMm3 += volumeMm3;
    if (this.#openLengthMm < ELEMENT_MM_MIN) return;
    const slot = this.#count++ & this.#mask;
    this.#headMm += this.#openLengthMm;
    this.#endMm[slot] = this.#headMm;
    this.#diameterMm[slot] = Math.sqrt((4 * this.#openVolumeMm3) / (Math.PI * this.#openLengthMm));
    this.#openLengthMm = 0;
    this.#openVolumeMm3 = 0;
  }

  reader(): BeltReader {
    let next = 0;
    return (placeMm) => {
      if (placeMm <= this.#firstMm) return 0;
      while (next < this.#count && this.#endMm[next & this.#mask]! < placeMm) next++;
      return next < this.#count ? this.#diameterMm[next & this.#mask]! : 0;
    };
  }
}

/** Diameter at a place, mm; 0 = no strand. Each place must be at or after the one before. */
export type BeltReader = (placeMm: number) => number;
