import type { AlarmChange } from '../../alarm/alarm.ts';
import { messageOf } from '../../problem/problem.ts';
import type { Reading } from '../../reading/reading.ts';
import type { Log } from '../log.ts';

export interface MonitorListener {
  reading?(reading: Reading, gaugeMm: number, diameterMm: number, speedMmPerS: number): void;
  /** Something that a person must see at once: an alarm, a section, the stage, the link. */
  changed?(): void;
  alarms?(changes: readonly AlarmChange[]): void;
}

/** Whoever listens to the monitor. A listener that fails must not harm its neighbour. */
export class Listeners {
  readonly #log: Log;
  readonly #listeners = new Set<MonitorListener>();

  constructor(log: Log) {
    this.#log = log;
  }

  /** @returns ends the subscription */
  add(listener: MonitorListener): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  reading(reading: Reading, gaugeMm: number, diameterMm: number, speedMmPerS: number): void {
    for (const listener of this.#listeners) {
      // Not through #tell: a closure for each reading would be garbage for each reading.
      try {
        listener.reading?.(reading, gaugeMm, diameterMm, speedMmPerS);
      } catch (thrown) {
        this.#failed('reading', thrown);
      }
    }
  }

  alarms(changes: readonly AlarmChange[]): void {
    for (const listener of this.#listeners) this.#tell('alarms', () => listener.alarms?.(changes));
  }

  changed(): void {
    for (const listener of this.#listeners) this.#tell('changed', () => listener.changed?.());
  }

  #tell(event: keyof MonitorListener, call: () => void): void {
    try {
      call();
    } catch (thrown) {
      this.#failed(event, thrown);
    }
  }

  #failed(event: keyof MonitorListener, thrown: unknown): void {
    this.#log.error('A listener of the monitor failed', { event, why: messageOf(thrown) });
  }
}
