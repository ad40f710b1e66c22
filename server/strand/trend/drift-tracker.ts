import { TabularCusum } from '../chart/tabular-cusum.ts';
import type { DriftAdvisory } from './advisory.ts';
import { driftEvidence } from './drift-evidence.ts';

/** A steady level is the mean of this many metres. */
const REFERENCE_CELLS = 20;
/** A change of the mean by less than this share of the tolerance does not affect prints. */
const CHANGE_SHARE = 0.3;
/** Decision interval, and the least allowance, in long-run standard deviations of a metre's mean. */
const DECISION_SIGMAS = 5.5;
const ALLOWANCE_SIGMAS = 0.5;
/**
 * A drift must be this much likelier than the wander that suits the strand best, for so many metres in a row: what wanders back
 * soon is none. By chance that is so for fewer than one spool of 330 m in a hundred, or for three in a hundred that wander over
 * 60 m (simulated). At a single metre a limit as rare would hide more drift.
 */
const EVIDENCE = { least: 17.5, cells: 10 } as const;
/** Earlier strand says little about the wander of today, m. */
const HISTORY_CELLS = 400;
/** Of the allowance: means this far from the level, just before a drift, belong to it. */
const START_SHARE = 0.25;
/** A single metre may be a stretch out of tolerance; a drift takes at least this many. */
const CELLS_TO_SIGNAL = 5;
/** How far back the spread of the means is remembered, in metres. */
const SPREAD_MEMORY = 200;
/** A metre adds so many times the mean square to it at most: a step all at once would look like a wander as high. */
const MOST_LEARNT = 12;
/** The strand is steady again when the means of two successive pieces of this many metres agree. */
const STEADY_CELLS = 10;
/** Before a drift is looked for: the correlation may be higher than it looks in so few metres, by this many standard errors. */
const CORRELATION_ERRORS = 2;
/** Higher ones would make the spread so large that nothing counts as a drift, or everything as steady. */
const CORRELATION_MAX = { toRaise: 0.95, toEnd: 0.7 };
/** A gauge with micrometre resolution cannot show a smaller spread, mm. */
const SIGMA_MIN_MM = 0.0005;

interface Cell {
  readonly fromMm: number;
  readonly toMm: number;
  readonly fromTimeMs: number;
  readonly toTimeMs: number;
  readonly meanMm: number;
}

/**
 * Finds drift of the mean by a tabular CUSUM over the means of one metre each, about the level at which the strand was last
 * steady.
 *
 * Neighbouring metres are correlated, so a CUSUM with the plain standard deviation would raise false alarms. It uses the
 * long-run one instead: with x an AR(1) process, D1 = E(x_t − x_{t−1})²/2 = σ²(1 − φ) and D2 = E(x_t − x_{t−2})²/2 = σ²(1 − φ²)
 * give φ = D2/D1 − 1 and σ_LR² = σ²(1 + φ)/(1 − φ). φ counts as high as it may be, because a wander over some metres looks
 * like a drift to a CUSUM that takes metres for nearly independent. Two lags do not show a wander over tens of metres, so
 * what the CUSUM finds is a drift only if wander does not explain all metres nearly as well, several metres in a row. Nothing
 * is learnt while a sum approaches the decision interval, because the change may be the drift itself.
 */
export class DriftTracker {
  #toleranceMm: number;
  #reference: Cell[] = [];
  #recent: Cell[] = [];
  /** All since the level was last steady. */
  #history: Cell[] = [];
  #targetMm = Number.NaN;
  #d1 = 0;
  #d2 = 0;
  #weight1 = 0;
  #weight2 = 0;
  #last = Number.NaN;
  #beforeLast = Number.NaN;
  readonly #cusum = new TabularCusum<Cell>();
  /** Side of the level on which the means have been, and since which cell; 0 = near it. */
  #awaySide = 0;
  #awaySince: Cell | null = null;
  /** Metres in a row, up to the last one, over which a drift has been likelier than wander. */
  #evidentCells = 0;
  #decision = Number.POSITIVE_INFINITY;
  #open: { readonly since: Cell; readonly beforeMm: number } | null = null;
  readonly closed: DriftAdvisory[] = [];

  constructor(toleranceMm: number) {
    this.#toleranceMm = toleranceMm;
  }

  setTolerance(toleranceMm: number): void {
    this.#toleranceMm = toleranceMm;
  }

