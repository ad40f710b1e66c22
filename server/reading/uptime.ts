/** A step back by more than this that is no wrap means that the device restarted. */
const STEP_BACK_MS = 1000;
/** How far the device clock may seem ahead of what the arrivals say before it must be another count. */
const AHEAD_MS = 2000;
/** After a new connection or a long silence the device must be about where it should be; else it restarted meanwhile. */
const ASTRAY_MS = 10_000;
/** And this share of a silence more, for an oscillator whose drift is not yet known. */
const DRIFT_UNKNOWN = 0.01;
/** In a recorded log nothing else tells a wrap from a restart: a gap at the wrap is taken for no longer than this. */
const GAP_AT_WRAP_MS = 60_000;

/**
 * The device's uptime as a count that never wraps: milliseconds that only run on, anew from each restart.
 */
export class Uptime {
  /** Continuous uptime in ms of the last line, on a scale of its own. */
  continuousMs = 0;
  #rawMs = Number.NaN;
  #arrivalMs: number | null = null;
  #newConnection = false;

  opened(): void {
    this.#newConnection = true;
  }

  get started(): boolean {
    return !Number.isNaN(this.#rawMs);
  }

  /**
   * Go on to the next line.
   * @param rawMs clock as sent, in ms
   * @param modulusMs where it wraps; Infinity = never
   * @param numberWentOn what the line numbers say: true = they went on, false = they began anew, null = nothing
   * @param expectedMs continuous uptime that the arrival time stands for (an upper bound, since lines come late but never
   * early); NaN = recorded
   * @returns false = the device restarted before this line
   */
  advance(
    rawMs: number,
    modulusMs: number,
    numberWentOn: boolean | null,
    expectedMs: number,
    arrivalMs: number | null,
  ): boolean {
    const before = this.#rawMs;
    const silenceMs = arrivalMs === null || this.#arrivalMs === null ? 0 : arrivalMs - this.#arrivalMs;
    const sought = this.#newConnection || silenceMs > modulusMs / 2;
    this.#rawMs = rawMs;
    this.#arrivalMs = arrivalMs;
    this.#newConnection = false;
    if (Number.isNaN(before)) {
      this.continuousMs = rawMs;
      return true;
    }
    const step = this.#step(before, rawMs, modulusMs, numberWentOn, expectedMs, sought, silenceMs * DRIFT_UNKNOWN);
    if (Number.isNaN(step)) {
      this.continuousMs = rawMs;
      return false;
    }
    this.continuousMs += step;
    return true;
  }

  /** ms to go on by; NaN = restarted. */
  #step(
    before: number,
    now: number,
    modulusMs: number,
    numberWentOn: boolean | null,
    expectedMs: number,
    sought: boolean,
    marginMs: number,
  ): number {
    const direct = now - before;
    // Numbers that begin anew while the clock runs on smoothly are only a counter that somebody reset.
    if (numberWentOn === false && (direct < 0 || direct > STEP_BACK_MS || sought)) return Number.NaN;
    if (Number.isNaN(expectedMs)) {
      if (direct >= -STEP_BACK_MS) return direct;
      const wrapped = direct + modulusMs;
      const limit = numberWentOn === true ? modulusMs / 2 : GAP_AT_WRAP_MS;
      return wrapped <= limit ? wrapped : Number.NaN;
    }
    // More than one wrap fits into a long silence (µs: 71.6 min): take the count that comes nearest to the arrival.
    const due = expectedMs - this.continuousMs;
    const room = due + AHEAD_MS + marginMs;
    let step = direct >= -STEP_BACK_MS ? direct : direct + modulusMs;
    if (Number.isFinite(modulusMs) && room - step >= modulusMs)
      step += Math.floor((room - step) / modulusMs) * modulusMs;
    if (!(step <= room)) return Number.NaN;
    if (sought && due - step > ASTRAY_MS + marginMs) return Number.NaN;
    return step;
  }
}
