/** A gauge whose reading normally varies is frozen when it repeats exactly for this long. */
const FROZEN_AFTER_S = 10;
/** From this many changes on, the reading is known to vary. */
const LIVELY_CHANGES = 20;
/** A coarse gauge repeats itself: it is frozen only after this many times its longest repetition so far. */
const LONGEST_REPEATS = 5;
/** A gauge that has never varied may be a coarse one on a very even strand: it gets this many times longer. */
const PATIENCE_UNPROVEN = 6;
/** Longer still where the speed is unknown, because the strand may be standing still. */
const PATIENCE_SPEED_UNKNOWN = 3;
const MOVING_MM_PER_S = 0.3;
/** This many equal highest readings in a row mean the end of the gauge's range, not the strand. */
const CLIPPED_SAMPLES = 4;
/** Equal readings mean something only where at least this share of readings differs from the one before. */
const LIVELY_SHARE = 0.8;

export interface GaugeWatchLimits {
  /** Below this there is no strand, and a constant reading is correct. */
  readonly strandPresentMm: number;
  /** A clipped top below this does not matter. */
  readonly hotendLimitMm: number;
}

/** Detects a gauge that is frozen or at the end of its range. */
export class GaugeWatch {
  #limits: GaugeWatchLimits;
  #last = Number.NaN;
  #lastTimeMs = Number.NaN;
  #sameS = 0;
  #sameSamples = 0;
  #longestRepeatS = 0;
  #changes = 0;
  #samples = 0;
  #highest = Number.NEGATIVE_INFINITY;
  /** The reading has repeated exactly for too long while the strand moved. */
  frozen = false;
  /** The reading is at the end of the gauge's range: the strand may be thicker than measured. */
  saturated = false;
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

  /** How long the reading has repeated exactly while the strand moved, s. */
  get sameForS(): number {
    return this.#sameS;
  }

  /** `diameterMm` NaN = no value, which changes nothing; `speedMmPerS` NaN = unknown. */
  step(timeMs: number, gaugeMm: number, diameterMm: number, speedMmPerS: number): void {
    if (Number.isNaN(diameterMm)) return;
    const seconds = Math.min((timeMs - this.#lastTimeMs) / 1000, 2);
    this.#lastTimeMs = timeMs;
    this.#samples++;
    if (diameterMm !== this.#last || diameterMm < this.#limits.strandPresentMm) {
      if (diameterMm !== this.#last) this.#changes++;
      if (!this.frozen && this.#sameS > this.#longestRepeatS) this.#longestRepeatS = this.#sameS;
      this.#sameS = 0;
      this.#sameSamples = 1;
      this.sameSinceMm = gaugeMm;
      this.sameSinceTimeMs = timeMs;
      this.frozen = false;
    } else {
      // Strand that stands still correctly gives the same reading.
      if (!(speedMmPerS <= MOVING_MM_PER_S)) this.#sameS += seconds;
      this.#sameSamples++;
      this.frozen = this.#sameS >= this.#patienceS(speedMmPerS);
    }
    this.#last = diameterMm;
    this.saturated = this.#isSaturated(diameterMm);
    if (diameterMm > this.#highest) this.#highest = diameterMm;
  }

  #patienceS(speedMmPerS: number): number {
    const unknown = Number.isNaN(speedMmPerS) ? PATIENCE_SPEED_UNKNOWN : 1;
    if (this.#changes < LIVELY_CHANGES) return FROZEN_AFTER_S * PATIENCE_UNPROVEN * unknown;
    return Math.max(FROZEN_AFTER_S * unknown, LONGEST_REPEATS * this.#longestRepeatS);
  }

  #isSaturated(diameterMm: number): boolean {
    return (
      this.#sameSamples >= CLIPPED_SAMPLES &&
      diameterMm >= this.#highest &&
      diameterMm > this.#limits.hotendLimitMm &&
      this.#changes > LIVELY_SHARE * (this.#samples - this.#sameSamples)
    );
  }
}

/** Sample pitch, mm: a shorter blob can pass unseen between two readings. NaN where the rate is not known. */
export function samplePitchMm(speedMmPerS: number, readingsPerS: number): number {
  return readingsPerS > 0 ? Math.abs(speedMmPerS) / readingsPerS : Number.NaN;
}
