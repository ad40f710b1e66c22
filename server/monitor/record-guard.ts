import { messageOf } from '../problem/problem.ts';
import type { Log } from './log.ts';

/** More entries than a bad night produces. When the queue is full, newer entries are dropped. */
const QUEUED_MAX = 10_000;

/**
 * Keeps watching and alarming possible while the record cannot be written, for example on a full disk. Writes that must not
 * be lost are queued in order and retried.
 */
export class RecordGuard {
  readonly #log: Log;
  readonly #probe: () => void;
  #queue: (() => void)[] = [];
  #trouble: string | null = null;
  #droppedCount = 0;

  /** @param probe writes something to the record, so that it is called writable only when it is */
  constructor(log: Log, probe: () => void = () => {}) {
    this.#log = log;
    this.#probe = probe;
  }

  /** Why the record cannot be written; null = everything is written. */
  get trouble(): string | null {
    return this.#trouble;
  }

  /** Tries once. For readings and sections, which have queues of their own. @returns whether it was written */
  attempt(what: string, write: () => void): boolean {
    try {
      write();
      return true;
    } catch (thrown) {
      this.failed(what, thrown);
      return false;
    }
  }

  /** Writes now, or later in the same order. */
  write(what: string, write: () => void): void {
    if (this.#queue.length === 0 && this.attempt(what, write)) return;
    if (this.#queue.length < QUEUED_MAX) this.#queue.push(write);
    else this.#droppedCount += 1;
  }

  /**
   * Writes what a user entered, after everything that waits: the answer to the user confirms that it is on disk.
   * @throws what the write throws; nothing is queued
   */
  writeNow(what: string, write: () => void): void {
    try {
      this.#writeQueued();
      write();
    } catch (thrown) {
      this.failed(what, thrown);
      throw thrown;
    }
  }

  /** Retries queued writes; call once a second. @param othersWritten readings and sections could be written */
  retry(othersWritten: boolean): void {
    if (!this.attempt('queued entries', () => this.#writeQueued())) return;
    if (!othersWritten || this.#trouble === null || !this.attempt('the record', this.#probe)) return;
    const lost = this.#droppedCount === 0 ? '' : ` ${this.#droppedCount} entries were lost.`;
    this.#log.info(`The record can be written again.${lost}`);
    this.#trouble = null;
    this.#droppedCount = 0;
  }

  #writeQueued(): void {
    for (let next = this.#queue[0]; next !== undefined; next = this.#queue[0]) {
      next();
      this.#queue.shift();
    }
  }

  failed(what: string, thrown: unknown): void {
    const why = messageOf(thrown);
    if (this.#trouble === null) this.#log.error(`Cannot write ${what}: ${why}`);
    this.#trouble = why;
  }
}
