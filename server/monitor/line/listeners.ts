import type { AlarmChange } from '../../alarm/alarm.ts';
import { messageOf } from '../../problem/problem.ts';
import type { Reading } from '../../reading/reading.ts';
import type { Log } from '../log.ts';

export interface MonitorListener {
  reading?(reading: Reading, gaugeMm: number, diameterMm: number, speedMmPerS: number): void;
  /** Something changed that pages must show at once: an alarm, a section, the stage, the link. */
  changed?(): void;
  alarms?(changes: readonly AlarmChange[]): void;
}

/** The listeners of the monitor. One that fails must not disturb the others. */
export class Listeners {
  readonly #log: Log;
  readonly #listeners = new Set<MonitorListener>();
  /** The events at which a listener has failed: it may do so again for every reading, and is logged once. */
  readonly #failures = new WeakMap<MonitorListener, Set<keyof MonitorListener>>();

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
      // Not through #notify, which would allocate a closure for each reading.
      try {
        listener.reading?.(reading, gaugeMm, diameterMm, speedMmPerS);
      } catch (thrown) {
        this.#failed(listener, 'reading', thrown);
      }
    }
  }

  alarms(changes: readonly AlarmChange[]): void {
    for (const listener of this.#listeners) this.#notify(listener, 'alarms', () => listener.alarms?.(changes));
  }

  changed(): void {
    for (const listener of this.#listeners) this.#notify(listener, 'changed', () => listener.changed?.());
  }

  #notify(listener: MonitorListener, event: keyof MonitorListener, call: () => void): void {
    try {
      call();
    } catch (thrown) {
      this.#failed(listener, event, thrown);
    }
  }

  #failed(listener: MonitorListener, event: keyof MonitorListener, thrown: unknown): void {
    const events = this.#failures.get(listener) ?? new Set();
    if (events.has(event)) return;
    this.#failures.set(listener, events.add(event));
    this.#log.error('A listener of the monitor failed', { event, why: messageOf(thrown) });
  }
}