  /** Adds the mean of one more metre. */
  step(cell: Cell): void {
    this.#learnSpread(cell.meanMm, this.#open === null && this.#cusum.larger < this.#decision / 3);
    this.#history.push(cell);
    if (this.#history.length > HISTORY_CELLS) this.#history.shift();
    this.#recent.push(cell);
    if (this.#recent.length > 2 * STEADY_CELLS) this.#recent.shift();
    const open = this.open();
    if (open !== null) {
      this.#endIfSteady(open);
      return;
    }
    if (Number.isNaN(this.#targetMm)) {
      this.#reference.push(cell);
      if (this.#reference.length >= REFERENCE_CELLS) this.#steadyAt(meanOf(this.#reference));
      return;
    }
    this.#compare(cell);
  }

  /** Measuring stopped, or the strand was lost: later strand is not compared with earlier strand. */
  interrupt(): void {
    const open = this.open();
    if (open !== null) this.closed.push({ ...open, open: false });
    this.#open = null;
    this.#reference = [];
    this.#recent = [];
    this.#history = [];
    this.#last = Number.NaN;
    this.#beforeLast = Number.NaN;
    this.#steadyAt(Number.NaN);
  }

  open(): DriftAdvisory | null {
    if (this.#open === null) return null;
    const { since, beforeMm } = this.#open;
    const last = this.#recent.at(-1)!;
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
    this.#cusum.reset();
    this.#awaySide = 0;
    this.#evidentCells = 0;
  }

  #learnSpread(mean: number, calm: boolean): void {
    if (calm && !Number.isNaN(this.#last)) {
      this.#d1 = learnt(this.#d1, (mean - this.#last) ** 2 / 2, ++this.#weight1);
      if (!Number.isNaN(this.#beforeLast))
        this.#d2 = learnt(this.#d2, (mean - this.#beforeLast) ** 2 / 2, ++this.#weight2);
    }
    this.#beforeLast = this.#last;
    this.#last = mean;
  }

  /** Long-run standard deviation of a metre's mean, mm: as large as it may be before a drift is raised, or as it looks. */
  #sigmaMm(purpose: keyof typeof CORRELATION_MAX): number {
    if (!(this.#d1 > 0)) return SIGMA_MIN_MM;
    const seen = Math.max(0, this.#d2 / this.#d1 - 1);
    const metres = Math.max(1, Math.min(this.#weight2, SPREAD_MEMORY));
    const error = Math.sqrt(Math.max(0, 1 - seen ** 2) / metres);
    const likely = purpose === 'toRaise' ? seen + CORRELATION_ERRORS * error : seen;
    const correlation = Math.min(CORRELATION_MAX[purpose], likely);
    return Math.max(SIGMA_MIN_MM, Math.sqrt(this.#d1 * (1 + correlation)) / (1 - correlation));
  }

  #compare(cell: Cell): void {
    const sigma = this.#sigmaMm('toRaise');
    const allowance = Math.max((CHANGE_SHARE / 2) * this.#toleranceMm, ALLOWANCE_SIGMAS * sigma);
    const decision = Math.max(DECISION_SIGMAS * sigma, (CHANGE_SHARE / 2) * this.#toleranceMm * CELLS_TO_SIGNAL);
    this.#decision = decision;
    const most = decision / CELLS_TO_SIGNAL;
    const away = cell.meanMm - this.#targetMm;
    this.#noteStart(cell, away, START_SHARE * allowance);
    this.#cusum.step(cell, away, allowance, most);
    // Rounding errors must not require another metre.
    if (this.#cusum.larger < decision * (1 - 1e-9)) {
      this.#evidentCells = 0;
      return;
    }
    const since = this.#cusum.since!;
    const left = this.#awaySide === 0 ? null : this.#awaySince;
    const first = left !== null && left.fromMm < since.fromMm ? left : since;
    this.#evidentCells = driftEvidence(this.#history, first.fromMm) < EVIDENCE.least ? 0 : this.#evidentCells + 1;
    if (this.#evidentCells < EVIDENCE.cells) return;
    this.#open = { since: first, beforeMm: this.#targetMm };
  }

  /** The sum rises only once the deviation exceeds the allowance; the drift started where the mean left its level. */
  #noteStart(cell: Cell, away: number, least: number): void {
    const side = Math.abs(away) > least ? Math.sign(away) : 0;
    if (side !== this.#awaySide) this.#awaySince = cell;
    this.#awaySide = side;
  }

  #endIfSteady(open: DriftAdvisory): void {
    const steady = this.#recent[0]!;
    const before = meanOf(this.#recent.slice(0, STEADY_CELLS));
    const after = meanOf(this.#recent.slice(STEADY_CELLS));
    const noise = 2 * this.#sigmaMm('toEnd') * Math.sqrt(2 / STEADY_CELLS);
    if (Math.abs(after - before) > Math.max((CHANGE_SHARE / 3) * this.#toleranceMm, noise)) return;
    // The strand has been steady since the first of both pieces.
    const short = steady.fromMm <= open.fromMm;
    this.closed.push({
      ...open,
      toMm: short ? open.toMm : steady.fromMm,
      toTimeMs: short ? open.toTimeMs : steady.fromTimeMs,
      afterMm: (before + after) / 2,
      open: false,
    });
    this.#open = null;
    this.#history = [...this.#recent];
    this.#steadyAt((before + after) / 2);
  }
}

/** A mean of squares over so many values, or the last ones, with one more. */
function learnt(mean: number, square: number, count: number): number {
  const most = count < REFERENCE_CELLS ? Number.POSITIVE_INFINITY : MOST_LEARNT * Math.max(mean, SIGMA_MIN_MM ** 2);
  return mean + (Math.min(square, most) - mean) * Math.max(1 / SPREAD_MEMORY, 1 / count);
}

function meanOf(cells: readonly Cell[]): number {
  return cells.reduce((sum, { meanMm }) => sum + meanMm, 0) / cells.length;
}
