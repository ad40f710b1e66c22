/** Rates are compared over this time, ms. It is long against the time for which a USB adapter holds lines back. */
const SPAN_MS = 10_000;
/** Lines may wait after such a silence, so the comparison starts again, ms. */
const SILENCE_MS = 5000;
/** A clock that is off by more is no clock in milliseconds. An oscillator without a crystal is within 0.1. */
const OFF_MAX = 0.15;
/** One span may be distorted by lines that waited. */
const SPANS = 2;
/** No board restarts so often in one span, because starting takes longer. */
const RESTARTS_MAX = 5;

/** Whether the device's clock keeps time. If a sketch changes the timer, it may stand still or run many times too fast. */
export class ClockTrust {
  keepsTime = true;
  #deviceMs = 0;
  #startMs = Number.NaN;
  #lastMs = Number.NaN;
  #restarts = 0;
  /** Spans in a row that contradict `keepsTime`, in which the clock was too slow (negative) or too fast. */
  #contrary = 0;

  /** @param stepMs of the clock since the last line; NaN = it restarted */
  step(stepMs: number, arrivalMs: number): void {
    if (!(arrivalMs - this.#lastMs <= SILENCE_MS)) this.#start(arrivalMs);
    this.#lastMs = arrivalMs;
    if (Number.isNaN(stepMs)) this.#restarts++;
    else this.#deviceMs += stepMs;
    const spanMs = arrivalMs - this.#startMs;
    if (spanMs < SPAN_MS) return;
    this.#judge(this.#deviceMs / spanMs - 1);
    this.#start(arrivalMs);
  }

  /** The clock by which arrivals are dated was set. */
  clockMoved(byMs: number): void {
    this.#startMs += byMs;
    this.#lastMs += byMs;
  }

  #judge(off: number): void {
    const isWild = this.#restarts > RESTARTS_MAX;
    const isOff = isWild || (this.#restarts === 0 && Math.abs(off) > OFF_MAX);
    if (isOff !== this.keepsTime) {
      this.#contrary = 0;
      return;
    }
    const way = this.keepsTime && off < 0 ? -1 : 1;
    this.#contrary = way * this.#contrary > 0 ? this.#contrary + way : way;
    if (Math.abs(this.#contrary) < SPANS && !isWild) return;
    this.keepsTime = !this.keepsTime;
    this.#contrary = 0;
  }

  #start(arrivalMs: number): void {
    this.#startMs = arrivalMs;
    this.#deviceMs = 0;
    this.#restarts = 0;
  }
}
