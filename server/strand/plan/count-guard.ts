import type { CountError, UncertainStretch } from './cut-request.ts';

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
  /** How far a bad stretch may reach beyond its recorded edge. */
  readonly edgeMm: number;
  /** mm from the outer end. */
  readonly #uncertain: readonly UncertainStretch[];

  constructor(error: CountError, uncertain: readonly UncertainStretch[] = []) {
    this.#share = error.wheelShare + error.lengthScaleShare;
    this.#slipMm = error.slipMm;
    this.edgeMm = error.edgeMm ?? 0;
    this.#uncertain = uncertain;
  }

  /** By how much the true length between two places may differ from the record. Of a stretch in part, all of it counts. */
  offBetween(fromMm: number, toMm: number): number {
    return this.#uncertain.reduce((sum, one) => sum + (one.fromMm < toMm && one.toMm > fromMm ? one.offMm : 0), 0);
  }

  /** Where a count of `countedMm` from somewhere in this range ends. */
  countedFrom({ leastMm, mostMm }: PlaceRange, countedMm: number): PlaceRange {
    return this.#widened(
      { leastMm: leastMm + this.#least(countedMm), mostMm: mostMm + this.#most(countedMm) },
      leastMm,
    );
  }

  /** Where a count of `countedMm` that ended somewhere in this range started. */
  countedBackFrom({ leastMm, mostMm }: PlaceRange, countedMm: number): PlaceRange {
    return this.#widened({ leastMm: leastMm - this.#most(countedMm), mostMm: mostMm - this.#least(countedMm) }, mostMm);
  }

  /** Largest error at a place that is reached from the anchor in this many counts. */
  errorAt(placeMm: number, { atMm, belowMm, aboveMm }: Anchor, counts: number): number {
    const distanceMm = Math.max(0, placeMm - atMm);
    return (
      distanceMm / (1 - this.#share) -
      distanceMm +
      counts * this.#slipMm +
      Math.max(belowMm, aboveMm) +
      this.offBetween(atMm, placeMm)
    );
  }

  /** Last whole millimetre at which a cut surely falls before `badFromMm`. */
  lastCutBefore(badFromMm: number, { atMm, aboveMm }: Anchor, counts: number): number {
    const shortMm = badFromMm - this.edgeMm - atMm - aboveMm - counts * this.#slipMm - this.offBetween(atMm, badFromMm);
    return Math.floor(atMm + (shortMm < 0 ? shortMm : shortMm * (1 - this.#share)) + 1e-9);
  }

  /** First whole millimetre at which a cut surely falls after `badToMm`. */
  firstCutAfter(badToMm: number, { atMm, belowMm }: Anchor, counts: number): number {
    const longMm = badToMm + this.edgeMm - atMm + belowMm + counts * this.#slipMm + this.offBetween(atMm, badToMm);
    return Math.ceil(atMm + (longMm < 0 ? longMm : longMm / (1 - this.#share)) - 1e-9);
  }

  /** The count that surely is as long as the strand between two places, one of them the edge of a bad stretch. */
  surelyLength(fromMm: number, toMm: number): number {
    const trueMm = Math.max(0, toMm - fromMm) + this.edgeMm + this.offBetween(fromMm, toMm);
    return Math.ceil((trueMm + this.#slipMm) / (1 - this.#share));
  }

  /** By the uncertain stretches between `fromMm` and either end, as far as the range then reaches. */
  #widened(range: PlaceRange, fromMm: number): PlaceRange {
    let { leastMm, mostMm } = range;
    for (let offMm = -1; ; ) {
      const nextMm = this.offBetween(Math.min(fromMm, leastMm), Math.max(fromMm, mostMm));
      if (nextMm === offMm || nextMm === 0) return { leastMm, mostMm };
      offMm = nextMm;
      leastMm = range.leastMm - offMm;
      mostMm = range.mostMm + offMm;
    }
  }

  #least(countedMm: number): number {
    return countedMm * (1 - this.#share) - this.#slipMm;
  }

  #most(countedMm: number): number {
    return countedMm / (1 - this.#share) + this.#slipMm;
  }
}
