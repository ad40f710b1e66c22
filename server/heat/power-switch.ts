/** Weight of one reading: shares cover about the last hundred. */
const READING_WEIGHT = 0.01;
/** Weight of one switching cycle: the length covers about the last ten. */
const CYCLE_WEIGHT = 0.1;
/** More readings than this at exactly 0 or 1: the line sends a switch, not a share. */
const SWITCH_SHARE = 0.9;
/** More flips per reading than this: fewer than eight readings in a switching cycle. */
const BLURRED_FLIPS = 0.25;

/** Recognises a power that is sent as a switch (0 or 1) instead of a share, and how finely its mean can be resolved. */
export class PowerSwitch {
  /** Share of recent readings that were 0 or 1. */
  #switchShare = 0;
  /** Share of recent readings that flipped between 0 and 1. */
  #flipShare = 0;
  /** Readings per switching cycle; 0 = not seen yet. */
  #cycleReadings = 0;
  /** Readings since the heater was last switched on; NaN = not seen yet. */
  #sinceOn = Number.NaN;

  /** Powers 0…1; `before` NaN = the first reading. */
  add(power: number, before: number): void {
    this.#sinceOn++;
    if (power === 1 && before === 0) {
      const weight = this.#cycleReadings > 0 ? CYCLE_WEIGHT : 1;
      if (!Number.isNaN(this.#sinceOn)) this.#cycleReadings += (this.#sinceOn - this.#cycleReadings) * weight;
      this.#sinceOn = 0;
    }
    this.#switchShare += ((power === 0 || power === 1 ? 1 : 0) - this.#switchShare) * READING_WEIGHT;
    this.#flipShare += ((Math.abs(power - before) === 1 ? 1 : 0) - this.#flipShare) * READING_WEIGHT;
  }

  /** The switch flips about as often as the line sends: what happens between two readings is unknown, so the power is too. */
  get isBlurred(): boolean {
    return this.#switchShare > SWITCH_SHARE && this.#flipShare > BLURRED_FLIPS;
  }

  /**
   * Resolution of a mean power, 0…1: a cycle of n readings resolves the duty in n steps. 0 where the share itself is sent.
   */
  get step(): number {
    return this.#switchShare > SWITCH_SHARE && this.#cycleReadings > 0 ? 1 / this.#cycleReadings : 0;
  }

  /** After a gap the current cycle cannot be measured. */
  interrupt(): void {
    this.#sinceOn = Number.NaN;
  }
}
