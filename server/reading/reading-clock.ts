import { ClockFit } from './clock-fit.ts';
import { ClockTrust } from './clock-trust.ts';
import { Uptime } from './uptime.ts';

/** Least distance between two readings; the record stores tenths of a millisecond. */
const LEAST_STEP_MS = 0.1;
const PERIOD_MS = 20;
const STEPS_KEPT = 9;
/** A board whose cycles differ by less than this share keeps time, so a missing cycle shows. */
const REGULAR_SHARE = 0.25;
/**
 * A recorded log does not show how long a restarted device was silent. The silence is assumed to be the two seconds that a
 * board's boot loader waits (common practice, no source), or the uptime after the restart if that is longer. It is at
 * least several readings long, so that the strand across it counts as not measured.
 */
const BOOT_MS = 2000;
const BOOT_UPTIME_MAX_MS = 60_000;
const BOOT_PERIODS = 8;

/** So many lines in one chunk after a pause had waited in the kernel: the cable or this process had stopped, not the board. */
const WAITED_LINES = 8;
/** Lines that waited all the time took about as long as they are apart; jitter must not decide. */
const WAITED_SHARE = 0.8;
/** Shorter pauses are usual on a busy machine, and a board may print several lines at once. */
const WAITED_MS = 500;
/** Lines that had waited are stretched up to this to reach the time of their arrival; a longer rest is a pause. */
const STRETCH_MAX = 1.25;
/** The mean pace of the lines excludes pauses longer than this, and is averaged over about as many lines. */
const PACE_PERIODS_MAX = 3;
const PACE_LINES = 100;
/** If lines came for longer than this while the device's clock stood still, its time starts again when it moves. */
const STOOD_MS = 2000;
/** A longer silence between two such lines does not count, because the second one may have waited. */
const STOOD_EACH_MS = 1000;
/** No line arrives before it was sent. The fit may be ahead by this while it follows smoothly. */
const AHEAD_MAX_MS = 100;
/** No device restarts within this. */
const STARTED_MS = 100;

export interface ClockOptions {
  /** UTC ms of the first reading if only the device can date it. */
  readonly recordedStartMs: number;
  /** Readings are dated after this, UTC ms. */
  readonly notBeforeMs?: number | undefined;
  /** Readings per second of a recorded line that sends no clock; 50 by default. */
  readonly recordedRateHz?: number | undefined;
}

/** What one line shows about when it was sent. */
export interface LineTiming {
  /** Device clock, ms; NaN = none. */
  readonly uptimeMs: number;
  /** ms per count of that clock. */
  readonly countMs: number;
  /** true = the line numbers continued, false = they restarted, null = there are none. */
  readonly numberContinued: boolean | null;
  /** Lines lost directly before. */
  readonly lost: number;
  /** UTC ms on a clock that never steps; null = recorded. */
  readonly arrivalMs: number | null;
  /** Lines after this one in the same chunk. */
  readonly linesAfter: number;
}

/**
 * Dates the readings: by the device's clock fitted to the arrivals, by the device's clock alone (recorded), by the
 * arrivals alone (no device clock, or one that does not keep time), or by the nominal rate (recorded without a clock). Lines
 * that repeat the device's time are dated as if they had none. Times always increase.
 */
export class ReadingClock {
  /** UTC ms of the last line. */
  timeMs = Number.NaN;
  /** The device restarted directly before that line. */
  restarted = false;
  /** Cycles missing directly before that line, as the clock of a board that keeps time shows. */
  missing = 0;
  /** Lines without a clock that had waited and arrived at once: they are spread evenly, so their times are not certain. */
  spreadLines = 0;

  readonly #recordedStartMs: number;
  readonly #notBeforeMs: number;
  readonly #uptime = new Uptime();
  readonly #fit = new ClockFit();
  #fitStarted = false;
  readonly #trust = new ClockTrust();
  #lastArrivalMs = Number.NaN;
  /** Lines since the device's clock moved, and for how long they came, ms. */
  #repeats = 0;
  #stoodMs = 0;
  /** Added to the fitted time if this machine's clock is behind an earlier part of the run. */
  #shiftMs = 0;
  /** Recorded: UTC ms − continuous uptime. */
  #baseMs = Number.NaN;
  #periodMs: number;
  /** Sorted by size. */
  readonly #steps = new Float64Array(STEPS_KEPT);
  #stepCount = 0;
  #isRegular = false;
  /** Mean time between two lines without a clock; NaN = not known yet. */
  #paceMs = Number.NaN;
  /** The line is the first of its chunk. */
  #startsChunk = false;
  /** Lines still to come of the current chunk. */
  #linesLeft = 0;
  /** How long before its arrival the last line is dated, although no more lines had waited, ms. */
  #caughtUpMs = 0;
  /** The lines of this chunk had waited. */
  #hadWaited = false;

