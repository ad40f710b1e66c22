/** What a zone is doing, in plain terms. */
export const ZONE_DOINGS = ['off', 'heating', 'holding', 'cooling', 'faulty', 'unknown'] as const;
export type ZoneDoing = (typeof ZONE_DOINGS)[number];

export const HEAT_FAULTS = [
  'sensorOpen',
  'sensorShort',
  'noRise',
  'fallingAway',
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

/** Where a zone's reading is expected by its learnt model, °C: beyond it is more than noise, doubt and normal life explain. */
export interface ExpectedReading {
  readonly lowC: number;
  readonly highC: number;
}

/** State of one zone after a reading. Temperatures in °C, power 0…1; null = not sent or no value this time. */
export interface ZoneStatus {
  readonly zone: number;
  readonly doing: ZoneDoing;
  readonly temperatureC: number | null;
  readonly setpointC: number | null;
  readonly power: number | null;
  /** Faults whose condition holds now; delays and life cycle are the alarm room's. */
  readonly faults: readonly HeatFault[];
  /** At its set-point without a break since then (UTC ms); null while it is not. */
  readonly atHeatSinceMs: number | null;
  /** null = nothing can be expected: not learnt yet, its power is not told, or too little was seen since a gap. */
  readonly expected: ExpectedReading | null;
}

/** How the heat is judged. */
export interface HeatLimits {
  /** No zone may ever read more than this, °C. */
  readonly absoluteLimitC: number;
  /** "At heat" means within this of the set-point, K. */
  readonly atHeatWithinC: number;
}
