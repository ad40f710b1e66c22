import { EvenCell } from './even-cell.ts';

/** Surging is looked for in the means of so much strand, or of a little more than a sample pitch. */
const CELL_MM = 10;
const PITCHES_A_CELL = 1.5;
/** The pitch is learnt over so many readings before the first cell begins. */
const READINGS_TO_LEARN = 32;
/** More strand unmeasured than this, and what comes is compared with nothing before. */
const GAP_MM = 5000;
/** Values further than this from the nominal diameter are blobs, necks or garbage, not the strand's even course, mm. */
const CLIP_MM = 0.25;

/** One cell of the strand's even course. */
export interface MeanCell {
  /** Cells are of this length until the next one that `begins`. */
  readonly lengthMm: number;
  readonly fromMm: number;
  readonly fromTimeMs: number;
  /** Where the next cell begins: further on than its length where a step jumped over cells. */
  readonly nextMm: number;
  readonly nextTimeMs: number;
  readonly meanMm: number;
  readonly coveredMm: number;
  /** Nothing before may be compared with it. */
  readonly begins: boolean;
}

/** Turns readings into means of equal lengths of strand; independent of any tolerance. */
export class CellMeans {
  readonly #nominalMm: number;
  readonly #strandPresentMm: number;
  #cell: EvenCell | null = null;
  #begins = true;
  #learnt = 0;
  #learnFromMm = Number.NaN;
  #lastMm = Number.NaN;

  constructor(limits: { readonly nominalMm: number; readonly strandPresentMm: number }) {
    this.#nominalMm = limits.nominalMm;
    this.#strandPresentMm = limits.strandPresentMm;
  }

  /** `diameterMm` NaN = no value; `gaugeMm` must not fall. The cell that this reading completed, or null. */
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
    const begins = this.#begins;
    this.#begins = false;
    return {
      lengthMm: cell.lengthMm,
      fromMm: cell.doneFromMm,
      fromTimeMs: cell.doneFromTimeMs,
      nextMm: cell.fromMm,
      nextTimeMs: timeMs,
      meanMm: cell.doneMeanMm,
      coveredMm: cell.doneCoveredMm,
      begins,
    };
  }

  /** The strand was lost, or the run has ended. */
  restart(): void {
    this.#cell = null;
    this.#begins = true;
    this.#learnt = 0;
    this.#lastMm = Number.NaN;
  }

  #learn(gaugeMm: number): void {
    if (this.#learnt === 0) this.#learnFromMm = gaugeMm;
    this.#learnt++;
    if (this.#learnt < READINGS_TO_LEARN) return;
    const pitchMm = (gaugeMm - this.#learnFromMm) / (READINGS_TO_LEARN - 1);
    this.#cell = new EvenCell(Math.max(CELL_MM, PITCHES_A_CELL * pitchMm));
  }
}
