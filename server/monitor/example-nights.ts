import { rm } from 'node:fs/promises';
import { messageOf } from '../problem/problem.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import type { Clock } from './clock.ts';
import type { Log } from './log.ts';
import { requireFreeSpace } from './maintenance-service.ts';
import type { RecordMaintenance } from './ports/maintenance.ts';
import type { RecordWriter } from './ports/record.ts';
import type { ExampleNight, NightSimulator } from './ports/recording.ts';

export interface ExampleNightsParts {
  readonly simulator: NightSimulator;
  readonly maintenance: Pick<RecordMaintenance, 'scratchPath' | 'readArchive' | 'freeBytes'>;
  readonly writer: Pick<RecordWriter, 'log' | 'setLot' | 'setRunNote'>;
  readonly clock: Clock;
  readonly log: Log;
  settings(): LineSettings;
  readonly timeZone: string;
  /** Whether the line being watched is a simulation. */
  isSimulated(): boolean;
  /** After a run was added. */
  changed(): void;
}

/**
 * Fills an empty record with example runs, so that a first start has something to show. They pass through the same pipeline
 * as a real line, on a worker, while the line is watched. A user can delete them like any run.
 */
export class ExampleNights {
  readonly #parts: ExampleNightsParts;
  readonly #stopping = new AbortController();
  #making: Promise<void> = Promise.resolve();

  constructor(parts: ExampleNightsParts) {
    this.#parts = parts;
  }

  /** Starts making them, unless the line is a real one. Never throws; a failure is logged. */
  make(): void {
    if (this.#parts.isSimulated()) this.#making = this.#make();
  }

  /** Stops making more. What has been made stays. */
  async stop(): Promise<void> {
    this.#stopping.abort();
    await this.#making;
  }

  async #make(): Promise<void> {
    const { simulator, clock, log } = this.#parts;
    try {
      for (const night of simulator.nights(clock())) await this.#add(night);
    } catch (thrown) {
      if (!this.#stopping.signal.aborted) log.warn(`The example nights could not be made: ${messageOf(thrown)}`);
    }
  }

  async #add({ name, startMs, lot, note }: ExampleNight): Promise<void> {
    const { simulator, maintenance, writer, clock, settings, timeZone, isSimulated, changed } = this.#parts;
    const { signal } = this.#stopping;
    const folder = maintenance.scratchPath('replay');
    try {
      requireFreeSpace(0, maintenance, settings());
      const asked = { folder, settings: settings(), alarmSettings: {}, timeZone, startMs };
      for (const archive of await simulator.simulate(name, asked, signal)) {
        signal.throwIfAborted();
        // A user may have chosen a real line in the meantime.
        if (!isSimulated()) return;
        const runId = await maintenance.readArchive(archive, signal, true);
        const timeMs = clock();
        writer.setLot(runId, lot, timeMs, 'service');
        writer.setRunNote(runId, note);
        writer.log({ timeMs, runId, who: 'service', what: `Simulated run ${runId} as an example: ${name}.` });
        changed();
      }
    } finally {
      await rm(folder, { recursive: true, force: true });
    }
  }
}
