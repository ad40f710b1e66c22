import { clockModulus } from './counter-wrap.ts';
import { COUNTER_MODULUS } from './names.ts';

/** A larger step back means that the device restarted, unless its clock wrapped. */
const STEP_BACK_MS = 1000;
/** If the device clock is ahead of the arrivals by more than this, the device restarted. */
const AHEAD_MS = 2000;
/** If it is behind by more than this after a new connection or a long silence, the device restarted. */
const BEHIND_MS = 10_000;
/** Additional margin as a share of the silence, for an oscillator whose drift is not known yet. */
const UNKNOWN_DRIFT_SHARE = 0.01;
/** Longest gap at a wrap in a recorded log; a longer one is a restart, as nothing else distinguishes the two there. */
const GAP_AT_WRAP_MS = 60_000;
/** After a longer one the clock was set, for example from the network, so how long it was is not known. */
const GAP_IN_LOG_MS = 365 * 86_400_000;
/** A counter of few bits wraps so often that a restart may look like it. So nothing else may be missing at its wrap. */
const SMALL_WRAP_MS = 1000;
/** A step like that to the next line is no coincidence, even if that line came late. */
const NEXT_LINE_MS = 100;

/**
 * The device's uptime as a count in milliseconds that never wraps and starts again only when the device restarts.
 */
export class Uptime {
  /** Continuous uptime of the last line, ms. */
  continuousMs = 0;
  #rawMs = Number.NaN;
  #arrivalMs: number | null = null;
  #newConnection = false;

  opened(): void {
    this.#newConnection = true;
  }

  /** The clock by which arrivals are dated was set. */
  clockMoved(byMs: number): void {
    if (this.#arrivalMs !== null) this.#arrivalMs += byMs;
  }

  get started(): boolean {
    return !Number.isNaN(this.#rawMs);
  }

  /**
   * Advance to the next line.
   * @param rawMs clock as sent, in ms
   * @param countMs ms per count of it
   * @param numberContinued true = the line numbers continued, false = they restarted, null = there are none
   * @param expectedMs continuous uptime according to the arrival time (an upper bound, because lines come late but never
   * early); NaN = recorded
   * @returns false = the device restarted before this line
   */
  advance(
    rawMs: number,
    countMs: number,
    numberContinued: boolean | null,
    expectedMs: number,
    arrivalMs: number | null,
  ): boolean {
    const before = this.#rawMs;
    const silenceMs = arrivalMs === null || this.#arrivalMs === null ? 0 : arrivalMs - this.#arrivalMs;
    const uncertain = this.#newConnection || silenceMs > (COUNTER_MODULUS * countMs) / 2;
    this.#rawMs = rawMs;
    this.#arrivalMs = arrivalMs;
    this.#newConnection = false;
    if (Number.isNaN(before)) {
      this.continuousMs = rawMs;
      return true;
    }
    const step = this.#step(
      before,
      rawMs,
      countMs,
      numberContinued,
      expectedMs,
      uncertain,
      silenceMs * UNKNOWN_DRIFT_SHARE,
    );
    if (Number.isNaN(step)) {
      this.continuousMs = rawMs;
      return false;
    }
    this.continuousMs += step;
    return true;
  }

  /** ms since the line before; NaN = restarted. */
  #step(
    before: number,
    now: number,
    countMs: number,
    numberContinued: boolean | null,
    expectedMs: number,
    uncertain: boolean,
    marginMs: number,
  ): number {
    const direct = now - before;
    const wraps = direct < -STEP_BACK_MS;
    const modulus = wraps ? clockModulus(before / countMs, now / countMs) : COUNTER_MODULUS;
    const modulusMs = modulus * countMs;
    const isSmall = modulus < COUNTER_MODULUS;
    let step = wraps ? direct + modulusMs : direct;
    // If the numbers restart while the clock continues smoothly, only the counter was reset.
    if (numberContinued === false && (direct < 0 || direct > STEP_BACK_MS || uncertain)) return Number.NaN;
    if (Number.isNaN(expectedMs)) {
      if (!wraps) return direct <= GAP_IN_LOG_MS ? direct : Number.NaN;
      if (modulus === Number.POSITIVE_INFINITY) return Number.NaN;
      if (isSmall) return step <= (numberContinued === true ? GAP_AT_WRAP_MS : SMALL_WRAP_MS) ? step : Number.NaN;
      return step <= (numberContinued === true ? modulusMs / 2 : GAP_AT_WRAP_MS) ? step : Number.NaN;
    }
    // A long silence may hide more than one wrap (µs: 71.6 min): take the count that is nearest to the arrival.
    const due = expectedMs - this.continuousMs;
    const latest = due + AHEAD_MS + marginMs;
    if (!isSmall && Number.isFinite(modulusMs) && latest - step >= modulusMs)
      step += Math.floor((latest - step) / modulusMs) * modulusMs;
    if (!(step <= latest)) return Number.NaN;
    const isNext = step <= NEXT_LINE_MS || numberContinued === true;
    if (wraps && isSmall && !isNext && due - step > SMALL_WRAP_MS) return Number.NaN;
    if (uncertain && due - step > BEHIND_MS + marginMs) return Number.NaN;
    return step;
  }
}
