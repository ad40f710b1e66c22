import type { ZoneStatus } from './zone-status.ts';

/** Material is taken to melt, and to char when it stands, above this, °C (common practice, no source). */
const MELTS_ABOVE_C = 150;
/** A screw that turns slower than this stands, 1/min. */
const TURNS_RPM = 0.5;
/** A zone this far below its set-point is too cold for the screw, K. */
const TOO_COLD_K = 25;
/** A puller that is slower than this stands, mm/s. */
const MOVES_MM_PER_S = 0.3;

export interface ScrewAndHeat {
  /** Hot, and nothing moves, for so long, s; 0 = not so. */
  readonly hotStandingS: number;
  /** Of the hottest zone that is not switched off, °C; null = none. */
  readonly hottestC: number | null;
  /** The zone that is too cold for a screw that turns; null = none, or it stands, or the line does not tell. */
  readonly coldForScrew: ZoneStatus | null;
}

/**
 * What heat and screw mean together. Whether the screw turns is told by `rpm`; where the line sends none, a strand that
 * moves tells that it does, and standing still is told by the strand alone.
 */
export class StandingHot {
  #hotSinceMs: number | null = null;
  #state: ScrewAndHeat = { hotStandingS: 0, hottestC: null, coldForScrew: null };

  /** @param screwRpm NaN = not sent; @param strandMmPerS NaN = not known */
  step(timeMs: number, zones: readonly ZoneStatus[], screwRpm: number, strandMmPerS: number): ScrewAndHeat {
    let hottestC: number | null = null;
    let cold: ZoneStatus | null = null;
    for (const zone of zones) {
      const { temperatureC, setpointC } = zone;
      if (temperatureC === null) continue;
      // Heaters that were switched off need nobody's hand any more.
      if (setpointC !== 0 && temperatureC > (hottestC ?? Number.NEGATIVE_INFINITY)) hottestC = temperatureC;
      if (setpointC !== null && setpointC > 0 && temperatureC < setpointC - TOO_COLD_K) cold ??= zone;
    }
    const known = !Number.isNaN(screwRpm) || !Number.isNaN(strandMmPerS);
    const turns = Number.isNaN(screwRpm) ? strandMmPerS > MOVES_MM_PER_S : screwRpm > TURNS_RPM;
    const stands = known && !turns && !(strandMmPerS > MOVES_MM_PER_S);
    if (stands && hottestC !== null && hottestC > MELTS_ABOVE_C) this.#hotSinceMs ??= timeMs;
    else this.#hotSinceMs = null;
    const hotStandingS = this.#hotSinceMs === null ? 0 : Math.max(0, (timeMs - this.#hotSinceMs) / 1000);
    const coldForScrew = screwRpm > TURNS_RPM ? cold : null;
    this.#state = { hotStandingS, hottestC, coldForScrew };
    return this.#state;
  }

  get state(): ScrewAndHeat {
    return this.#state;
  }
}
