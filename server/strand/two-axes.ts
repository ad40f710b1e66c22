import { canBeStrand } from './possible-diameter.ts';

/** An axis that repeats exactly for so long while the other one changes is dead. */
const FROZEN_AFTER_MS = 10_000;
/** So many changes of the other axis show that it is alive and the strand moves. */
const CHANGES = 20;

interface AxisLimits {
  readonly nominalMm: number;
  /** Below this an axis sees no strand. */
  readonly strandPresentMm: number;
}

/** The diameter from a gauge of two axes, one of which may be dead: no value, no strand, or the exact same value for long. */
export class TwoAxes {
  #limits: AxisLimits;
  readonly #x = new Axis();
  readonly #y = new Axis();
  /** NaN = no value. */
  diameterMm = Number.NaN;
  /** |dx − dy|; NaN unless both axes are alive. */
  outOfRoundMm = Number.NaN;
  /** The axis that is dead while the other one measures. */
  dead: 'dx' | 'dy' | null = null;

  constructor(limits: AxisLimits) {
    this.#limits = limits;
  }

  setLimits(limits: AxisLimits): void {
    this.#limits = limits;
  }

  /** `diameterMm` as sent, or the mean of both; axes NaN = not sent. */
  step(timeMs: number, diameterMm: number, xMm: number, yMm: number): void {
    this.dead = null;
    this.diameterMm = diameterMm;
    this.outOfRoundMm = Math.abs(xMm - yMm);
    if (Number.isNaN(xMm) && Number.isNaN(yMm)) return;
    this.#x.step(timeMs, xMm, this.#y.changes);
    this.#y.step(timeMs, yMm, this.#x.changes);
    const xLives = this.#isAlive(this.#x, timeMs, this.#y.changes);
    const yLives = this.#isAlive(this.#y, timeMs, this.#x.changes);
    if (xLives === yLives) return;
    this.dead = xLives ? 'dy' : 'dx';
    this.diameterMm = xLives ? xMm : yMm;
    this.outOfRoundMm = Number.NaN;
  }

  #isAlive(axis: Axis, timeMs: number, othersChanges: number): boolean {
    const { lastMm, sinceMs, othersChangesThen } = axis;
    const { nominalMm, strandPresentMm } = this.#limits;
    if (!(lastMm >= strandPresentMm) || !canBeStrand(lastMm, nominalMm)) return false;
    return timeMs - sinceMs < FROZEN_AFTER_MS || othersChanges - othersChangesThen < CHANGES;
  }
}

class Axis {
  lastMm = Number.NaN;
  changes = 0;
  /** When it took its present value, and how often the other axis had changed by then. */
  sinceMs = Number.NaN;
  othersChangesThen = 0;

  step(timeMs: number, mm: number, othersChanges: number): void {
    if (mm === this.lastMm) return;
    this.lastMm = mm;
    this.changes++;
    this.sinceMs = timeMs;
    this.othersChangesThen = othersChanges;
  }
}
