import { TRACE_S, type TraceView } from './zone-trace.ts';

/** Mean lagged power over a window, split by origin; NaN = the window reaches beyond the trace. */
export interface LaggedMean {
  /** From power since the trace began, 0…1. */
  readonly fromTrace: number;
  /** Share that remains of the heat stored when the trace began, 0…1; 0 for a full trace. */
  readonly storedShare: number;
}

/**
 * The power of the last seconds as it reaches the sensor: delayed by the heater's mass and by the sensor in its hole.
 * Recalculated from the trace each time, so nothing has to be saved. Before the start of a full trace, the power is assumed to
 * have been steady. If the trace is shorter, after a gap or a restart, the heat stored at its start is unknown and kept separate.
 */
export class LaggedPower {
  /** Cumulative sums: element i sums the latest i seconds. */
  readonly #sums = new Float64Array(TRACE_S + 1);
  readonly #lagged = new Float64Array(TRACE_S);
  /** The same for a unit of heat that was stored when the trace began. */
  readonly #storedSums = new Float64Array(TRACE_S + 1);
  readonly #stored = new Float64Array(TRACE_S);
  #seconds = 0;
  #firstPower = 0;

  /** Recalculates everything from a trace. The lags are first-order, in s; 0 = none. */
  follow(trace: TraceView, lagS: number, secondLagS: number): void {
    this.#seconds = trace.seconds;
    const share = sharePerSecond(lagS);
    const secondShare = sharePerSecond(secondLagS);
    this.#firstPower = trace.powerAt(trace.seconds - 1);
    let heat = this.#firstPower;
    let lagged = heat;
    let storedHeat = 1;
    let stored = 1;
    for (let age = trace.seconds - 1; age >= 0; age--) {
      heat += (trace.powerAt(age) - heat) * share;
      lagged += (heat - lagged) * secondShare;
      this.#lagged[age] = lagged;
      storedHeat -= storedHeat * share;
      stored += (storedHeat - stored) * secondShare;
      this.#stored[age] = stored;
    }
    for (let age = 0; age < trace.seconds; age++) {
      this.#sums[age + 1] = this.#sums[age]! + this.#lagged[age]!;
      this.#storedSums[age + 1] = this.#storedSums[age]! + this.#stored[age]!;
    }
  }

  /** Mean lagged power over the `span` whole seconds that ended `age` s ago, 0…1; NaN if that reaches beyond the trace. */
  mean(age: number, span: number): number {
    if (age + span > this.#seconds) return Number.NaN;
    return (this.#sums[age + span]! - this.#sums[age]!) / span;
  }

  /** The same, with the heat stored at the start of the trace kept separate. */
  splitMean(age: number, span: number): LaggedMean {
    const power = this.mean(age, span);
    if (this.#seconds === TRACE_S) return { fromTrace: power, storedShare: 0 };
    const storedShare = Number.isNaN(power) ? power : (this.#storedSums[age + span]! - this.#storedSums[age]!) / span;
    return { fromTrace: power - storedShare * this.#firstPower, storedShare };
  }
}

function sharePerSecond(lagS: number): number {
  return lagS > 0 ? 1 - Math.exp(-1 / lagS) : 1;
}
