/** The mean over this much strand tells whether it is settled, so that a noisy gauge does not. */
const SMOOTHING_MM = 20;
const SMOOTHING_SAMPLES = 5;
/** Strand that passed unmeasured is no proof. */
const HOLE_MM = 500;
/** Two samples this many tolerances off are a lump, which no mean may hide. */
const LUMP_TOLERANCES = 3;

/** How much strand in a row has been within tolerance. Where no length is known, how many seconds. */
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
    } else if (!first && advance <= HOLE_MM) {
      this.settledMm += advance;
      this.settledS += (timeMs - this.#lastTimeMs) / 1000;
    }
    this.#offBefore = lump;
    this.#lastMm = gaugeMm;
    this.#lastTimeMs = timeMs;
  }

  /** The strand is gone: what comes next must settle anew. */
  reset(): void {
    this.settledMm = 0;
    this.settledS = 0;
    this.#meanMm = Number.NaN;
    this.#offBefore = false;
  }
}
