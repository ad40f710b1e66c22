import { COUNTER_MODULUS } from './names.ts';

/** A step of the device clock up to this is nothing special, however fast the lines come. */
const STEP_MS = 1000;
/** And up to so many usual steps, where they come slowly. */
const STEP_PERIODS = 10;
const NUMBERS_AHEAD = 50;
const LEARNING_STEPS = 5;
const PERIOD_WEIGHT = 0.02;

/** Clock and number of one line; NaN = the line has none. */
export interface LinePlace {
  readonly uptimeMs: number;
  readonly modulusMs: number;
  readonly number: number;
}

/**
 * Whether a line's clock and number go on from the line before. A digit changed on the cable shows as a jump there and
 * back, a restart or an outage as a jump that stays; so a jump is believed when the next line goes on from it.
 */
export class LineSequence {
  #uptimeMs = Number.NaN;
  #modulusMs = Number.POSITIVE_INFINITY;
  #number = Number.NaN;
  #numbersCount = true;
  #periodMs = 0;
  #steps = 0;

  /** A new connection may go on anywhere. */
  opened(): void {
    this.#uptimeMs = Number.NaN;
    this.#number = Number.NaN;
    this.#numbersCount = true;
  }

  goesOn(uptimeMs: number, number: number): boolean {
    return this.#follows(this.#uptimeMs, this.#modulusMs, this.#number, uptimeMs, number);
  }

  follows(before: LinePlace, uptimeMs: number, number: number): boolean {
    return this.#follows(before.uptimeMs, before.modulusMs, before.number, uptimeMs, number);
  }

  /** A line that was believed. */
  accept(uptimeMs: number, modulusMs: number, number: number): void {
    const step = stepOf(this.#uptimeMs, uptimeMs, modulusMs);
    if (step > 0 && (this.#steps < LEARNING_STEPS || step <= this.#limitMs())) {
      this.#periodMs += (step - this.#periodMs) * Math.max(PERIOD_WEIGHT, 1 / (this.#steps + 1));
      this.#steps++;
    }
    if (!Number.isNaN(uptimeMs)) this.#uptimeMs = uptimeMs;
    this.#modulusMs = modulusMs;
    if (!Number.isNaN(number)) this.#number = number;
  }

  /** Lines that all jump are how this board counts: learn its pace anew, and do not judge by its numbers. */
  giveUp(): void {
    this.#uptimeMs = Number.NaN;
    this.#number = Number.NaN;
    this.#numbersCount = false;
    this.#steps = 0;
    this.#periodMs = 0;
  }

  #limitMs(): number {
    return Math.max(STEP_MS, STEP_PERIODS * this.#periodMs);
  }

  #follows(uptimeBefore: number, modulusMs: number, numberBefore: number, uptimeMs: number, number: number): boolean {
    const step = stepOf(uptimeBefore, uptimeMs, modulusMs);
    if (step < 0 || (step > this.#limitMs() && this.#steps >= LEARNING_STEPS)) return false;
    if (!this.#numbersCount) return true;
    const ahead = stepOf(numberBefore, number, COUNTER_MODULUS);
    return !(ahead < 1 || ahead > NUMBERS_AHEAD);
  }
}

/** Step of a counter that wraps; NaN where either is missing. A step back of half its range or more is a wrap. */
export function stepOf(before: number, now: number, modulus: number): number {
  const step = now - before;
  return step < -modulus / 2 ? step + modulus : step;
}
