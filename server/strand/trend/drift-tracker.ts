import { TabularCusum } from '../chart/tabular-cusum.ts';
import type { DriftAdvisory } from './advisory.ts';
import { driftEvidence } from './drift-evidence.ts';
import { MetreSpread } from './metre-spread.ts';

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
/** The strand is steady again when the means of two successive pieces of this many metres agree. */
const STEADY_CELLS = 10;
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
 * long-run one (`MetreSpread`). Two lags do not show a wander over tens of metres, so what the CUSUM finds is a drift only if
 * wander does not explain all metres nearly as well, several metres in a row. Nothing is learnt while a sum approaches the
 * decision interval, because the change may be the drift itself.
 */
export class DriftTracker {
  #toleranceMm: number;
  /** The last metres since the level was last steady, or measuring started. */
  #metres: Cell[] = [];
  /** NaN = not known yet. */
  #targetMm = Number.NaN;
  readonly #spread = new MetreSpread();
  readonly #cusum = new TabularCusum<Cell>();
  /** Metres in a row, up to the last one, over which a drift has been likelier than wander. */
  #evidentCells = 0;
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
    this.#metres.push(cell);
    if (this.#metres.length > HISTORY_CELLS) this.#metres.shift();
    const [beforeLast, last, now] = this.#metres.slice(-3);
    if (this.#isCalm && now !== undefined) this.#spread.learn(beforeLast!.meanMm, last!.meanMm, now.meanMm);
    const open = this.open();
    if (open !== null) this.#endIfSteady(open);
    else if (!Number.isNaN(this.#targetMm)) this.#compare(cell);
    else if (this.#metres.length === REFERENCE_CELLS) this.#steadyAt(meanOf(this.#metres));
  }

  /** Measuring stopped, or the strand was lost: later strand is not compared with earlier strand. */
  interrupt(): void {
    const open = this.open();
    if (open !== null) this.closed.push({ ...open, open: false });
    this.#metres = [];
    this.#steadyAt(Number.NaN);
  }

  open(): DriftAdvisory | null {
    if (this.#open === null) return null;
    const { since, beforeMm } = this.#open;
    const last = this.#metres.at(-1)!;
    return {
      kind: 'drift',
      fromMm: since.fromMm,
      toMm: last.toMm,
      fromTimeMs: since.fromTimeMs,
      toTimeMs: last.toTimeMs,
      open: true,
      beforeMm,
      afterMm: meanOf(this.#metres.slice(-CELLS_TO_SIGNAL)),
    };
  }

  #steadyAt(targetMm: number): void {
    this.#targetMm = targetMm;
    this.#cusum.reset();
    this.#evidentCells = 0;
    this.#open = null;
  }

  get #decisionMm(): number {
    return Math.max(DECISION_SIGMAS * this.#spread.mostMm, (CHANGE_SHARE / 2) * this.#toleranceMm * CELLS_TO_SIGNAL);
  }

  /** No sum approaches the decision interval. */
  get #isCalm(): boolean {
    return this.#cusum.larger < this.#decisionMm / 3;
  }

  #compare(cell: Cell): void {
    const decision = this.#decisionMm;
    const allowance = Math.max((CHANGE_SHARE / 2) * this.#toleranceMm, ALLOWANCE_SIGMAS * this.#spread.mostMm);
    this.#cusum.step(cell, cell.meanMm - this.#targetMm, allowance, decision / CELLS_TO_SIGNAL);
    // Rounding errors must not require another metre.
    if (this.#cusum.larger < decision * (1 - 1e-9)) {
      this.#evidentCells = 0;
      return;
    }
    const since = this.#startOf(this.#cusum.since!, START_SHARE * allowance);
    this.#evidentCells = driftEvidence(this.#metres, since.fromMm) < EVIDENCE.least ? 0 : this.#evidentCells + 1;
    if (this.#evidentCells >= EVIDENCE.cells) this.#open = { since, beforeMm: this.#targetMm };
  }

  /** The sum rises only once the deviation exceeds the allowance; the drift started where the mean left its level. */
  #startOf(risen: Cell, leastMm: number): Cell {
    const side = Math.sign(risen.meanMm - this.#targetMm);
    const near = this.#metres.findLastIndex(
      ({ fromMm, meanMm }) => fromMm < risen.fromMm && side * (meanMm - this.#targetMm) <= leastMm,
    );
    return this.#metres[near + 1]!;
  }

  #endIfSteady(open: DriftAdvisory): void {
    const last = this.#metres.slice(-2 * STEADY_CELLS);
    const before = meanOf(last.slice(0, STEADY_CELLS));
    const after = meanOf(last.slice(STEADY_CELLS));
    const noise = 2 * this.#spread.likelyMm * Math.sqrt(2 / STEADY_CELLS);
    if (Math.abs(after - before) > Math.max((CHANGE_SHARE / 3) * this.#toleranceMm, noise)) return;
    // The strand has been steady since the first of both pieces.
    const steady = last[0]!;
    const short = steady.fromMm <= open.fromMm;
    this.closed.push({
      ...open,
      toMm: short ? open.toMm : steady.fromMm,
      toTimeMs: short ? open.toTimeMs : steady.fromTimeMs,
      afterMm: (before + after) / 2,
      open: false,
    });
    this.#metres = last;
    this.#steadyAt((before + after) / 2);
  }
}

function meanOf(cells: readonly Cell[]): number {
  return cells.reduce((sum, { meanMm }) => sum + meanMm, 0) / cells.length;
}
