import { createSimulation, type Scenario, type Simulation, SimulatorInputError } from '../../simulator/index.ts';
import { createPacedRun, type PacedRun } from '../../simulator/pace.ts';
import { SIMULATOR } from '../entities/run.ts';
import { messageOf, Problem } from '../problem/problem.ts';
import type { Source, SourceListener } from './source.ts';
import type { Pace } from './source-address.ts';

export { blobNight, goodNight, heaterNight, type Scenario, scenarioNames } from '../../simulator/index.ts';

export interface SimulatedSourceOptions {
  /** A known name, or any other scenario. */
  readonly scenario: string | Scenario;
  readonly seed: number;
  readonly pace: Pace;
  readonly rateHz: number;
  readonly also: readonly string[];
  /** Simulated time at which it ends; without it, it has no end. */
  readonly durationS?: number;
  /** When it starts, UTC ms, unless it runs in real time; without it, now. */
  readonly startMs?: number;
}

/**
 * The simulator as a source. In real time it is a live line; at another pace only the device's clock can date it.
 * @throws Problem `bad-setting`: the scenario or an option is unknown
 */
export function simulatedSource(options: SimulatedSourceOptions, clock: () => number): Source {
  return new SimulatedSource(options, simulationOf(options), clock);
}

function simulationOf({ scenario, seed, rateHz, also }: SimulatedSourceOptions): Simulation {
  try {
    return createSimulation({ scenario, seed, rateHz, also });
  } catch (thrown) {
    if (!(thrown instanceof SimulatorInputError)) throw thrown;
    throw new Problem('bad-setting', thrown.problem, thrown.remedy, { cause: thrown });
  }
}

class SimulatedSource implements Source {
  readonly title: string;
  readonly timing: 'live' | 'recorded';
  readonly playback: NonNullable<Source['playback']>;
  readonly recorded?: NonNullable<Source['recorded']>;
  /** Every start begins a new simulation. */
  readonly resumable = false;
  readonly #options: SimulatedSourceOptions;
  readonly #simulation: Simulation;
  readonly #clock: () => number;
  #run: PacedRun | null = null;
  #listener: SourceListener | null = null;

  constructor(options: SimulatedSourceOptions, simulation: Simulation, clock: () => number) {
    this.title = `${SIMULATOR}scenario ${simulation.scenario.name}`;
    this.timing = options.pace === 1 ? 'live' : 'recorded';
    this.playback = { what: 'simulation', pace: options.pace };
    if (options.startMs !== undefined) this.recorded = { startMs: options.startMs, rateHz: null };
    this.#options = options;
    this.#simulation = simulation;
    this.#clock = clock;
  }

  start(listener: SourceListener): void {
    if (this.#run !== null) return;
    const live = this.timing === 'live';
    this.#listener = listener;
    this.#run = createPacedRun({
      simulation: this.#simulation,
      pace: this.#options.pace,
      ...(this.#options.durationS === undefined ? {} : { durationS: this.#options.durationS }),
      onChunk: (chunk) => listener.bytes(Buffer.from(chunk, 'latin1'), live ? this.#clock() : null),
      onEnd: (failure) => {
        const text =
          failure === undefined ? 'The simulation has ended.' : `The simulation has failed: ${messageOf(failure)}`;
        listener.status({ phase: 'ended', text });
      },
    });
    listener.opened();
    listener.status({ phase: 'open', text: `Reading from the ${this.title}.` });
    this.#run.start();
  }

  async stop(): Promise<void> {
    const listener = this.#listener;
    this.#listener = null;
    await this.#run?.stop();
    listener?.status({ phase: 'closed', text: `Closed the ${this.title}.` });
  }
}
