import { TRACE_S, type ZoneTrace } from './zone-trace.ts';

/**
 * The power of the last seconds as it comes out of a heater that has mass: behind a lag of first order. Worked out anew
 * from the trace, so that it needs no state of its own; before the trace's beginning the power is taken as steady.
 */
export class FeltPower {
  /** Sum of the `i` youngest seconds. */
  readonly #sums = new Float64Array(TRACE_S + 1);
  readonly #felt = new Float64Array(TRACE_S);
  #seconds = 0;

  /** @param lagS 0 = none */
  follow(trace: ZoneTrace, lagS: number): void {
    this.#seconds = trace.seconds;
    const share = lagS > 0 ? 1 - Math.exp(-1 / lagS) : 1;
    let felt = trace.powerAt(trace.seconds - 1);
    for (let age = trace.seconds - 1; age >= 0; age--) {
      felt += (trace.powerAt(age) - felt) * share;
      this.#felt[age] = felt;
    }
    for (let age = 0; age < trace.seconds; age++) this.#sums[age + 1] = this.#sums[age]! + this.#felt[age]!;
  }

  /** Mean of `span` whole seconds that ended `age` s ago, 0…1; NaN beyond the trace. */
  mean(age: number, span: number): number {
    if (age + span > this.#seconds) return Number.NaN;
    return (this.#sums[age + span]! - this.#sums[age]!) / span;
  }
}
