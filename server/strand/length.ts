import { COUNTER_MODULUS } from '../reading/names.ts';
import { type Reading, valueAt } from '../reading/reading.ts';
import { ReadingPace } from './reading-pace.ts';

/** No bench line is faster (common practice, no source: 5–90 mm/s): a counter that is was garbled or reset. */
const SPEED_MAX_MM_PER_S = 500;
/** A counter may advance by a whole turn of its roller at once. */
const COUNTER_STEP_MM = 200;
/** A counter that runs back by less than this jitters; by more, it was reset. */
const JITTER_MM = 50;
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
 * the integral of `v` over time (trapezoid rule), else from the set speed. It never falls.
 */
export class LengthTracker {
  readonly #setSpeedMmPerS: number;
  readonly #pace = new ReadingPace();
  #lastTimeMs = Number.NaN;
  #gaugeMm = 0;
  #gapMm = 0;
  #gapS = 0;
  #counterMm = Number.NaN;
  #counterTimeMs = Number.NaN;
  /** Gauge length when the counter showed #counterMm. */
  #gaugeAtCounterMm = 0;
  #sentSpeed = Number.NaN;
  #sentSpeedTimeMs = Number.NaN;
  #derivedSum = 0;
  #derivedWeight = 0;
  #speed = Number.NaN;

  /** @param from the state before the service restarted */
  constructor(options: { setSpeedMmPerS: number }, from?: LengthStart) {
    this.#setSpeedMmPerS = options.setSpeedMmPerS > 0 ? options.setSpeedMmPerS : Number.NaN;
    if (from === undefined) return;
    this.#lastTimeMs = from.timeMs;
    this.#gaugeMm = from.gaugeMm;
    this.#gaugeAtCounterMm = from.gaugeMm;
    if (from.lengthCounterMm !== null) {
      this.#counterMm = from.lengthCounterMm;
      this.#counterTimeMs = from.timeMs;
    }
    this.#speed = from.speedMmPerS ?? this.#setSpeedMmPerS;
    this.#pace.expectGap();
  }

  /** Strand that has passed the gauge since the run started, mm. */
  get gaugeMm(): number {
    return this.#gaugeMm;
  }

  /** NaN = unknown. */
  get speedMmPerS(): number {
    return this.#speed;
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
    const speedBefore = this.#speed;
    const sent = valueAt(reading, layout.speed);
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
        this.#anchor(counter, timeMs);
      }
      return;
    }

    const gap = this.#pace.isGap(seconds, reading.lostBefore) || reading.restarted;
    const before = this.#gaugeMm;
    const bridged = before + bridgeMm(speedBefore, this.#speed, seconds);
    let gauge = bridged;
    if (!Number.isNaN(counter)) gauge = this.#fromCounter(counter, reading, bridged);
    this.#gaugeMm = Math.max(gauge, before);
    if (!Number.isNaN(counter) && counter !== this.#heldAt) this.#anchor(counter, timeMs);
    if (Number.isNaN(this.#sentSpeed) && !Number.isNaN(counter)) this.#deriveSpeed(this.#gaugeMm - before, seconds);
    if (gap) {
      this.#gapMm = this.#gaugeMm - before;
      this.#gapS = seconds;
    }
    this.#lastTimeMs = timeMs;
  }

  /** A counter value that ran back a little and must not become the new anchor; NaN = none. */
  #heldAt = Number.NaN;

  /** Gauge length according to the counter, or `bridged` where the counter is implausible. */
  #fromCounter(counter: number, reading: Reading, bridged: number): number {
    this.#heldAt = Number.NaN;
    if (Number.isNaN(this.#counterMm)) return bridged;
    const seconds = (reading.timeMs - this.#counterTimeMs) / 1000;
    const fastest = Math.max(SPEED_MAX_MM_PER_S, 3 * (this.#speed || 0));
    const most = fastest * seconds + COUNTER_STEP_MM;
    let advance = counter - this.#counterMm;
    // After a restart the counter starts at 0, so at least its value has passed since.
    if (reading.restarted && advance < 0)
      return Math.max(bridged, counter <= most ? this.#gaugeMm + Math.max(counter, 0) : 0);
    if (advance < 0) {
      const wrapped = advance + COUNTER_MODULUS;
      if (wrapped <= most) advance = wrapped;
      else if (-advance <= Math.min(JITTER_MM, this.#counterMm / 2)) {
        // A garbled value, or a roller that swung back: keep the old anchor until the counter has passed it.
        this.#heldAt = counter;
        return this.#gaugeMm;
      } else return bridged;
    }
    return advance <= most ? this.#gaugeAtCounterMm + advance : bridged;
  }

  #anchor(counter: number, timeMs: number): void {
    if (Number.isNaN(counter)) return;
    this.#counterMm = counter;
    this.#counterTimeMs = timeMs;
    this.#gaugeAtCounterMm = this.#gaugeMm;
  }

  /** Exponential mean over time, free of bias from its start. */
  #deriveSpeed(advanceMm: number, seconds: number): void {
    const share = 1 - Math.exp(-seconds / SPEED_SMOOTHING_S);
    this.#derivedSum += (advanceMm / seconds - this.#derivedSum) * share;
    this.#derivedWeight += (1 - this.#derivedWeight) * share;
    this.#speed = this.#derivedSum / this.#derivedWeight;
  }
}

/** Length at the mean of the speeds at both ends; 0 where neither is known. A puller running backwards adds nothing. */
function bridgeMm(before: number, after: number, seconds: number): number {
  const from = Number.isNaN(before) ? after : before;
  const to = Number.isNaN(after) ? before : after;
  const mean = (Math.max(from, 0) + Math.max(to, 0)) / 2;
  return Number.isNaN(mean) ? 0 : mean * seconds;
}
