import type { SlowRule, ZoneSituation } from './heat-rule.ts';

/** Consecutive swings beyond the band, on alternate sides. */
const SWINGS = 6;
/** In half band widths: a plain on/off controller always swings a little beyond the band. */
const BEYOND = 2.4;
/** A swing that takes longer is not an oscillation, s. */
const LONGEST_SWING_S = 600;
/** A change of set-point may cause overshoot and undershoot for this long, s. */
const SETTLES_S = 300;

/** The zone keeps swinging around a steady set-point, out of the band on both sides. */
export class Oscillating implements SlowRule {
  #side = 0;
  #swings = 0;
  #sinceS = 0;

  check(zone: ZoneSituation): boolean {
    const offK = zone.trace.meanTemperature(0, 2) - zone.setpointC;
    if (!(zone.setpointC > 0) || zone.setpointSteadyS < SETTLES_S * zone.slowness || Number.isNaN(offK)) {
      this.reset();
      return false;
    }
    this.#sinceS++;
    if (this.#sinceS > LONGEST_SWING_S) this.#swings = 0;
    const farK = BEYOND * zone.withinC;
    const side = offK > farK ? 1 : offK < -farK ? -1 : 0;
    if (side !== 0 && side !== this.#side) {
      this.#swings += 1;
      this.#side = side;
      this.#sinceS = 0;
    }
    return this.#swings >= SWINGS;
  }

  reset(): void {
    this.#side = 0;
    this.#swings = 0;
    this.#sinceS = 0;
  }
}
