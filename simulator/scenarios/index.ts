/** All scenarios by name. */

import { SimulatorInputError } from '../simulator-input-error.ts';
import * as device from './device.ts';
import { evening } from './evening.ts';
import * as heat from './heat.ts';
import type { Scenario } from './scenario.ts';
import * as strand from './strand.ts';

const ALL: readonly Scenario[] = [
  evening,
  strand.steady,
  strand.blobsAndNecks,
  strand.dampFeed,
  strand.bridgingFeed,
  strand.contaminant,
  strand.strandBreak,
  strand.wornScrew,
  strand.untrueRoller,
  strand.spoolFills,
  heat.wholeRun,
  heat.setPointChanges,
  heat.heaterLost,
  heat.heaterDeadFromCold,
  heat.sensorOpen,
  heat.sensorShort,
  heat.sensorSlipped,
  heat.switchStuck,
  heat.sensorFrozen,
  heat.sensorLoose,
  device.noisyCable,
  device.restartingController,
  device.gaugeFrozen,
  device.gaugeEmpty,
  device.shortRange,
  device.wrongReadings,
  device.counterSlips,
  device.newSketch,
];

export const SCENARIOS: ReadonlyMap<string, Scenario> = new Map(ALL.map((scenario) => [scenario.name, scenario]));

export const scenarioNames: readonly string[] = [...SCENARIOS.keys()];

export const DEFAULT_SCENARIO = evening.name;

/** @throws SimulatorInputError that names the known scenarios */
export function findScenario(name: string): Scenario {
  const scenario = SCENARIOS.get(name);
  if (scenario !== undefined) return scenario;
  throw new SimulatorInputError(`Unknown scenario “${name}”.`, `Choose one of ${scenarioNames.join(', ')}.`);
}
