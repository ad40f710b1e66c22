import { GaugeRangeEnd } from './gauge-range-end.ts';

/** A gauge whose reading normally varies is frozen when it repeats exactly for this long. */
const FROZEN_AFTER_S = 10;
/** From this many changes on, the reading is known to vary. A coarse one that flickers between two values varies no more than one that stands. */
const LIVELY_CHANGES = 20;
/** A coarse gauge repeats itself: it is frozen only after this many times its longest repetition so far. */
const LONGEST_REPEATS = 5;
/** A gauge that has never varied may be a coarse one on a very even strand: it gets this many times longer. */
const PATIENCE_UNPROVEN = 6;
/** Longer still where the speed is unknown, because the strand may be standing still. */
const PATIENCE_SPEED_UNKNOWN = 3;
const MOVING_MM_PER_S = 0.3;
export interface GaugeWatchLimits {
  /** Below this there is no strand, and a constant reading is correct. */
  readonly strandPresentMm: number;
  /** A gauge that shows no more than this sees no blob. */
  readonly hotendLimitMm: number;
}

/** Detects a gauge that is frozen, at the end of its range, or blind because its range ends too low. */
export class GaugeWatch {
  #limits: GaugeWatchLimits;
  #last = Number.NaN;
  /** The other one of the last two values. */
  #otherMm = Number.NaN;
  #lastTimeMs = Number.NaN;
  #sameS = 0;
  #longestRepeatS = 0;
  #changes = 0;
  readonly #range = new GaugeRangeEnd();
  /** The reading has repeated exactly for too long while the strand moved. */
  frozen = false;
  /** Where and when the reading took its present value; NaN before the first. */
  sameSinceMm = Number.NaN;
  sameSinceTimeMs = Number.NaN;

  constructor(limits: GaugeWatchLimits) {
    this.#limits = limits;
  }

  /** Applies other limits from now on. What was learnt about the gauge is kept. */
  setLimits(limits: GaugeWatchLimits): void {
    this.#limits = limits;
  }

  /** The reading is at the end of the gauge's range: the strand may be thicker than measured. */
  get saturated(): boolean {
    return this.#range.isAtEnd && !this.frozen;
  }

  /** The reading is at the end of a range that ends below the limit: the strand may be beyond it. */
  get mayBeBeyond(): boolean {
    return this.saturated && this.#last <= this.#limits.hotendLimitMm && this.#last > this.#limits.strandPresentMm;
  }

  /** The highest diameter that the gauge can send, where that is too low to see a blob, mm; NaN = it sees blobs. */
  get blindFromMm(): number {
    const { endMm } = this.#range;
    return endMm <= this.#limits.hotendLimitMm && endMm > this.#limits.strandPresentMm ? endMm : Number.NaN;
  }

  /** Where and when the reading first was at the end of its range. */
  get blindSinceMm(): number {
    return this.#range.sinceMm;
  }

  get blindSinceTimeMs(): number {
    return this.#range.sinceTimeMs;
  }

  /** How long the reading has repeated exactly while the strand moved, s. */
  get sameForS(): number {
    return this.#sameS;
  }

  /** `diameterMm` NaN = no value, which changes nothing; `speedMmPerS` NaN = unknown. */
  step(timeMs: number, gaugeMm: number, diameterMm: number, speedMmPerS: number): void {
    if (Number.isNaN(diameterMm)) return;
    const seconds = Math.min((timeMs - this.#lastTimeMs) / 1000, 2);
    this.#lastTimeMs = timeMs;
    if (diameterMm !== this.#last || diameterMm < this.#limits.strandPresentMm) {
      if (diameterMm !== this.#last) {
        if (diameterMm !== this.#otherMm) this.#changes++;
        this.#otherMm = this.#last;
      }
      if (!this.frozen && this.#sameS > this.#longestRepeatS) this.#longestRepeatS = this.#sameS;
      this.#sameS = 0;
      this.sameSinceMm = gaugeMm;
      this.sameSinceTimeMs = timeMs;
      this.frozen = false;
    } else {
      // Strand that stands still correctly gives the same reading.
      if (!(speedMmPerS <= MOVING_MM_PER_S)) this.#sameS += seconds;
      this.frozen = this.#sameS >= this.#patienceS(speedMmPerS);
    }
    this.#last = diameterMm;
    this.#range.step(timeMs, gaugeMm, diameterMm);
  }

  #patienceS(speedMmPerS: number): number {
    const unknown = Number.isNaN(speedMmPerS) ? PATIENCE_SPEED_UNKNOWN : 1;
    if (this.#changes < LIVELY_CHANGES) return FROZEN_AFTER_S * PATIENCE_UNPROVEN * unknown;
    return Math.max(FROZEN_AFTER_S * unknown, LONGEST_REPEATS * this.#longestRepeatS);
  }
}

/** Sample pitch, mm: a shorter blob can pass unseen between two readings. NaN where the rate is not known. */
export function samplePitchMm(speedMmPerS: number, readingsPerS: number): number {
  return readingsPerS > 0 ? Math.abs(speedMmPerS) / readingsPerS : Number.NaN;
}
