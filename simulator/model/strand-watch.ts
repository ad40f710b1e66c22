/**
 * Compares the true diameter of the strand, without noise, with the limits: the reference for what should be detected.
 * A stretch ends when the strand has been within the limit for 2 mm, so that fine texture does not split it.
 */

import type { OpenEvent, TruthKind, TruthLog } from './truth.ts';

/** Common practice, no source: heat breaks have a bore of 1.9–2.0 mm; drive gears slip below about 1.60 mm. */
export const OVERSIZE_ABOVE_MM = 1.9;
export const UNDERSIZE_BELOW_MM = 1.6;

const WITHIN_MM = 2;

class LimitWatch {
  readonly #truth: TruthLog;
  readonly #kind: TruthKind;
  readonly #sign: 1 | -1;
  readonly #limitMm: number;
  #open: OpenEvent | null = null;
  #lastS = 0;
  #lastMm = 0;

  constructor(truth: TruthLog, kind: TruthKind, sign: 1 | -1, limitMm: number) {
    this.#truth = truth;
    this.#kind = kind;
    this.#sign = sign;
    this.#limitMm = limitMm;
  }

  step(timeS: number, gaugeMm: number, diameterMm: number): void {
    const beyond = diameterMm > 0 && (diameterMm - this.#limitMm) * this.#sign > 0;
    if (beyond) {
      if (this.#open === null) {
        const sense = this.#sign > 0 ? 'largest' : 'least';
        const note = `true diameter ${this.#sign > 0 ? 'above' : 'below'} ${this.#limitMm.toFixed(2)} mm`;
        this.#open = this.#truth.start(this.#kind, timeS, gaugeMm, { sense, note });
      }
      this.#lastS = timeS;
      this.#lastMm = gaugeMm;
    } else if (this.#open !== null && gaugeMm - this.#lastMm > WITHIN_MM) {
      this.#truth.end(this.#open, this.#lastS, this.#lastMm);
      this.#open = null;
    }
  }
}

export class StrandWatch {
  readonly #over: LimitWatch;
  readonly #under: LimitWatch;

  constructor(truth: TruthLog) {
    this.#over = new LimitWatch(truth, 'oversize', 1, OVERSIZE_ABOVE_MM);
    this.#under = new LimitWatch(truth, 'undersize', -1, UNDERSIZE_BELOW_MM);
  }

  step(timeS: number, gaugeMm: number, diameterMm: number): void {
    this.#over.step(timeS, gaugeMm, diameterMm);
    this.#under.step(timeS, gaugeMm, diameterMm);
  }
}
