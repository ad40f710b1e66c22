import type { ZoneStatus } from './zone-status.ts';

/** Above this, material melts and chars when it does not move, °C (common practice, no source). */
const MELTS_ABOVE_C = 150;
/** A slower screw counts as stopped, 1/min. */
const TURNS_RPM = 0.5;
/** A zone this far below its set-point is too cold for the screw to turn, K. */
const TOO_COLD_K = 25;
/** A slower strand counts as stopped, mm/s. */
const MOVES_MM_PER_S = 0.3;

export interface ScrewAndHeat {
  /** How long the line has been hot without moving, s; 0 = it moves, or is not hot. */
  readonly hotStandingS: number;
  /** Temperature of the hottest zone that is not switched off, °C; null = none. */
  readonly hottestC: number | null;
  /** A zone that is too cold while the screw turns; null = none, or the screw is stopped or not sent. */
  readonly coldForScrew: ZoneStatus | null;
}

/**
 * What heat and screw mean together. Where the line does not send the screw's speed, a moving strand means that it turns, and
 * a still strand that it does not.
 */
export class StandingHot {
  #hotSinceMs: number | null = null;
  #state: ScrewAndHeat = { hotStandingS: 0, hottestC: null, coldForScrew: null };
  /** `HeatWatch` returns the same list until something changes, several readings later. */
  #zones: readonly ZoneStatus[] | null = null;
  #hottestC: number | null = null;
  #cold: ZoneStatus | null = null;

  /** @param screwRpm NaN = not sent; @param strandMmPerS NaN = not known */
  step(timeMs: number, zones: readonly ZoneStatus[], screwRpm: number, strandMmPerS: number): ScrewAndHeat {
    if (zones !== this.#zones) this.#compare(zones);
    const hottestC = this.#hottestC;
    const known = !Number.isNaN(screwRpm) || !Number.isNaN(strandMmPerS);
    const still = known && !(screwRpm > TURNS_RPM) && !(strandMmPerS > MOVES_MM_PER_S);
    if (still && (hottestC ?? 0) > MELTS_ABOVE_C) this.#hotSinceMs ??= timeMs;
    else this.#hotSinceMs = null;
    const hotStandingS = this.#hotSinceMs === null ? 0 : Math.max(0, (timeMs - this.#hotSinceMs) / 1000);
    const coldForScrew = screwRpm > TURNS_RPM ? this.#cold : null;
    const state = this.#state;
    if (state.hotStandingS !== hotStandingS || state.hottestC !== hottestC || state.coldForScrew !== coldForScrew)
      this.#state = { hotStandingS, hottestC, coldForScrew };
    return this.#state;
  }

  #compare(zones: readonly ZoneStatus[]): void {
    this.#zones = zones;
    let hottestC: number | null = null;
    let cold: ZoneStatus | null = null;
    for (const zone of zones) {
      const { temperatureC, setpointC } = zone;
      if (temperatureC === null) continue;
      // A heater that is switched off, with set-point 0, needs no action.
      if (setpointC !== 0 && temperatureC > (hottestC ?? Number.NEGATIVE_INFINITY)) hottestC = temperatureC;
      if (setpointC !== null && setpointC > 0 && temperatureC < setpointC - TOO_COLD_K) cold ??= zone;
    }
    this.#hottestC = hottestC;
    this.#cold = cold;
  }

  get state(): ScrewAndHeat {
    return this.#state;
  }
}
