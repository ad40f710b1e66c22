import { clockModulus, numberModulus } from './counter-wrap.ts';
import { COUNTER_MODULUS } from './names.ts';

/** A step of the device clock up to this is normal, however fast the lines come. */
const STEP_MS = 1000;
/** So is this number of usual steps, where lines come slowly. */
const STEP_PERIODS = 10;
const NUMBERS_AHEAD = 50;
const LEARNING_STEPS = 5;
const PERIOD_WEIGHT = 0.02;
/** More lines than this are never lost at once: the number was garbled, or the counter restarted. Hours at 50 lines/s. */
const LOST_MAX = 1_000_000;

/** Clock and number of one line; NaN = the line has none. */
export interface LinePosition {
  readonly uptimeMs: number;
  /** ms per count of the clock. */
  readonly countMs: number;
  readonly number: number;
}

/**
 * Whether a line's clock and number continue from the line before. A digit changed on the cable is a jump there and back;
 * a restart or an outage is a jump that stays. So a jump is accepted when the next line continues from it.
 */
export class LineSequence {
  #uptimeMs = Number.NaN;
  #countMs = 1;
  #number = Number.NaN;
  #checksNumbers = true;
  #periodMs = 0;
  #steps = 0;

  /** After a new connection, lines may continue from anywhere. */
  opened(): void {
    this.#uptimeMs = Number.NaN;
    this.#number = Number.NaN;
    this.#checksNumbers = true;
  }

  continues(uptimeMs: number, number: number): boolean {
    return this.#follows(this.#uptimeMs, this.#countMs, this.#number, uptimeMs, number);
  }

  continuesFrom(before: LinePosition, uptimeMs: number, number: number): boolean {
    return this.#follows(before.uptimeMs, before.countMs, before.number, uptimeMs, number);
  }

  /** Continue from an accepted line. */
  accept(uptimeMs: number, countMs: number, number: number): void {
    const step = clockStep(this.#uptimeMs, uptimeMs, countMs);
    if (step > 0 && (this.#steps < LEARNING_STEPS || step <= this.#limitMs())) {
      this.#periodMs += (step - this.#periodMs) * Math.max(PERIOD_WEIGHT, 1 / (this.#steps + 1));
      this.#steps++;
    }
    if (!Number.isNaN(uptimeMs)) this.#uptimeMs = uptimeMs;
    this.#countMs = countMs;
    if (!Number.isNaN(number)) this.#number = number;
  }

  /** If every line jumps, this board counts that way: learn its pace again, and stop checking its numbers. */
  relearn(): void {
    this.#uptimeMs = Number.NaN;
    this.#number = Number.NaN;
    this.#checksNumbers = false;
    this.#steps = 0;
    this.#periodMs = 0;
  }

  #limitMs(): number {
    return Math.max(STEP_MS, STEP_PERIODS * this.#periodMs);
  }

  #follows(uptimeBefore: number, countMs: number, numberBefore: number, uptimeMs: number, number: number): boolean {
    const step = clockStep(uptimeBefore, uptimeMs, countMs);
    if (step < 0 || (step > this.#limitMs() && this.#steps >= LEARNING_STEPS)) return false;
    if (!this.#checksNumbers) return true;
    const ahead = numberStep(numberBefore, number);
    return !(ahead < 1 || ahead > NUMBERS_AHEAD);
  }
}

/** Counts lost lines by the jumps of `n`. */
export class LostLines {
  /** Lines lost directly before the last one. */
  lost = 0;
  /** true = the numbers continued, false = they restarted, null = the lines have none. */
  continued: boolean | null = null;
  #before = Number.NaN;
  /** Some boards number their cycles and print every second one only. */
  #stride = Number.POSITIVE_INFINITY;

  next(number: number): void {
    const before = this.#before;
    this.lost = 0;
    this.continued = null;
    if (Number.isNaN(number)) return;
    this.#before = number;
    const step = numberStep(before, number);
    if (Number.isNaN(step)) return;
    this.continued = step >= 0;
    if (!this.continued || step < 1 || step > LOST_MAX) return;
    this.#stride = Math.min(this.#stride, step);
    this.lost = Math.floor(step / this.#stride) - 1;
  }
}

/** NaN = either is missing; negative = it went back. */
function numberStep(before: number, now: number): number {
  const step = now - before;
  if (!(step < 0)) return step;
  const modulus = numberModulus(before, now);
  return step + modulus <= (modulus === COUNTER_MODULUS ? LOST_MAX : NUMBERS_AHEAD) ? step + modulus : step;
}

/** ms; NaN = either is missing; negative = it went back. */
function clockStep(beforeMs: number, nowMs: number, countMs: number): number {
  const step = nowMs - beforeMs;
  if (!(step < 0)) return step;
  const modulusMs = clockModulus(beforeMs / countMs, nowMs / countMs) * countMs;
  return step < -modulusMs / 2 ? step + modulusMs : step;
}
