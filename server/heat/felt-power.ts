import { TRACE_S, type ZoneTrace } from './zone-trace.ts';

/**
 * The power of the last seconds as the sensor feels it: behind the lag of the heater's own mass, and that of the sensor in its
 * hole. Worked out anew from the trace, so that it needs no state of its own; before the trace's beginning the power is taken
 * as steady.
 */
export class FeltPower {
  /** Sum of the `i` youngest seconds. */
  readonly #sums = new Float64Array(TRACE_S + 1);
  readonly #felt = new Float64Array(TRACE_S);
  #seconds = 0;

  /** Lags of first order, s; 0 = none. */
  follow(trace: ZoneTrace, lagS: number, secondLagS: number): void {
    this.#seconds = trace.seconds;
    const share = shareASecond(lagS);
    const secondShare = shareASecond(secondLagS);
    let heat = trace.powerAt(trace.seconds - 1);
    let felt = heat;
    for (let age = trace.seconds - 1; age >= 0; age--) {
      heat += (trace.powerAt(age) - heat) * share;
      felt += (heat - felt) * secondShare;
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

function shareASecond(lagS: number): number {
  return lagS > 0 ? 1 - Math.exp(-1 / lagS) : 1;
}
