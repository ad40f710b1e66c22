/** What a person asked of the simulator cannot be done: the message names the thing and the remedy. */
export class SimulatorInputError extends Error {
  override readonly name = 'SimulatorInputError';
}
