/**
 * The simulator's face: a physical model of a small filament extrusion line, with repeatable defects and faults, that
 * speaks reading lines. Pure: no I/O, no clock, no chance but the seed's. `pace.ts` runs it in time.
 */

export { OVERSIZE_ABOVE_MM } from './model/strand-watch.ts';
export type { TruthEvent } from './model/truth.ts';
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
