/**
 * The simulator: a physical model of a small filament extrusion line, with repeatable defects and faults, that sends
 * reading lines. It has no I/O and no clock, and all its random numbers follow from a seed. `pace.ts` runs it in time.
 */

export { OVERSIZE_ABOVE_MM } from './model/strand-watch.ts';
export type { TruthEvent } from './model/truth.ts';
export { blobNight, goodNight, heaterNight } from './scenarios/example-nights.ts';
export {
  SCENARIOS,
  scenarioNames,
} from './scenarios/index.ts';
export type { Scenario } from './scenarios/scenario.ts';
export {
  createSimulation,
  type Simulation,
} from './simulation.ts';
export { SimulatorInputError } from './simulator-input-error.ts';
