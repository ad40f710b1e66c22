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
  /** Cumulative sums: element i sums the oldest i seconds. */
  readonly #sums = new Float64Array(TRACE_S + 1);
  /** The same for a unit of heat that was stored when the trace began; calculated when first asked for. */
  readonly #storedSums = new Float64Array(TRACE_S + 1);
  #storedIsCurrent = false;
  #share = 1;
  #secondShare = 1;
  #seconds = 0;
  #firstPower = 0;

  /** Recalculates everything from a trace. The lags are first-order, in s; 0 = none. */
  follow(trace: TraceView, lagS: number, secondLagS: number): void {
    const powers = trace.powers;
    const share = sharePerSecond(lagS);
    const secondShare = sharePerSecond(secondLagS);
    const firstPower = powers[0] ?? Number.NaN;
    let heat = firstPower;
    let lagged = heat;
    let sum = 0;
    for (let i = 0; i < powers.length; i++) {
      heat += (powers[i]! - heat) * share;
      lagged += (heat - lagged) * secondShare;
      sum += lagged;
      this.#sums[i + 1] = sum;
    }
    this.#storedIsCurrent = false;
    this.#share = share;
    this.#secondShare = secondShare;
    this.#seconds = powers.length;
    this.#firstPower = firstPower;
  }

  #followStored(): void {
    let heat = 1;
    let stored = 1;
    let sum = 0;
    for (let i = 0; i < this.#seconds; i++) {
      heat -= heat * this.#share;
      stored += (heat - stored) * this.#secondShare;
      sum += stored;
      this.#storedSums[i + 1] = sum;
    }
    this.#storedIsCurrent = true;
  }

  /** Mean lagged power over the `span` whole seconds that ended `age` s ago, 0…1; NaN if that reaches beyond the trace. */
  mean(age: number, span: number): number {
    return this.#meanOf(this.#sums, age, span);
  }

  #meanOf(sums: Float64Array, age: number, span: number): number {
    const to = this.#seconds - age;
    return to < span ? Number.NaN : (sums[to]! - sums[to - span]!) / span;
  }

  /** The same, with the heat stored at the start of the trace kept separate. */
  splitMean(age: number, span: number): LaggedMean {
    const power = this.mean(age, span);
    if (this.#seconds === TRACE_S) return { fromTrace: power, storedShare: 0 };
    if (!this.#storedIsCurrent) this.#followStored();
    const storedShare = this.#meanOf(this.#storedSums, age, span);
    return { fromTrace: power - storedShare * this.#firstPower, storedShare };
  }
}

export function sharePerSecond(lagS: number): number {
  return lagS > 0 ? 1 - Math.exp(-1 / lagS) : 1;
}
