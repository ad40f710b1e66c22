/** A request that the simulator cannot fulfil: what is wrong, and what to do. */
export class SimulatorInputError extends Error {
  override readonly name = 'SimulatorInputError';
  readonly problem: string;
  readonly remedy: string;

  constructor(problem: string, remedy: string) {
    super(`${problem} ${remedy}`);
    this.problem = problem;
    this.remedy = remedy;
  }
}
