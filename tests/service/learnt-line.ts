import type { ThermalModel } from '../../server/heat/thermal-model.ts';
import { openStore } from '../../server/store/index.ts';
import type { ScriptedBoard } from './scripted-board.ts';

/** A zone of usual size (common practice, no source). */
const LEARNT: ThermalModel = {
  rateKPerS: 0.8,
  lossPerS: 0.0015,
  exchangePerS: 0.0005,
  warmthKPerS: 0,
  deadTimeS: 6,
  lagS: 10,
  secondLagS: 3,
  delayOffS: 3,
  neighboursK: 0,
  fitK: 0.2,
  heatUps: 3,
};

/** Stores a learnt model of the board's zone in a record. */
export async function storeLearntModel(dataFolder: string, board: ScriptedBoard): Promise<void> {
  const store = openStore({ folder: dataFolder });
  store.writer.saveZoneModels(`TCP 127.0.0.1:${board.port}`, new Map([[1, LEARNT]]), 1);
  await store.close();
}
