/**
 * The simulator's face: a physical model of a small filament extrusion line, with repeatable defects and faults, that
 * speaks reading lines. Pure: no I/O, no clock, no chance but the seed's. `pace.ts` runs it in time.
 */

export type { LineShape } from './device/line-format.ts';
export { OVERSIZE_ABOVE_MM, UNDERSIZE_BELOW_MM } from './model/strand-watch.ts';
export type { TruthEvent, TruthKind } from './model/truth.ts';
export {
  DEFAULT_SCENARIO,
  SCENARIOS,
  scenarioNames,
} from './scenarios/index.ts';
export type {
  Action,
  Recurring,
  Scenario,
  ScriptStep,
} from './scenarios/scenario.ts';
export {
  createSimulation,
  type Simulation,
  type SimulationCounts,
  type SimulationOptions,
} from './simulation.ts';
export { SimulatorInputError } from './simulator-input-error.ts';
