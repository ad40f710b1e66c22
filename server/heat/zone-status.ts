import { COLD_BELOW_C, NO_POWER } from './healthy-zone.ts';

/** What a zone is doing, in plain terms; `away` = off its set-point, and not on its way there. */
export const ZONE_STATES = ['off', 'heating', 'holding', 'cooling', 'away', 'faulty', 'unknown'] as const;
export type ZoneState = (typeof ZONE_STATES)[number];

export const HEAT_FAULTS = [
  'sensorOpen',
  'sensorShort',
  'noRise',
  'losingTemperature',
  'risingWithoutPower',
  'aboveAbsoluteLimit',
  'sensorSlipped',
  'heaterWeak',
  'frozen',
  'jumping',
  'late',
  'oscillating',
  'drifting',
] as const;
export type HeatFault = (typeof HEAT_FAULTS)[number];

/**
 * Range in which the learnt model expects a zone's reading, °C. Noise, doubt and normal operation do not explain a reading
 * outside it.
 */
export interface ExpectedReading {
  readonly lowC: number;
  readonly highC: number;
}

/** State of one zone after a reading. Temperatures in °C, power 0…1; null = not sent, or no value this time. */
export interface ZoneStatus {
  readonly zone: number;
  readonly doing: ZoneState;
  readonly temperatureC: number | null;
  readonly setpointC: number | null;
  readonly power: number | null;
  /** Faults whose condition holds now; `server/alarm` adds delays and the life cycle. */
  readonly faults: readonly HeatFault[];
  /** At its set-point without a break since then (UTC ms); null while it is not. */
  readonly atHeatSinceMs: number | null;
  /** null = no expectation: nothing learnt yet, power not sent, or too few readings since a gap. */
  readonly expected: ExpectedReading | null;
}

/** Limits that the heat watch judges by. */
export interface HeatLimits {
  /** No zone may ever read more than this, °C. */
  readonly absoluteLimitC: number;
  /** "At heat" means within this of the set-point, K. */
  readonly atHeatWithinC: number;
  /** Set-points from the settings, by zone from 1, °C; null = none. They count only where the line sends none. */
  readonly setpointsC?: readonly (number | null)[];
}

/** The slowest healthy zone cools three times as fast at 200 °C without power, K/s. */
const COOLS_K_PER_S = 0.015;
/** A slower change counts as steady, K/s. */
const STEADY_K_PER_S = 0.05;

/** What a zone without a fault is doing. */
export function doingOf(zone: {
  readonly temperatureC: number;
  /** °C; NaN = not sent. */
  readonly setpointC: number;
  /** 0…1; NaN = not sent. */
  readonly power: number;
  /** Within the band around its set-point. */
  readonly inBand: boolean;
  /** Change over the last seconds, K/s; NaN = too few readings yet. */
  readonly slopeKPerS: number;
  /** Change over the last minute or less, K/s; NaN = too few readings yet. */
  readonly slowSlopeKPerS: number;
  /** The set-point changed so recently that a slow zone need not show it yet. */
  readonly setpointIsNew: boolean;
}): Exclude<ZoneState, 'faulty'> {
  const { temperatureC, setpointC, power, slopeKPerS } = zone;
  if (!Number.isFinite(temperatureC)) return 'unknown';
  if (setpointC > 0) {
    if (zone.inBand) return 'holding';
    if (temperatureC > setpointC)
      return zone.setpointIsNew || zone.slowSlopeKPerS < -COOLS_K_PER_S ? 'cooling' : 'away';
    return power <= NO_POWER && !(slopeKPerS > STEADY_K_PER_S) ? 'away' : 'heating';
  }
  const coolingOrOff = temperatureC < COLD_BELOW_C ? 'off' : 'cooling';
  if (setpointC === 0 || power <= NO_POWER) return coolingOrOff;
  if (slopeKPerS > STEADY_K_PER_S) return 'heating';
  if (slopeKPerS < -STEADY_K_PER_S) return coolingOrOff;
  if (power > NO_POWER) return 'holding';
  if (Number.isFinite(slopeKPerS)) return temperatureC < COLD_BELOW_C ? 'off' : 'holding';
  return 'unknown';
}
