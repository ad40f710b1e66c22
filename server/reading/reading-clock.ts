import { ClockFit } from './clock-fit.ts';
import { Uptime } from './uptime.ts';

/** Two readings of the same tick are set apart by this; the record keeps tenths of a millisecond. */
const LEAST_STEP_MS = 0.1;
const PERIOD_MS = 20;
const STEPS_KEPT = 9;
/**
 * A recorded log does not tell how long a device that restarted was silent. It counts for the two seconds that a board's
 * boot loader waits (common practice, no source), for the uptime with which it comes back if that is more, and always for
 * so many readings that nobody takes the strand across it for measured.
 */
const BOOT_MS = 2000;
const BOOT_UPTIME_MAX_MS = 60_000;
const BOOT_PERIODS = 8;

export interface ClockOptions {
  /** UTC ms of the first reading where only the device can date it. */
  readonly recordedStartMs: number;
  /** Readings are dated after this, UTC ms. */
  readonly notBeforeMs?: number | undefined;
  /** Readings a second of a recorded line that sends no clock; else 50. */
  readonly recordedRateHz?: number | undefined;
}

/** What one line says about when it was sent. */
export interface LineTiming {
  /** Device clock, ms; NaN = none. */
  readonly uptimeMs: number;
  /** Where that clock wraps, ms. */
  readonly modulusMs: number;
  /** Whether the line numbers went on (true) or began anew (false); null = there are none. */
  readonly numberWentOn: boolean | null;
  /** Lines lost directly before. */
  readonly lost: number;
  /** UTC ms on a clock that never steps; null = recorded. */
  readonly arrivalMs: number | null;
  /** Lines behind this one in the same chunk. */
  readonly linesBehind: number;
}

/**
 * Dates the readings: by the device's clock fitted to the arrivals, by the device's clock alone (recorded), by the
 * arrivals alone (no device clock), or by the nominal rate (recorded and no clock). Times only ever rise.
 */
export class ReadingClock {
  /** UTC ms of the line dated last. */
  timeMs = Number.NaN;
  /** The device restarted directly before it. */
  restarted = false;

  readonly #recordedStartMs: number;
  readonly #notBeforeMs: number;
  readonly #uptime = new Uptime();
  readonly #fit = new ClockFit();
  #fitStarted = false;
  /** Added to what the fit says, where the clock of this machine is behind an earlier part of the run. */
  #shiftMs = 0;
  /** Recorded: UTC ms − continuous uptime. */
  #baseMs = Number.NaN;
  #periodMs: number;
  /** In order of size. */
  readonly #steps = new Float64Array(STEPS_KEPT);
  #stepCount = 0;

  constructor(options: ClockOptions) {
    this.#recordedStartMs = options.recordedStartMs;
    this.#notBeforeMs = options.notBeforeMs ?? Number.NEGATIVE_INFINITY;
    this.#periodMs = options.recordedRateHz === undefined ? PERIOD_MS : 1000 / options.recordedRateHz;
  }

  opened(): void {
    this.#uptime.opened();
  }

  date(line: LineTiming): void {
    const before = this.timeMs;
    this.restarted = false;
    const time = Number.isNaN(line.uptimeMs) ? this.#withoutUptime(line) : this.#withUptime(line);
    this.timeMs = this.#inOrder(time, before, line);
  }

  #withUptime(line: LineTiming): number {
    const { arrivalMs } = line;
    const expected = arrivalMs === null || !this.#fitStarted ? Number.NaN : this.#fit.deviceMsAt(arrivalMs);
    const uptime = this.#uptime;
    const first = !uptime.started;
    const continuousBefore = uptime.continuousMs;
    this.restarted = !uptime.advance(line.uptimeMs, line.modulusMs, line.numberWentOn, expected, arrivalMs);
    const now = uptime.continuousMs;
    if (!first && !this.restarted && line.lost === 0) this.#learnPeriod(now - continuousBefore);
    if (arrivalMs === null) {
      if (this.restarted) this.#baseMs = this.#afterRestart(now) - now;
      else if (first || Number.isNaN(this.#baseMs)) this.#baseMs = this.#nextRecorded(0) - now;
      return this.#baseMs + now;
    }
    if (first || this.restarted || !this.#fitStarted) {
      this.#fitStarted = true;
      return this.#fit.start(now, arrivalMs);
    }
    return this.#fit.add(now, arrivalMs);
  }

  #withoutUptime(line: LineTiming): number {
    this.restarted = line.numberWentOn === false;
    const { arrivalMs } = line;
    if (arrivalMs === null) return this.restarted ? this.#afterRestart(0) : this.#nextRecorded(line.lost);
    // Several lines in one chunk were sent one after the other: spread them over the time since the last one, but no
    // wider than they come otherwise, for before them there may have been silence.
    const lines = line.linesBehind + 1;
    const since = arrivalMs + this.#shiftMs - this.timeMs;
    if (Number.isNaN(since)) return arrivalMs;
    const pitch = Math.max(0, Math.min(since / lines, this.#periodMs));
    if (lines === 1 && line.lost === 0) this.#learnPeriod(since);
    return arrivalMs - line.linesBehind * pitch;
  }

  #nextRecorded(lost: number): number {
    return Number.isNaN(this.timeMs) ? this.#recordedStartMs : this.timeMs + (lost + 1) * this.#periodMs;
  }

  #afterRestart(uptimeMs: number): number {
    const since = uptimeMs <= BOOT_UPTIME_MAX_MS ? uptimeMs : 0;
    return this.timeMs + Math.max(BOOT_MS, since, BOOT_PERIODS * this.#periodMs);
  }

  #inOrder(time: number, before: number, line: LineTiming): number {
    if (Number.isNaN(before)) {
      if (time > this.#notBeforeMs) return time;
      const shift = this.#notBeforeMs + this.#periodMs - time;
      if (line.arrivalMs === null) this.#baseMs += shift;
      else this.#shiftMs = shift;
      return time + shift;
    }
    const shifted = line.arrivalMs === null ? time : time + this.#shiftMs;
    return shifted > before ? shifted : before + LEAST_STEP_MS;
  }

  /** The period is the median of the last steps, so that neither a gap nor a bunch bends it. */
  #learnPeriod(stepMs: number): void {
    if (!(stepMs > 0)) return;
    const steps = this.#steps;
    let at = this.#stepCount;
    for (; at > 0 && steps[at - 1]! > stepMs; at--) steps[at] = steps[at - 1]!;
    steps[at] = stepMs;
    this.#stepCount++;
    if (this.#stepCount < STEPS_KEPT) return;
    this.#periodMs = steps[STEPS_KEPT >> 1]!;
    this.#stepCount = 0;
  }
}
