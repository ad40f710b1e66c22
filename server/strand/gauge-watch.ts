/** A gauge that trembles normally and then gives the exact same reading for so long is frozen. */
const FROZEN_AFTER_S = 10;
/** How many changes make a normal trembling. */
const LIVELY_CHANGES = 20;
/** A coarse gauge repeats itself: it is frozen when it does so for this many times its longest habit. */
const HABITS = 5;
/** A gauge that never trembled may be a coarse one on a very even strand: it gets this many times longer. */
const PATIENCE_UNPROVEN = 6;
/** Where the speed is unknown the strand may stand. */
const PATIENCE_SPEED_UNKNOWN = 3;
const MOVING_MM_PER_S = 0.3;
/** So many equal highest readings in a row are the gauge's end, not the strand's. */
const CLIPPED_SAMPLES = 4;
/** At least this share of readings must normally differ from the one before, or equal readings say nothing. */
const LIVELY_SHARE = 0.8;

/** The strand's limits that matter to the watch. */
export interface GaugeWatchLimits {
  /** Below this there is no strand, and a constant reading is right. */
  readonly strandPresentMm: number;
  /** A clipped top below this is no matter. */
  readonly hotendLimitMm: number;
}

export interface GaugeWatchOptions extends GaugeWatchLimits {
  readonly frozenAfterS?: number;
  /** The ends of the gauge's range where they are known, mm. */
  readonly rangeMm?: readonly [least: number, greatest: number];
}

/** Whether the gauge can be believed: not frozen, and not at the end of its range. */
export class GaugeWatch {
  #limits: GaugeWatchLimits;
  readonly #frozenAfterS: number;
  readonly #rangeMm: GaugeWatchOptions['rangeMm'];
  #last = Number.NaN;
  #lastTimeMs = Number.NaN;
  #sameS = 0;
  #sameSamples = 0;
  #habitS = 0;
  #changes = 0;
  #samples = 0;
  #highest = Number.NEGATIVE_INFINITY;
  /** The exact same reading for too long while the strand moved. */
  frozen = false;
  /** The reading is at the end of the gauge's range: the strand may be thicker (or thinner) than it says. */
  saturated = false;
  /** Since where and when the reading has been exactly the same; NaN before the first. */
  sameSinceMm = Number.NaN;
  sameSinceTimeMs = Number.NaN;

  constructor(options: GaugeWatchOptions) {
    this.#limits = options;
    this.#frozenAfterS = options.frozenAfterS ?? FROZEN_AFTER_S;
    this.#rangeMm = options.rangeMm;
  }

  /** Judges what comes from now on by other limits. What the gauge's readings have taught stays: it is the same gauge. */
  setLimits(limits: GaugeWatchLimits): void {
    this.#limits = limits;
  }

  /** How long the reading has been exactly the same while the strand moved, s. */
  get sameForS(): number {
    return this.#sameS;
  }

  /** NaN diameter = no value, which is neither; NaN speed = unknown. */
  step(timeMs: number, gaugeMm: number, diameterMm: number, speedMmPerS: number): void {
    if (Number.isNaN(diameterMm)) return;
    const seconds = Math.min((timeMs - this.#lastTimeMs) / 1000, 2);
    this.#lastTimeMs = timeMs;
    this.#samples++;
    if (diameterMm !== this.#last || diameterMm < this.#limits.strandPresentMm) {
      if (diameterMm !== this.#last) this.#changes++;
      if (!this.frozen && this.#sameS > this.#habitS) this.#habitS = this.#sameS;
      this.#sameS = 0;
      this.#sameSamples = 1;
      this.sameSinceMm = gaugeMm;
      this.sameSinceTimeMs = timeMs;
      this.frozen = false;
    } else {
      // A strand that stands still gives the same reading by right.
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
    if (this.#changes < LIVELY_CHANGES) return this.#frozenAfterS * PATIENCE_UNPROVEN * unknown;
    return Math.max(this.#frozenAfterS * unknown, HABITS * this.#habitS);
  }

  #isSaturated(diameterMm: number): boolean {
    const range = this.#rangeMm;
    if (range !== undefined)
      return diameterMm >= range[1] || (diameterMm <= range[0] && diameterMm >= this.#limits.strandPresentMm);
    return (
      this.#sameSamples >= CLIPPED_SAMPLES &&
      diameterMm >= this.#highest &&
      diameterMm > this.#limits.hotendLimitMm &&
      this.#changes > LIVELY_SHARE * (this.#samples - this.#sameSamples)
    );
  }
}

/** Sample pitch, mm: a blob shorter than this can pass between two readings unseen. NaN where the rate is not known. */
export function samplePitchMm(speedMmPerS: number, readingsPerS: number): number {
  return readingsPerS > 0 ? Math.abs(speedMmPerS) / readingsPerS : Number.NaN;
}
