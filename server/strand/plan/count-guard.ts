import type { CountError } from './cut-request.ts';

/** A place from which strand is counted, mm from the outer end, and how far the true place may be from it. */
export interface Anchor {
  readonly atMm: number;
  readonly belowMm: number;
  readonly aboveMm: number;
}

/** The range in which a place surely is, mm from the outer end. */
export interface PlaceRange {
  readonly leastMm: number;
  readonly mostMm: number;
}

/**
 * Where a counted length really ends: between c·(1 − share) − slip and c/(1 − share) + slip, whether the share is meant of the
 * count or of the true length. Errors add up from count to count, because each starts where the last one ended. Only a
 * landmark ends that, if a user saw it and gave its count. Cuts keep the whole error away from bad stretches, so that coils
 * stay clean even with the largest error.
 */
export class CountGuard {
  readonly #share: number;
  readonly #slipMm: number;

  constructor(error: CountError) {
    this.#share = error.wheelShare + error.lengthScaleShare;
    this.#slipMm = error.slipMm;
  }

  /** Where a count of `countedMm` from somewhere in this range ends. */
  countedFrom({ leastMm, mostMm }: PlaceRange, countedMm: number): PlaceRange {
    return { leastMm: leastMm + this.#least(countedMm), mostMm: mostMm + this.#most(countedMm) };
  }

  /** Where a count of `countedMm` that ended somewhere in this range started. */
  countedBackFrom({ leastMm, mostMm }: PlaceRange, countedMm: number): PlaceRange {
    return { leastMm: leastMm - this.#most(countedMm), mostMm: mostMm - this.#least(countedMm) };
  }

  /** Largest error at a place that is reached from the anchor in this many counts. */
  errorAt(placeMm: number, { atMm, belowMm, aboveMm }: Anchor, counts: number): number {
    const distanceMm = Math.max(0, placeMm - atMm);
    return distanceMm / (1 - this.#share) - distanceMm + counts * this.#slipMm + Math.max(belowMm, aboveMm);
  }

  /** Last whole millimetre at which a cut surely falls before `badFromMm`. */
  lastCutBefore(badFromMm: number, { atMm, aboveMm }: Anchor, counts: number): number {
    const shortMm = badFromMm - atMm - aboveMm - counts * this.#slipMm;
    return Math.floor(atMm + (shortMm < 0 ? shortMm : shortMm * (1 - this.#share)) + 1e-9);
  }

  /** First whole millimetre at which a cut surely falls after `badToMm`. */
  firstCutAfter(badToMm: number, { atMm, belowMm }: Anchor, counts: number): number {
    const longMm = badToMm - atMm + belowMm + counts * this.#slipMm;
    return Math.ceil(atMm + (longMm < 0 ? longMm : longMm / (1 - this.#share)) - 1e-9);
  }

  /** The count that surely is this long. */
  surelyLength(trueMm: number): number {
    return Math.ceil((Math.max(0, trueMm) + this.#slipMm) / (1 - this.#share));
  }

  #least(countedMm: number): number {
    return countedMm * (1 - this.#share) - this.#slipMm;
  }

  #most(countedMm: number): number {
    return countedMm / (1 - this.#share) + this.#slipMm;
  }
}
