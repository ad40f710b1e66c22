import { type Reading, valueAt } from '../reading/reading.ts';
import { LengthAgreement, type LengthContradiction } from './length-agreement.ts';
import { LengthCounter, SPEED_MAX_MM_PER_S } from './length-counter.ts';
import { ReadingPace } from './reading-pace.ts';
import { TrustedSpeed } from './trusted-speed.ts';

/** How long the last sent speed stays valid. */
const SPEED_HELD_S = 2;
/** Time constant of the speed derived from a counter, which may count whole millimetres. */
const SPEED_SMOOTHING_S = 1;

export interface LengthStart {
  readonly timeMs: number;
  readonly gaugeMm: number;
  readonly lengthCounterMm: number | null;
  readonly speedMmPerS: number | null;
}

/**
 * How much strand has passed the gauge since the run started: from the counter `len` where the line sends one, else from
 * the integral of `v` over time, else from the set speed. It never falls.
 */
export class LengthTracker {
  readonly #setSpeedMmPerS: number;
  readonly #pace = new ReadingPace();
  #lastTimeMs = Number.NaN;
  #gaugeMm = 0;
  #gapMm = 0;
  #gapS = 0;
  readonly #counter = new LengthCounter();
  readonly #agreement = new LengthAgreement();
  readonly #trusted = new TrustedSpeed();
  #sentSpeed = Number.NaN;
  #sentSpeedTimeMs = Number.NaN;
  #impossibleMmPerS: number | null = null;
  #derivedSum = 0;
  #derivedWeight = 0;
  #speed = Number.NaN;
  // Reused for every reading, for speed.
  readonly #passed = { timeMs: 0, seconds: 0, bySpeedMm: 0, ratio: 1, gap: false, restarted: false };

  /** @param from the state before the service restarted */
  constructor(options: { setSpeedMmPerS: number }, from?: LengthStart) {
    this.#setSpeedMmPerS = options.setSpeedMmPerS > 0 ? options.setSpeedMmPerS : Number.NaN;
    if (from === undefined) return;
    this.#lastTimeMs = from.timeMs;
    this.#gaugeMm = from.gaugeMm;
    this.#counter.anchor(from.lengthCounterMm ?? Number.NaN, from.timeMs, from.gaugeMm);
    this.#speed = possible(from.speedMmPerS ?? Number.NaN);
    if (Number.isNaN(this.#speed)) this.#speed = this.#setSpeedMmPerS;
    this.#trusted.set(this.#speed);
    this.#pace.expectGap();
  }

  /** Strand that has passed the gauge since the run started, mm. */
  get gaugeMm(): number {
    return this.#gaugeMm;
  }

  /** NaN = unknown. If counter and speed contradict each other, the larger one, so that moving strand is watched. */
  get speedMmPerS(): number {
    if (this.#agreement.contradiction === null) return this.#speed;
    return Math.max(this.#speed || 0, this.#counter.rateMmPerS || 0);
  }

  /** What the line sends as speed although no strand is that fast, as in another unit, mm/s; null = length does not depend on it. */
  get impossibleMmPerS(): number | null {
    return this.#counter.isKnown ? null : this.#impossibleMmPerS;
  }

  /** Jumps of the counter that neither the speed nor its own rate supported. They did not shift any position. */
  get counterJumps(): number {
    return this.#counter.jumps;
  }

  /** The counter and the speed contradict each other, so positions are not known; null = they don't. */
  get contradiction(): LengthContradiction | null {
    return this.#agreement.contradiction;
  }

  /** Strand that passed unmeasured just before the last reading, mm; 0 normally. */
  get gapMm(): number {
    return this.#gapMm;
  }

  /** Time without a reading just before the last one, s; 0 normally. */
  get gapS(): number {
    return this.#gapS;
  }

  /** Usual time between two readings, s; NaN before the second. */
  get pitchS(): number {
    return this.#pace.pitchS;
  }

  step(reading: Reading): void {
    const { timeMs, layout } = reading;
    const seconds = (timeMs - this.#lastTimeMs) / 1000;
    const first = Number.isNaN(seconds);
    this.#gapMm = 0;
    this.#gapS = 0;
    const asSent = valueAt(reading, layout.speed);
    const sent = possible(asSent);
    if (!Number.isNaN(asSent)) this.#impossibleMmPerS = Number.isNaN(sent) ? asSent : null;
    if (!Number.isNaN(sent)) {
      this.#sentSpeed = sent;
      this.#sentSpeedTimeMs = timeMs;
      this.#speed = sent;
    } else if (!(timeMs - this.#sentSpeedTimeMs <= SPEED_HELD_S * 1000) && !Number.isNaN(this.#sentSpeed)) {
      this.#sentSpeed = Number.NaN;
      this.#speed = this.#setSpeedMmPerS;
    } else if (first) this.#speed = this.#setSpeedMmPerS;

    const counter = valueAt(reading, layout.lengthCounter);
    if (first || !(seconds > 0)) {
      // The first reading has no stretch before it, and one without a step in time adds no length.
      if (first) {
        this.#lastTimeMs = timeMs;
        this.#counter.anchor(counter, timeMs, this.#gaugeMm);
        this.#trusted.set(Number.isNaN(counter) ? this.#speed : sent);
      }
      return;
    }

    const gap = this.#pace.isGap(seconds, reading.lostBefore) || reading.restarted;
    const before = this.#gaugeMm;
    const counted = this.#counter.isKnown || !Number.isNaN(counter);
    // A set speed is no measurement, so it checks no counter.
    const speed = counted ? this.#sentSpeed : this.#speed;
    const bySpeedMm = this.#trusted.step(speed, seconds, gap);
    this.#gaugeMm = counted
      ? this.#byCounter(reading, counter, seconds, bySpeedMm, gap)
      : before + (Number.isNaN(bySpeedMm) ? 0 : bySpeedMm);
    if (Number.isNaN(this.#sentSpeed) && !Number.isNaN(counter)) this.#deriveSpeed(this.#gaugeMm - before, seconds);
    if (gap || this.#counter.leapt) {
      this.#gapMm = this.#gaugeMm - before;
      this.#gapS = seconds;
    }
    this.#lastTimeMs = timeMs;
  }

  #byCounter(reading: Reading, counter: number, seconds: number, bySpeedMm: number, gap: boolean): number {
    const passed = this.#passed;
    passed.timeMs = reading.timeMs;
    passed.seconds = seconds;
    passed.bySpeedMm = bySpeedMm;
    passed.ratio = this.#agreement.ratio;
    passed.gap = gap;
    passed.restarted = reading.restarted;
    const gaugeMm = this.#counter.step(counter, this.#gaugeMm, passed);
    const { countedMm } = this.#counter;
    if (!gap && countedMm + bySpeedMm > 0) this.#agreement.add(countedMm, bySpeedMm, seconds);
    return gaugeMm;
  }

  /** Exponential mean over time, free of bias from its start. */
  #deriveSpeed(advanceMm: number, seconds: number): void {
    const share = 1 - Math.exp(-seconds / SPEED_SMOOTHING_S);
    this.#derivedSum += (advanceMm / seconds - this.#derivedSum) * share;
    this.#derivedWeight += (1 - this.#derivedWeight) * share;
    this.#speed = this.#derivedSum / this.#derivedWeight;
  }
}

/** NaN for a speed that no strand has. */
function possible(mmPerS: number): number {
  return mmPerS <= SPEED_MAX_MM_PER_S ? mmPerS : Number.NaN;
}
