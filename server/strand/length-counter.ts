import { COUNTER_MODULUS } from '../reading/names.ts';

/** No bench line is that fast (common practice, no source: 5–90 mm/s): a faster counter was garbled or set, a faster speed is none. */
export const SPEED_MAX_MM_PER_S = 500;
/** Where neither the speed nor the counter's own rate is known yet, a faster one must be confirmed. */
const USUAL_SPEED_MAX_MM_PER_S = 90;
/** A counter may advance by a whole turn of its roller at once. */
const TURN_MM_MAX = 200;
/** A roller may swing back by this much. */
const SWING_MM = 5;
/** Advance beyond what is expected that proves nothing: rounding, and readings that come late. */
const SLACK_MM = 5;
/** So does this share of what is expected, because the speed may have changed in between. */
const SLACK_SHARE = 0.5;
/** A jump is real, or the counter was set, if this many further values continue from it. */
const CONFIRMED_BY = 2;
/** Two rates are alike up to this share. */
const ALIKE = 0.3;
/** Time constant of the counter's own rate, s. */
const RATE_S = 5;
const STEP_SHARE = 1 / 64;
/** A fine counter that has not moved by then has stopped counting, mm by the speed. */
const STUCK_MM = 20;
const STUCK_STEPS = 3;

/** What passed since the last reading, apart from the counter. */
export interface Passed {
  readonly timeMs: number;
  readonly seconds: number;
  /** Strand by the speed that the line sends; NaN = no speed is known. */
  readonly bySpeedMm: number;
  /** Length counted per length by the speed so far. */
  readonly ratio: number;
  /** Readings are missing directly before this one, so nothing is known about that time. */
  readonly gap: boolean;
  readonly restarted: boolean;
}

/** A value that nothing supports so far. */
interface Candidate {
  readonly counterMm: number;
  readonly timeMs: number;
  /** Since the counter showed the last accepted value. */
  readonly seconds: number;
  readonly afterGap: boolean;
  /** Values that continue from it. */
  continued: number;
  /** Expected since it came, mm. */
  expectedMm: number;
  lastMm: number;
  lastMs: number;
}

/**
 * The counter `len` as length at the gauge. Many boards send no checksum, so a digit changed on the cable passes. A jump
 * that neither the speed nor the counter's own rate supports is held back until the next values show what it was:
 *
 * - they continue from before: the value was garbled and is dropped;
 * - they continue from the new value: the counter was set, which is no strand, and the jump is dropped;
 * - they continue at the rate of the jump, or readings are missing before it: the strand did pass.
 *
 * Meanwhile the length follows the speed, else the counter's own rate.
 */
export class LengthCounter {
  #counterMm = Number.NaN;
  /** When the counter first showed this value, and the gauge length then. */
  #counterTimeMs = Number.NaN;
  #gaugeAtCounterMm = 0;
  /** Since then, mm. */
  #expectedMm = 0;
  #bySpeedMm = 0;
  #candidate: Candidate | null = null;
  #rateSum = 0;
  #rateWeight = 0;
  /** Largest usual step of the counter, mm; NaN = it has not moved yet. */
  #stepMm = Number.NaN;
  #stuck = false;
  /** The counter has shown its value more than once. */
  #repeated = false;
  /** Where it began, until a second step follows its first one, which nothing supports without a speed; null = two have. */
  #origin: { readonly counterMm: number; readonly gaugeMm: number } | null = null;
  /** Jumps that nothing supported. */
  jumps = 0;
  /** Counted since the last reading, mm; NaN = the counter says nothing reliable about it. */
  countedMm = Number.NaN;
  /** The gauge length moved on by more than was measured, because a jump turned out to be real. */
  leapt = false;

  /** The counter's own rate; NaN = not known yet. */
  get rateMmPerS(): number {
    return this.#rateWeight > 0 ? this.#rateSum / this.#rateWeight : Number.NaN;
  }

