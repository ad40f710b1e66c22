import type { CountError } from './cut-request.ts';

/**
 * A counted length errs by up to g(c) = share·c + slip, where c is the way since the last thing that was surely known: the
 * outer end, or the inner edge of the last stretch that was found and cut out. A cut is set so far off the next bad
 * stretch that even a count that errs by all of it keeps the coil clean.
 */
export class CountGuard {
  readonly #share: number;
  readonly #slipMm: number;

  constructor(error: CountError) {
    this.#share = error.wheelShare + error.lengthScaleShare;
    this.#slipMm = error.slipMm;
  }

  /** Largest error of a count that began at `landmarkMm`. */
  errorAt(placeMm: number, landmarkMm: number): number {
    return this.#share * Math.max(0, placeMm - landmarkMm) + this.#slipMm;
  }

  /** Last whole millimetre at which a cut surely falls before `badFromMm`: the c with c + g(c) = way to it. */
  lastCutBefore(badFromMm: number, landmarkMm: number): number {
    const way = Math.max(0, badFromMm - landmarkMm);
    return Math.floor(badFromMm - (this.#share * way + this.#slipMm) / (1 + this.#share) + 1e-9);
  }

  /** First whole millimetre at which a cut surely falls behind `badToMm`: the c with c − g(c) = way to it. */
  firstCutAfter(badToMm: number, landmarkMm: number): number {
    const way = Math.max(0, badToMm - landmarkMm);
    return Math.ceil(badToMm + (this.#share * way + this.#slipMm) / (1 - this.#share) - 1e-9);
  }
}
