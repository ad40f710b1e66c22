import { TRACE_S, type ZoneTrace } from './zone-trace.ts';

/** Mean power that a window of the past felt; NaN = the window reaches beyond the trace. */
export interface FeltMean {
  /** What of it came since the trace began, 0…1. */
  readonly since: number;
  /** The share that is left of the heat held when the trace began; 0 for a full trace. */
  readonly left: number;
}

/**
 * The power of the last seconds as the sensor feels it: behind the lag of the heater's own mass, and that of the sensor in its
 * hole. Worked out anew from the trace, so that it needs no state of its own. Before the beginning of a full trace the power is
 * taken as steady. What the heater held at the beginning of a younger one, after a gap or a restart, is not known: that part
 * is told apart.
 */
export class FeltPower {
  /** Sum of the `i` youngest seconds. */
  readonly #sums = new Float64Array(TRACE_S + 1);
  readonly #felt = new Float64Array(TRACE_S);
  /** The same of a heat of 1 that was held when the trace began, and that nothing was added to. */
  readonly #leftSums = new Float64Array(TRACE_S + 1);
  readonly #left = new Float64Array(TRACE_S);
  #seconds = 0;
  #firstPower = 0;

  /** Lags of first order, s; 0 = none. */
  follow(trace: ZoneTrace, lagS: number, secondLagS: number): void {
    this.#seconds = trace.seconds;
    const share = shareASecond(lagS);
    const secondShare = shareASecond(secondLagS);
    this.#firstPower = trace.powerAt(trace.seconds - 1);
    let heat = this.#firstPower;
    let felt = heat;
    let heldHeat = 1;
    let left = 1;
    for (let age = trace.seconds - 1; age >= 0; age--) {
      heat += (trace.powerAt(age) - heat) * share;
      felt += (heat - felt) * secondShare;
      this.#felt[age] = felt;
      heldHeat -= heldHeat * share;
      left += (heldHeat - left) * secondShare;
      this.#left[age] = left;
    }
    for (let age = 0; age < trace.seconds; age++) {
      this.#sums[age + 1] = this.#sums[age]! + this.#felt[age]!;
      this.#leftSums[age + 1] = this.#leftSums[age]! + this.#left[age]!;
    }
  }

  /** Mean of `span` whole seconds that ended `age` s ago, 0…1; NaN beyond the trace. */
  mean(age: number, span: number): number {
    if (age + span > this.#seconds) return Number.NaN;
    return (this.#sums[age + span]! - this.#sums[age]!) / span;
  }

  /** The same, what is left of the trace's beginning told apart. */
  meanApart(age: number, span: number): FeltMean {
    const power = this.mean(age, span);
    if (this.#seconds === TRACE_S) return { since: power, left: 0 };
    const left = Number.isNaN(power) ? power : (this.#leftSums[age + span]! - this.#leftSums[age]!) / span;
    return { since: power - left * this.#firstPower, left };
  }
}

function shareASecond(lagS: number): number {
  return lagS > 0 ? 1 - Math.exp(-1 / lagS) : 1;
}