  /** Whether the line has sent one. */
  get isKnown(): boolean {
    return !Number.isNaN(this.#counterMm);
  }

  /** The counter shows `counterMm` at this gauge length. */
  anchor(counterMm: number, timeMs: number, gaugeMm: number): void {
    if (Number.isNaN(counterMm)) return;
    if (!this.isKnown) this.#origin = { counterMm, gaugeMm };
    this.#counterMm = counterMm;
    this.#counterTimeMs = timeMs;
    this.#gaugeAtCounterMm = gaugeMm;
    this.#expectedMm = 0;
    this.#bySpeedMm = 0;
    this.#candidate = null;
    this.#stuck = false;
    this.#repeated = false;
  }

  /**
   * @param counterMm NaN = not sent this time
   * @param gaugeMm length at the last reading
   * @returns length at this one
   */
  step(counterMm: number, gaugeMm: number, passed: Passed): number {
    const { timeMs, seconds, bySpeedMm, ratio } = passed;
    this.countedMm = Number.NaN;
    this.leapt = false;
    const own = this.rateMmPerS * seconds;
    // The larger one: what either supports is no fault.
    const expected = Math.max(0, Number.isNaN(bySpeedMm) ? 0 : bySpeedMm * Math.max(1, ratio), own || 0);
    const bridge = Number.isNaN(bySpeedMm) ? (Number.isNaN(own) || this.#origin !== null ? 0 : own) : bySpeedMm;
    const bridged = gaugeMm + Math.max(0, bridge);
    this.#expectedMm += expected;
    if (!Number.isNaN(bySpeedMm)) this.#bySpeedMm += bySpeedMm;
    if (this.#candidate !== null) this.#candidate.expectedMm += expected;
    if (Number.isNaN(counterMm)) return bridged;
    if (Number.isNaN(this.#counterMm)) {
      this.anchor(counterMm, timeMs, bridged);
      return bridged;
    }
    const sinceS = (timeMs - this.#counterTimeMs) / 1000;
    const mostMm = SPEED_MAX_MM_PER_S * sinceS + TURN_MM_MAX;
    let advance = counterMm - this.#counterMm;
    if (advance < 0 && advance + COUNTER_MODULUS <= mostMm) advance += COUNTER_MODULUS;
    if (passed.restarted && advance < 0) {
      // The counter starts at 0, so at least its value has passed since.
      const least = counterMm > 0 && counterMm <= mostMm ? gaugeMm + counterMm : 0;
      const gauge = Math.max(bridged, least);
      this.anchor(counterMm, timeMs, gauge);
      return gauge;
    }
    // At the start, values that continue from each other count for more than the first one.
    const isContinued = this.#origin !== null && (this.#candidate?.continued ?? 0) > 0;
    if (!isContinued && this.#isSupported(advance, passed)) {
      return this.#accept(counterMm, advance, gaugeMm, bridged, passed);
    }
    return this.#hold(counterMm, { gaugeMm, bridged, sinceS, mostMm }, passed);
  }

  /** Neither the speed nor the counter's own rate is known yet. */
  #isNew({ bySpeedMm }: Passed): boolean {
    return Number.isNaN(bySpeedMm) && this.#rateWeight === 0;
  }

  #isSupported(advanceMm: number, passed: Passed): boolean {
    if (advanceMm < -SWING_MM) return false;
    if (this.#isNew(passed)) return advanceMm <= USUAL_SPEED_MAX_MM_PER_S * passed.seconds + SLACK_MM;
    const step = Number.isNaN(this.#stepMm) ? 0 : this.#stepMm;
    return advanceMm <= this.#expectedMm * (1 + SLACK_SHARE) + step + SLACK_MM;
  }

  #accept(counterMm: number, advance: number, gaugeMm: number, bridged: number, passed: Passed): number {
    const held = this.#candidate;
    // A value held back was garbled, unless it is between the last value and this one.
    if (held !== null && !(held.counterMm >= this.#counterMm && held.counterMm <= counterMm)) this.jumps++;
    this.#candidate = null;
    if (advance <= 0) return this.#unmoved(gaugeMm, bridged, passed);
    if (this.#stuck) {
      this.anchor(counterMm, passed.timeMs, bridged);
      return bridged;
    }
    const gauge = Math.max(gaugeMm, this.#gaugeAtCounterMm + advance);
    this.countedMm = gauge - gaugeMm;
    if (!Number.isNaN(this.#stepMm)) this.#origin = null;
    // After a value that was held back, it is the sum of several steps.
    if (!passed.gap && held === null) this.#stepMm = Math.max(advance, (this.#stepMm || 0) * (1 - STEP_SHARE));
    this.#followRate(this.countedMm, passed.seconds);
    this.anchor(counterMm, passed.timeMs, this.#gaugeAtCounterMm + advance);
    return gauge;
  }

  /** The counter shows the same value, or its roller swung back. If the strand has moved on nevertheless, it has stopped counting. */
  #unmoved(gaugeMm: number, bridged: number, passed: Passed): number {
    this.countedMm = 0;
    this.#repeated = true;
    this.#followRate(0, passed.seconds);
    // Its own rate until now proves nothing about the next value: the counter has just shown that it did not move.
    this.#expectedMm = Number.isNaN(passed.bySpeedMm) ? 0 : this.#bySpeedMm * Math.max(1, passed.ratio);
    const patience = Number.isNaN(this.#stepMm) ? TURN_MM_MAX : Math.max(STUCK_MM, STUCK_STEPS * this.#stepMm);
    if (this.#stuck) return bridged;
    if (!(this.#bySpeedMm > patience)) return gaugeMm;
    this.#stuck = true;
    this.leapt = true;
    return gaugeMm + this.#bySpeedMm;
  }

  #hold(
    counterMm: number,
    at: { readonly gaugeMm: number; readonly bridged: number; readonly sinceS: number; readonly mostMm: number },
    passed: Passed,
  ): number {
    const { timeMs } = passed;
    const held = this.#candidate;
    const since = held === null ? Number.NaN : counterMm - held.lastMm;
    const allowed = held === null ? 0 : this.#allowedFrom(held, counterMm, passed);
    if (held === null || !(since >= -SWING_MM && counterMm - held.counterMm <= allowed)) {
      if (held !== null) this.jumps++;
      this.#candidate = {
        counterMm,
        timeMs,
        seconds: at.sinceS,
        afterGap: passed.gap,
        continued: 0,
        expectedMm: 0,
        lastMm: counterMm,
        lastMs: timeMs,
      };
      return at.bridged;
    }
    held.continued++;
    held.lastMm = counterMm;
    held.lastMs = timeMs;
    if (held.continued < CONFIRMED_BY) return at.bridged;
    const jump = held.counterMm - this.#counterMm;
    const possible = jump > 0 && jump <= SPEED_MAX_MM_PER_S * held.seconds + TURN_MM_MAX;
    const isFirst = Number.isNaN(this.#stepMm) && Number.isNaN(passed.bySpeedMm);
    // A roller that is counted by whole turns has shown the same value for some time, and shows the next one as long.
    const stays = held.lastMm === held.counterMm;
    const isTurn = isFirst && stays && this.#repeated && jump <= TURN_MM_MAX;
    if (possible && (held.afterGap || isTurn || isAlike(jump / held.seconds, rateSince(held)))) {
      const gauge = Math.max(at.gaugeMm, this.#gaugeAtCounterMm + counterMm - this.#counterMm);
      this.leapt = gauge > at.bridged && !isFirst;
      if (isTurn) this.#stepMm = jump;
      this.countedMm = gauge - at.gaugeMm;
      this.#restartRate(rateSince(held));
      this.anchor(counterMm, timeMs, gauge);
      return gauge;
    }
    const origin = this.#origin;
    if (origin !== null && jump < 0 && held.counterMm >= origin.counterMm) {
      // The first step was the wrong one. The length stays as it is until the counter has caught up.
      this.jumps++;
      this.#stepMm = Number.NaN;
      this.#restartRate(rateSince(held));
      const gauge = origin.gaugeMm + counterMm - origin.counterMm;
      this.anchor(counterMm, timeMs, gauge);
      return Math.max(at.gaugeMm, gauge);
    }
    // The first whole turn of a roller is not known to be one.
    const isFirstTurn = Number.isNaN(this.#stepMm) && jump > 0 && jump <= TURN_MM_MAX;
    if (!isFirstTurn) this.jumps++;
    if (this.#rateWeight === 0) this.#restartRate(rateSince(held));
    // At the start, the length has followed nothing until now.
    const gauge = isFirst ? at.gaugeMm + rateSince(held) * at.sinceS : at.bridged;
    this.anchor(counterMm, timeMs, gauge);
    this.#repeated = stays;
    return gauge;
  }

  /** How far the counter may have moved on from a held value. */
  #allowedFrom(held: Candidate, counterMm: number, passed: Passed): number {
    const seconds = (passed.timeMs - held.timeMs) / 1000;
    if (passed.gap) return SPEED_MAX_MM_PER_S * seconds + TURN_MM_MAX;
    if (this.#isNew(passed)) return USUAL_SPEED_MAX_MM_PER_S * seconds + SLACK_MM;
    const step = Number.isNaN(this.#stepMm) ? 0 : this.#stepMm;
    const usual = held.expectedMm * (1 + SLACK_SHARE) + step + SLACK_MM;
    // A strand that has become faster moves on at the rate of the jump.
    const jumpRate = (held.counterMm - this.#counterMm) / held.seconds;
    const alike = jumpRate <= SPEED_MAX_MM_PER_S && isAlike(jumpRate, (counterMm - held.counterMm) / seconds);
    return alike ? Math.max(usual, counterMm - held.counterMm) : usual;
  }

  #followRate(advanceMm: number, seconds: number): void {
    if (!(seconds > 0)) return;
    // As good as an exponential here, and cheaper for every reading.
    const share = seconds / (RATE_S + seconds);
    this.#rateSum += (advanceMm / seconds - this.#rateSum) * share;
    this.#rateWeight += (1 - this.#rateWeight) * share;
  }

  #restartRate(mmPerS: number): void {
    if (!(mmPerS >= 0)) return;
    this.#rateSum = mmPerS;
    this.#rateWeight = 1;
  }
}

function rateSince(held: Candidate): number {
  return (held.lastMm - held.counterMm) / ((held.lastMs - held.timeMs) / 1000);
}

function isAlike(a: number, b: number): boolean {
  return Math.abs(a - b) <= ALIKE * Math.max(a, b);
}
