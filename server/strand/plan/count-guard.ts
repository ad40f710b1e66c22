import type { CountError } from './cut-request.ts';

/**
 * A counted length is off by up to g(c) = share·c + slip, where c is the distance from the last certain point: the outer
 * end, or the inner edge of the last stretch that was seen and cut out. Cuts keep that distance from bad stretches, so that
 * coils stay clean even with the largest error.
 */
export class CountGuard {
  readonly #share: number;
  readonly #slipMm: number;

  constructor(error: CountError) {
    this.#share = error.wheelShare + error.lengthScaleShare;
    this.#slipMm = error.slipMm;
  }

  /** Largest error of a count that started at `landmarkMm`. */
  errorAt(placeMm: number, landmarkMm: number): number {
    return this.#share * Math.max(0, placeMm - landmarkMm) + this.#slipMm;
  }

  /** Last whole millimetre at which a cut surely falls before `badFromMm`: from c + g(c) = distance. */
  lastCutBefore(badFromMm: number, landmarkMm: number): number {
    const distanceMm = Math.max(0, badFromMm - landmarkMm);
    return Math.floor(badFromMm - (this.#share * distanceMm + this.#slipMm) / (1 + this.#share) + 1e-9);
  }

  /** First whole millimetre at which a cut surely falls behind `badToMm`: from c − g(c) = distance. */
  firstCutAfter(badToMm: number, landmarkMm: number): number {
    const distanceMm = Math.max(0, badToMm - landmarkMm);
    return Math.ceil(badToMm + (this.#share * distanceMm + this.#slipMm) / (1 - this.#share) - 1e-9);
  }
}
