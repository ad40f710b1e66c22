import type { SlowRule, ZoneSituation } from './heat-rule.ts';

/** Three excursions, there and back: a single one may be a garbled line. */
const JUMPS = 6;
const WITHIN_S = 60;
const QUIET_S = 30;

/** Repeated jumps faster than heated metal can change: a loose sensor, or noise on its wires. */
export class Jumping implements SlowRule {
  /** Times of the last jumps, s, as a ring. */
  readonly #times = new Float64Array(JUMPS).fill(Number.NEGATIVE_INFINITY);
  #next = 0;
  #seen = -1;
  #active = false;

  check(zone: ZoneSituation, timeMs: number): boolean {
    const nowS = timeMs / 1000;
    if (this.#seen < 0) this.#seen = zone.trace.jumps;
    const fresh = Math.min(zone.trace.jumps - this.#seen, JUMPS);
    this.#seen = zone.trace.jumps;
    for (let i = 0; i < fresh; i++) {
      this.#times[this.#next] = nowS;
      this.#next = (this.#next + 1) % JUMPS;
    }
    const newest = this.#times[(this.#next + JUMPS - 1) % JUMPS] ?? 0;
    const oldest = this.#times[this.#next] ?? 0;
    this.#active = this.#active ? nowS - newest < QUIET_S : nowS - oldest < WITHIN_S;
    return this.#active;
  }

  reset(): void {
    this.#times.fill(Number.NEGATIVE_INFINITY);
    this.#seen = -1;
    this.#active = false;
  }
}
