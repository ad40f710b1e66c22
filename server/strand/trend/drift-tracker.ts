import type { DriftAdvisory } from './advisory.ts';

/** A steady level is the mean of so many metres. */
const REFERENCE_CELLS = 20;
/** A change of the mean by less than this share of the tolerance matters to no print. */
const CHANGE_SHARE = 0.3;
/** Decision interval, and the least allowance, in long-run standard deviations of a metre's mean. */
const DECISION_SIGMAS = 5.5;
const ALLOWANCE_SIGMAS = 1;
/** One metre alone may be a stretch off tolerance: it takes at least so many of them to make a drift. */
const CELLS_TO_SIGNAL = 5;
/** How far back the spread of the means is remembered, in metres. */
const SPREAD_MEMORY = 200;
/** The strand is steady again when the means of two neighbouring pieces of so many metres agree. */
const STEADY_CELLS = 10;
/** A higher one is not told from a drift by so few metres. */
const CORRELATION_MAX = 0.7;
/** A gauge that resolves micrometres hides less spread than this, mm. */
const SIGMA_MIN_MM = 0.0005;

interface Cell {
  readonly fromMm: number;
  readonly toMm: number;
  readonly fromTimeMs: number;
  readonly toTimeMs: number;
  readonly meanMm: number;
}

/**
 * Finds drift of the mean by a tabular CUSUM (Montgomery & Runger, Applied Statistics and Probability for Engineers, 16-10)
 * over the means of one metre each, about the level at which the strand was last steady.
 *
 * Neighbouring metres repeat each other, which would make a CUSUM with the plain standard deviation cry wolf. So it takes
 * the long-run one: with x an AR(1) process, D1 = E(x_t − x_{t−1})²/2 = σ²(1 − φ) and D2 = E(x_t − x_{t−2})²/2 = σ²(1 − φ²)
 * give φ = D2/D1 − 1 and σ_LR² = σ²(1 + φ)/(1 − φ). What is learnt while a sum is well on its way to the decision may be the
 * drift itself, and does not count.
 */
export class DriftTracker {
  #toleranceMm: number;
  #reference: Cell[] = [];
  #recent: Cell[] = [];
  #targetMm = Number.NaN;
  #d1 = 0;
  #d2 = 0;
  #weight1 = 0;
  #weight2 = 0;
  #last = Number.NaN;
  #beforeLast = Number.NaN;
  #up = 0;
  #down = 0;
  #decision = Number.POSITIVE_INFINITY;
  #upSince: Cell | null = null;
  #downSince: Cell | null = null;
  #open: { readonly since: Cell; readonly beforeMm: number } | null = null;
  readonly closed: DriftAdvisory[] = [];

  constructor(toleranceMm: number) {
    this.#toleranceMm = toleranceMm;
  }

  setTolerance(toleranceMm: number): void {
    this.#toleranceMm = toleranceMm;
  }

