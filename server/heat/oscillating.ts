import type { SlowRule, ZoneSituation } from './heat-rule.ts';

/** Swings beyond the band on one side, then on the other, so many in a row. */
const SWINGS = 6;
/** A plain on/off controller swings a little beyond the band by its nature. */
const BEYOND = 2.4;
/** A swing that takes longer than this is no oscillation but a life of its own, s. */
const LONGEST_SWING_S = 600;
/** A set-point that was changed may be followed by overshoot and undershoot, s. */
const SETTLES_S = 300;

/** Swings around a steady set-point again and again, out of the band on both sides. */
export class Oscillating implements SlowRule {
  #side = 0;
  #swings = 0;
  #sinceS = 0;

  judge(zone: ZoneSituation): boolean {
    const offK = zone.trace.meanTemperature(0, 2) - zone.setpointC;
    if (!(zone.setpointC > 0) || zone.setpointSteadyS < SETTLES_S || Number.isNaN(offK)) {
      this.rearm();
      return false;
    }
    this.#sinceS++;
    if (this.#sinceS > LONGEST_SWING_S) this.#swings = 0;
    const farK = BEYOND * zone.withinC;
    const side = offK > farK ? 1 : offK < -farK ? -1 : 0;
    if (side !== 0 && side !== this.#side) {
      this.#swings = this.#side === 0 || this.#sinceS > LONGEST_SWING_S ? 1 : this.#swings + 1;
      this.#side = side;
      this.#sinceS = 0;
    }
    return this.#swings >= SWINGS;
  }

  rearm(): void {
    this.#side = 0;
    this.#swings = 0;
    this.#sinceS = 0;
  }
}
