/** Strand over which counter and speed are compared; older strand counts less and less, mm. */
const WINDOW_MM = 1500;
/** A counter of whole turns may be this far behind or ahead, so less strand proves nothing, mm. */
const LEAST_MM = 1000;
/** Roller and encoder are good to a few percent (common practice, no source), so a larger difference is a fault. */
export const CONTRADICTS = 0.2;
const AGREES_AGAIN = 0.15;
/** Weight of the assumption that both agree, mm. */
const PRIOR_MM = 200;

/** What the counter `len` and the speed `v` say about the same strand. */
export interface LengthContradiction {
  readonly countedMmPerS: number;
  readonly sentMmPerS: number;
}

/** Compares the strand that the counter counted with the strand that passed according to the speed. */
export class LengthAgreement {
  #countedMm = 0;
  #bySpeedMm = 0;
  #seconds = 0;
  #contradicts = false;

  add(countedMm: number, bySpeedMm: number, seconds: number): void {
    // As good as an exponential here, and cheaper for every reading.
    const keep = WINDOW_MM / (WINDOW_MM + Math.max(countedMm, bySpeedMm));
    this.#countedMm = this.#countedMm * keep + countedMm;
    this.#bySpeedMm = this.#bySpeedMm * keep + bySpeedMm;
    this.#seconds = this.#seconds * keep + seconds;
    const most = Math.max(this.#countedMm, this.#bySpeedMm);
    const share = Math.abs(this.#countedMm - this.#bySpeedMm) / most;
    this.#contradicts = most >= LEAST_MM && share > (this.#contradicts ? AGREES_AGAIN : CONTRADICTS);
  }

  /** Counted length per length by the speed, from the strand so far. */
  get ratio(): number {
    return (this.#countedMm + PRIOR_MM) / (this.#bySpeedMm + PRIOR_MM);
  }

  /** null = they agree, or too little strand has passed. */
  get contradiction(): LengthContradiction | null {
    if (!this.#contradicts) return null;
    const seconds = this.#seconds;
    return { countedMmPerS: this.#countedMm / seconds, sentMmPerS: this.#bySpeedMm / seconds };
  }
}