  /** The mean of one more metre. True = an advisory began or ended. */
  step(cell: Cell): boolean {
    this.#learnSpread(cell.meanMm, this.#open === null && Math.max(this.#up, this.#down) < this.#decision / 3);
    this.#recent.push(cell);
    if (this.#recent.length > 2 * STEADY_CELLS) this.#recent.shift();
    if (this.#open !== null) return this.#endIfSteady();
    if (Number.isNaN(this.#targetMm)) {
      this.#reference.push(cell);
      if (this.#reference.length >= REFERENCE_CELLS) this.#steadyAt(meanOf(this.#reference));
      return false;
    }
    return this.#cusum(cell);
  }

  /** Measuring stopped, or the strand was lost: what comes is compared with nothing before. */
  interrupt(): void {
    const open = this.open();
    if (open !== null) this.closed.push({ ...open, open: false });
    this.#open = null;
    this.#reference = [];
    this.#recent = [];
    this.#last = Number.NaN;
    this.#beforeLast = Number.NaN;
    this.#steadyAt(Number.NaN);
  }

  open(): DriftAdvisory | null {
    if (this.#open === null) return null;
    const last = this.#recent.at(-1)!;
    const { since, beforeMm } = this.#open;
    return {
      kind: 'drift',
      fromMm: since.fromMm,
      toMm: last.toMm,
      fromTimeMs: since.fromTimeMs,
      toTimeMs: last.toTimeMs,
      open: true,
      beforeMm,
      afterMm: meanOf(this.#recent.slice(-CELLS_TO_SIGNAL)),
    };
  }

  #steadyAt(targetMm: number): void {
    this.#targetMm = targetMm;
    this.#up = 0;
    this.#down = 0;
  }

  #learnSpread(mean: number, calm: boolean): void {
    const share = 1 / SPREAD_MEMORY;
    if (calm && !Number.isNaN(this.#last)) {
      this.#d1 += ((mean - this.#last) ** 2 / 2 - this.#d1) * Math.max(share, 1 / ++this.#weight1);
      if (!Number.isNaN(this.#beforeLast))
        this.#d2 += ((mean - this.#beforeLast) ** 2 / 2 - this.#d2) * Math.max(share, 1 / ++this.#weight2);
    }
    this.#beforeLast = this.#last;
    this.#last = mean;
  }

  /** Long-run standard deviation of a metre's mean, mm. */
  #sigmaMm(): number {
    const correlation = this.#d1 > 0 ? Math.min(CORRELATION_MAX, Math.max(0, this.#d2 / this.#d1 - 1)) : 0;
    return Math.max(SIGMA_MIN_MM, Math.sqrt(this.#d1 * (1 + correlation)) / (1 - correlation));
  }

  #cusum(cell: Cell): boolean {
    const sigma = this.#sigmaMm();
    const allowance = Math.max((CHANGE_SHARE / 2) * this.#toleranceMm, ALLOWANCE_SIGMAS * sigma);
    const decision = Math.max(DECISION_SIGMAS * sigma, (CHANGE_SHARE / 2) * this.#toleranceMm * CELLS_TO_SIGNAL);
    this.#decision = decision;
    const most = decision / CELLS_TO_SIGNAL;
    const off = cell.meanMm - this.#targetMm;
    if (this.#up === 0) this.#upSince = cell;
    if (this.#down === 0) this.#downSince = cell;
    this.#up = Math.max(0, this.#up + Math.min(most, off - allowance));
    this.#down = Math.max(0, this.#down + Math.min(most, -off - allowance));
    // Rounding must not ask for one metre more.
    const reached = decision * (1 - 1e-9);
    if (this.#up < reached && this.#down < reached) return false;
    const since = (this.#up >= reached ? this.#upSince : this.#downSince) as Cell;
    this.#open = { since, beforeMm: this.#targetMm };
    return true;
  }

  #endIfSteady(): boolean {
    if (this.#recent.length < 2 * STEADY_CELLS) return false;
    const before = meanOf(this.#recent.slice(0, STEADY_CELLS));
    const after = meanOf(this.#recent.slice(STEADY_CELLS));
    const noise = 2 * this.#sigmaMm() * Math.sqrt(2 / STEADY_CELLS);
    if (Math.abs(after - before) > Math.max((CHANGE_SHARE / 3) * this.#toleranceMm, noise)) return false;
    const open = this.open()!;
    // It has been steady for the whole of both pieces.
    const end = this.#recent[0]!;
    const short = end.fromMm <= open.fromMm;
    this.closed.push({
      ...open,
      toMm: short ? open.toMm : end.fromMm,
      toTimeMs: short ? open.toTimeMs : end.fromTimeMs,
      afterMm: (before + after) / 2,
      open: false,
    });
    this.#open = null;
    this.#steadyAt((before + after) / 2);
    return true;
  }
}

function meanOf(cells: readonly Cell[]): number {
  return cells.reduce((sum, { meanMm }) => sum + meanMm, 0) / cells.length;
}
