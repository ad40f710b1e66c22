/** Starts and ends of a run that scenarios share. */

import type { ScriptStep } from './scenario.ts';

/** Polylactide on a small extruder; common practice, no source: 170–200 °C. */
export const SET_POINTS_C = [175, 190, 195] as const;

export const SCREW_RPM = 24;
/** About 0.37 kg/h of polylactide at 1.75 mm. */
export const LINE_SPEED_MM_PER_S = 35;
/** While purging, the strand is guided by hand and is thick. */
export const PURGE_SPEED_MM_PER_S = 21;

/** Zones just below their set-points, for scenarios that are not about heating up. */
export const WARM_C = [173.5, 189, 194.2] as const;
export const COLD_C = [null, null, null] as const;

/** A shortened start: warm zones, a short purge, winding after a minute, when good strand has reached the winder. */
export const warmStart: readonly ScriptStep[] = [
  { atS: 0, do: 'heat', setPointsC: SET_POINTS_C },
  { atS: 0.5, do: 'screw', rpm: SCREW_RPM, settleS: 5 },
  { atS: 3, do: 'puller', mode: 'hand', speedMmPerS: PURGE_SPEED_MM_PER_S },
  { atS: 6, do: 'puller', mode: 'hand', speedMmPerS: LINE_SPEED_MM_PER_S },
  // The loop starts after the thick start of the strand has passed the gauge.
  { atS: 32, do: 'puller', mode: 'loop', speedMmPerS: LINE_SPEED_MM_PER_S },
  { atS: 45, do: 'winder', on: true },
];

/** A real start: heating up from room temperature, a soak of more than 15 min, purging, winding after 28 min. */
export const coldStart: readonly ScriptStep[] = [
  { atS: 5, do: 'heat', setPointsC: SET_POINTS_C },
  { atS: 1500, do: 'screw', rpm: SCREW_RPM, settleS: 25 },
  { atS: 1505, do: 'puller', mode: 'hand', speedMmPerS: PURGE_SPEED_MM_PER_S },
  { atS: 1560, do: 'puller', mode: 'hand', speedMmPerS: LINE_SPEED_MM_PER_S },
  { atS: 1590, do: 'puller', mode: 'loop', speedMmPerS: LINE_SPEED_MM_PER_S },
  { atS: 1680, do: 'winder', on: true },
];

/** Switch off winder, puller, screw and heaters, in this order. */
export function shutDown(atS: number): ScriptStep[] {
  return [
    { atS, do: 'winder', on: false },
    { atS: atS + 1, do: 'puller', mode: 'off', speedMmPerS: 0 },
    { atS: atS + 2, do: 'screw', rpm: 0 },
    { atS: atS + 4, do: 'heat', setPointsC: [0, 0, 0] },
  ];
}
