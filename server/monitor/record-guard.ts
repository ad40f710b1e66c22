import { messageOf } from '../problem/problem.ts';
import type { Log } from './log.ts';

/** Entries that wait while the disk refuses. More than a bad night makes; older ones are kept, newer ones refused. */
const WAITING_MAX = 10_000;

/**
 * Writing may fail (a full disk). Watching and alarming go on meanwhile: what must not be lost waits here in order and is
 * tried again, and `trouble` says why until everything is written.
 */
export class RecordGuard {
  readonly #log: Log;
  #waiting: (() => void)[] = [];
  #trouble: string | null = null;
  #given = 0;

  constructor(log: Log) {
    this.#log = log;
  }

  /** Why the record cannot be written; null = all that was given is written. */
  get trouble(): string | null {
    return this.#trouble;
  }

  /** One attempt. For what comes again by itself: readings and sections wait in their own rooms. */
  attempt(what: string, write: () => void): boolean {
    try {
      write();
      return true;
    } catch (thrown) {
      this.failed(what, thrown);
      return false;
    }
  }

  /** Written now, or later in the order given. */
  write(what: string, write: () => void): void {
    if (this.#waiting.length === 0 && this.attempt(what, write)) return;
    if (this.#waiting.length < WAITING_MAX) this.#waiting.push(write);
    else this.#given += 1;
  }

  /** Try again what waits; to be called once a second. `restWritten`: what waits elsewhere could be written. */
  retry(restWritten: boolean): void {
    while (this.#waiting[0] !== undefined) {
      if (!this.attempt('what waited', this.#waiting[0])) return;
      this.#waiting.shift();
    }
    if (!restWritten || this.#trouble === null) return;
    const lost = this.#given === 0 ? '' : ` ${this.#given} entries were given up.`;
    this.#log.info(`The record is written again.${lost}`);
    this.#trouble = null;
    this.#given = 0;
  }

  failed(what: string, thrown: unknown): void {
    const why = messageOf(thrown);
    if (this.#trouble === null) this.#log.error(`Cannot write ${what}: ${why}`);
    this.#trouble = why;
  }
}