  constructor(options: ClockOptions) {
    this.#recordedStartMs = options.recordedStartMs;
    this.#notBeforeMs = options.notBeforeMs ?? Number.NEGATIVE_INFINITY;
    this.#periodMs = options.recordedRateHz === undefined ? PERIOD_MS : 1000 / options.recordedRateHz;
  }

  opened(): void {
    this.#uptime.opened();
  }

  /** The clock by which arrivals are dated was set: the next ones are later by this than the last ones would be now. */
  clockMoved(byMs: number): void {
    this.timeMs += byMs - this.#shiftMs;
    this.#shiftMs = 0;
    this.#lastArrivalMs += byMs;
    this.#uptime.clockMoved(byMs);
    this.#fit.clockMoved(byMs);
    this.#trust.clockMoved(byMs);
  }

  assignTime(line: LineTiming): void {
    const before = this.timeMs;
    this.restarted = false;
    this.missing = 0;
    if (line.arrivalMs !== null) this.#followChunk(line, line.arrivalMs);
    const time = Number.isNaN(line.uptimeMs) ? this.#withoutUptime(line) : this.#withUptime(line);
    this.timeMs = this.#inOrder(time, before, line);
    this.#lastArrivalMs = line.arrivalMs ?? Number.NaN;
  }

  #withUptime(line: LineTiming): number {
    const { arrivalMs } = line;
    const expected = arrivalMs === null || !this.#fitStarted ? Number.NaN : this.#fit.deviceMsAt(arrivalMs);
    const uptime = this.#uptime;
    const first = !uptime.started;
    const continuousBefore = uptime.continuousMs;
    this.restarted = !uptime.advance(line.uptimeMs, line.countMs, line.numberContinued, expected, arrivalMs);
    const now = uptime.continuousMs;
    const stepMs = first || this.restarted ? Number.NaN : now - continuousBefore;
    if (arrivalMs !== null) this.#trust.step(first ? 0 : stepMs, arrivalMs);
    if (!this.#trust.keepsTime) {
      this.#fitStarted = false;
      this.#repeats = 0;
      this.#stoodMs = 0;
      return this.#withoutUptime(line);
    }
    if (stepMs === 0) return this.#again(line);
    const pitchMs = stepMs / (this.#repeats + 1);
    const hadStood = this.#stoodMs - stepMs > STOOD_MS;
    this.#repeats = 0;
    this.#stoodMs = 0;
    if (stepMs > 0 && !hadStood) {
      if (this.#isRegular) this.missing = Math.max(0, Math.round(pitchMs / this.#periodMs) - 1);
      if (line.lost === 0) this.#learnPeriod(pitchMs);
    }
    if (arrivalMs === null) {
      if (this.restarted) this.#baseMs = this.#afterRestart(now) - now;
      else if (first || Number.isNaN(this.#baseMs)) this.#baseMs = this.#nextRecorded(0) - now;
      return this.#baseMs + now;
    }
    if (this.restarted && arrivalMs - this.#lastArrivalMs < Math.max(now, STARTED_MS))
      return this.#restartedBefore(now, arrivalMs);
    if (first || this.restarted || hadStood || !this.#fitStarted) {
      this.#fitStarted = true;
      return this.#fit.start(now, arrivalMs);
    }
    return Math.min(this.#fit.add(now, arrivalMs), arrivalMs + AHEAD_MAX_MS);
  }

  /** The device has run for longer than the last two arrivals are apart, so both lines had waited. */
  #restartedBefore(uptimeMs: number, arrivalMs: number): number {
    return this.#fit.start(uptimeMs, Math.min(arrivalMs, this.#afterRestart(uptimeMs) - this.#shiftMs));
  }

  /** A clock that counts in seconds shows the same time for many lines; one that has stopped does so for good. */
  #again(line: LineTiming): number {
    this.#repeats++;
    const { arrivalMs } = line;
    if (arrivalMs === null) return this.#nextRecorded(line.lost);
    this.#stoodMs += Math.min(arrivalMs - this.#lastArrivalMs, STOOD_EACH_MS);
    return this.#byArrival(line, arrivalMs);
  }

  #withoutUptime(line: LineTiming): number {
    this.restarted = line.numberContinued === false;
    const { arrivalMs } = line;
    if (arrivalMs === null) return this.restarted ? this.#afterRestart(0) : this.#nextRecorded(line.lost);
    if (!this.#hadWaited && line.lost === 0) {
      const lines = line.linesAfter + 1;
      const since = this.#sinceLast(arrivalMs);
      if (this.#startsChunk) this.#learnPace(since, lines);
      if (lines === 1) this.#learnPeriod(since);
    }
    return this.#byArrival(line, arrivalMs);
  }

  #sinceLast(arrivalMs: number): number {
    return arrivalMs + this.#shiftMs - this.timeMs;
  }

  get #usualPaceMs(): number {
    return Number.isNaN(this.#paceMs) ? this.#periodMs : this.#paceMs;
  }

  #followChunk(line: LineTiming, arrivalMs: number): void {
    const lines = line.linesAfter + 1;
    this.#startsChunk = lines > this.#linesLeft;
    this.#linesLeft = line.linesAfter;
    if (!this.#startsChunk) return;
    const pauseMs = arrivalMs - this.#lastArrivalMs;
    // Had more been waiting, it would have come at once. So the line before was sent when it arrived.
    this.#caughtUpMs = pauseMs > WAITED_MS ? Math.max(0, this.#sinceLast(this.#lastArrivalMs)) : 0;
    const waitedMs = Math.max(WAITED_MS, WAITED_SHARE * lines * this.#usualPaceMs);
    const hadWaitedBefore = this.#hadWaited;
    this.#hadWaited = lines >= WAITED_LINES && this.#sinceLast(arrivalMs) > waitedMs;
    // Lines that always come in such bunches fill the time between them.
    if (this.#hadWaited && hadWaitedBefore && this.#caughtUpMs > 0) this.#paceMs = pauseMs / lines;
  }

  #byArrival(line: LineTiming, arrivalMs: number): number {
    const lines = line.linesAfter + 1;
    const since = this.#sinceLast(arrivalMs);
    if (Number.isNaN(since)) return arrivalMs;
    if (this.#hadWaited) {
      // They continue from the line before: what arrives next may have waited, too.
      this.spreadLines++;
      const caughtUpMs = this.#startsChunk ? this.#caughtUpMs : 0;
      const left = since - caughtUpMs;
      const evenly = left / lines;
      const paceMs = this.#usualPaceMs;
      const pitch = evenly <= STRETCH_MAX * paceMs ? evenly : paceMs * (line.lost + 1);
      return this.timeMs - this.#shiftMs + caughtUpMs + Math.min(pitch, left);
    }
    // Lines of one chunk were sent one after the other, so they are spread over the time since the last one, but no
    // further apart than usual, because there may have been silence before them.
    const pitch = Math.max(0, Math.min(since / lines, this.#periodMs));
    return arrivalMs - line.linesAfter * pitch;
  }

  #learnPace(sinceMs: number, lines: number): void {
    const stepMs = sinceMs / lines;
    if (stepMs <= PACE_PERIODS_MAX * this.#paceMs) {
      this.#paceMs += (stepMs - this.#paceMs) * Math.min(1, lines / PACE_LINES);
    }
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

  /** The period is the median of the last steps, so that neither a gap nor a bunch of lines distorts it. */
  #learnPeriod(stepMs: number): void {
    if (!(stepMs > 0)) return;
    const steps = this.#steps;
    let at = this.#stepCount;
    for (; at > 0 && steps[at - 1]! > stepMs; at--) steps[at] = steps[at - 1]!;
    steps[at] = stepMs;
    this.#stepCount++;
    if (this.#stepCount < STEPS_KEPT) return;
    this.#periodMs = steps[STEPS_KEPT >> 1]!;
    // The board's pace is not known yet, or the board has become slower.
    if (!(this.#periodMs <= PACE_PERIODS_MAX * this.#paceMs)) this.#paceMs = this.#periodMs;
    // Without the shortest and the longest, which may be a late or a lost line.
    this.#isRegular = steps[STEPS_KEPT - 2]! - steps[1]! < REGULAR_SHARE * this.#periodMs;
    this.#stepCount = 0;
  }
}
