import { stepOf } from './line-sequence.ts';
import { COUNTER_MODULUS } from './names.ts';

/** A wrap of the counter with more lines lost than this is a restart. */
const LOST_AT_WRAP_MAX = 1_000_000;

/** Counts the lines that were lost, from the jumps of `n`. */
export class LineNumbers {
  /** Lines lost directly before the last one. */
  lost = 0;
  /** Whether the numbers went on (true) or began anew (false); null = there are none to tell. */
  wentOn: boolean | null = null;
  #before = Number.NaN;

  next(number: number): void {
    const before = this.#before;
    this.lost = 0;
    this.wentOn = null;
    if (Number.isNaN(number)) return;
    this.#before = number;
    const step = stepOf(before, number, COUNTER_MODULUS);
    if (Number.isNaN(step)) return;
    this.wentOn = step >= 0 && (number >= before || step <= LOST_AT_WRAP_MAX);
    if (this.wentOn && step > 1) this.lost = step - 1;
  }
}
