/** Scenarios about heating: whole runs from cold, and each fault of a heater or its sensor. */

import type { HeatFault } from '../model/barrel.ts';
import type { Scenario, ScriptStep } from './scenario.ts';
import { COLD_C, coldStart, SET_POINTS_C, shutDown, WARM_C, warmStart } from './stages.ts';

export const wholeRun: Scenario = {
  name: 'whole-run',
  title: 'A whole run from cold to cold',
  description: 'Heating up, soaking, purging, half an hour of winding, shutting down and cooling, without any fault.',
  durationS: 5400,
  startC: COLD_C,
  script: [...coldStart, ...shutDown(3500)],
};

export const setPointChanges: Scenario = {
  name: 'set-point-changes',
  title: 'Set-points changed while winding',
  description: 'The operator changes set-points by up to 15 kelvin during a good run.',
  durationS: 1800,
  startC: WARM_C,
  script: [
    ...warmStart,
    { atS: 200, do: 'set-point', zone: 3, celsius: 205 },
    { atS: 600, do: 'set-point', zone: 3, celsius: 190 },
    { atS: 1000, do: 'set-point', zone: 1, celsius: 165 },
    { atS: 1300, do: 'set-point', zone: 2, celsius: 200 },
  ],
};

/** A fault from 3 min until `untilS`. */
function faultWhileWinding(zone: number, fault: HeatFault, untilS: number): ScriptStep[] {
  return [
    ...warmStart,
    { atS: 180, do: 'heat-fault', zone, fault },
    { atS: untilS, do: 'heat-fault', zone, fault: null },
  ];
}

export const heaterLost: Scenario = {
  name: 'heater-lost',
  title: 'A heater fails',
  description: 'The heater of zone 2 burns out while winding: its temperature falls while the power rises to full.',
  durationS: 420,
  startC: WARM_C,
  script: faultWhileWinding(2, 'power-lost', 420),
};

export const heaterDeadFromCold: Scenario = {
  name: 'heater-dead-from-cold',
  title: 'A heater that never starts',
  description:
    'The heater of the die has no current from the start: full power, but only the neighbouring zone warms the die.',
  durationS: 900,
  startC: COLD_C,
  script: [
    { atS: 0, do: 'heat-fault', zone: 3, fault: 'power-lost' },
    { atS: 5, do: 'heat', setPointsC: SET_POINTS_C },
  ],
};

export const sensorOpen: Scenario = {
  name: 'sensor-open',
  title: 'A sensor wire breaks',
  description:
    'The sensor of the die opens while winding: the reading jumps to the cold end of the scale, and the controller switches the heater off.',
  durationS: 420,
  startC: WARM_C,
  script: faultWhileWinding(3, 'sensor-open', 300),
};

export const sensorShort: Scenario = {
  name: 'sensor-short',
  title: 'A sensor is shorted',
  description:
    'The sensor of zone 1 is shorted while winding: the reading jumps to the hot end of the scale, and the controller switches the heater off.',
  durationS: 420,
  startC: WARM_C,
  script: faultWhileWinding(1, 'sensor-short', 300),
};

export const sensorSlipped: Scenario = {
  name: 'sensor-slipped',
  title: 'A sensor slips out of its hole',
  description:
    'The sensor of zone 2 slips out while winding: its reading falls although the power and the true temperature rise.',
  durationS: 480,
  startC: WARM_C,
  script: faultWhileWinding(2, 'sensor-slipped', 480),
};

export const switchStuck: Scenario = {
  name: 'switch-stuck',
  title: 'A heater switch sticks',
  description:
    'The switch of the die heater sticks closed while winding: the temperature rises although the controller outputs no power.',
  durationS: 420,
  startC: WARM_C,
  script: faultWhileWinding(3, 'switch-stuck', 420),
};

export const sensorFrozen: Scenario = {
  name: 'sensor-frozen',
  title: 'A frozen temperature',
  description: 'The reading of zone 1 keeps exactly the same value for ten minutes.',
  durationS: 900,
  startC: WARM_C,
  script: faultWhileWinding(1, 'frozen-reading', 780),
};

export const sensorLoose: Scenario = {
  name: 'sensor-loose',
  title: 'A loose sensor contact',
  description: 'The reading of zone 3 briefly drops by tens of kelvin, faster than any barrel can cool.',
  durationS: 480,
  startC: WARM_C,
  script: faultWhileWinding(3, 'loose-sensor', 420),
};
