/** The mean over this much strand decides, so that gauge noise does not. */
const SMOOTHING_MM = 20;
const SMOOTHING_SAMPLES = 5;
/** A longer unmeasured step does not count as settled strand. */
const GAP_MM = 500;
/** Two successive samples this many tolerances off are a thick or thin spot, even if the mean hides it. */
const LUMP_TOLERANCES = 3;

/** How much strand in a row has been within tolerance, in length and in time (for lines without a known length). */
export class Settling {
  readonly #nominalMm: number;
  readonly #toleranceMm: number;
  #meanMm = Number.NaN;
  #lastMm = Number.NaN;
  #lastTimeMs = Number.NaN;
  #offBefore = false;
  settledMm = 0;
  settledS = 0;

  constructor(nominalMm: number, toleranceMm: number) {
    this.#nominalMm = nominalMm;
    this.#toleranceMm = toleranceMm;
  }

  /** A sample with strand in the gauge. */
  step(timeMs: number, gaugeMm: number, diameterMm: number): void {
    const advance = gaugeMm - this.#lastMm;
    const first = Number.isNaN(advance) || Number.isNaN(this.#meanMm);
    const share = first
      ? 1
      : Math.min(1 / SMOOTHING_SAMPLES, advance > 0 ? advance / SMOOTHING_MM : 1 / SMOOTHING_SAMPLES);
    this.#meanMm = first ? diameterMm : this.#meanMm + (diameterMm - this.#meanMm) * share;
    const off = Math.abs(diameterMm - this.#nominalMm);
    const lump = off > LUMP_TOLERANCES * this.#toleranceMm;
    if (Math.abs(this.#meanMm - this.#nominalMm) > this.#toleranceMm || (lump && this.#offBefore)) {
      this.settledMm = 0;
      this.settledS = 0;
    } else if (!first && advance <= GAP_MM) {
      this.settledMm += advance;
      this.settledS += (timeMs - this.#lastTimeMs) / 1000;
    }
    this.#offBefore = lump;
    this.#lastMm = gaugeMm;
    this.#lastTimeMs = timeMs;
  }

  /** The strand is lost: strand that comes later must settle again. */
  reset(): void {
    this.settledMm = 0;
    this.settledS = 0;
    this.#meanMm = Number.NaN;
    this.#offBefore = false;
  }
}
