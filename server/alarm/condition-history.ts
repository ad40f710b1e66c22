import type { Condition } from './alarm.ts';

/** What an observation brings; `again` = a new occurrence, whether or not the condition held until now. */
export type Observation = 'unchanged' | 'gone' | 'started' | 'again' | 'continues';

/** Follows one condition over time: whether it holds, since when, and its latest occurrence. */
export class ConditionHistory {
  #holds = false;
  #sinceMs: number | null = null;
  #last: Condition | null = null;
  #occurrence: number | undefined;

  /** The condition holds now, taking its deadband into account. */
  get holds(): boolean {
    return this.#holds;
  }

  /** Since when it has held, or not held, UTC ms; null = not observed yet. */
  get sinceMs(): number | null {
    return this.#sinceMs;
  }

  /** Number of the latest occurrence; undefined = none, or a lasting condition. */
  get occurrence(): number | undefined {
    return this.#occurrence;
  }

  /** Continues after a restart of the service. */
  resume(holds: boolean, occurrence: number | undefined): void {
    this.#holds = holds;
    this.#occurrence = occurrence;
  }

  /** The condition no longer counts from now on. */
  end(timeMs: number): void {
    this.#holds = false;
    this.#sinceMs = timeMs;
  }

  observe(condition: Condition, holds: boolean, timeMs: number): Observation {
    if (condition === this.#last && holds === this.#holds) return 'unchanged';
    this.#last = condition;
    const heldBefore = this.#holds;
    if (holds !== heldBefore || this.#sinceMs === null) this.#sinceMs = timeMs;
    this.#holds = holds;
    if (!holds) return 'gone';
    const isNew = this.#isNewOccurrence(condition.occurrence, heldBefore);
    if (condition.occurrence !== undefined && (isNew || this.#occurrence === undefined || !heldBefore))
      this.#occurrence = condition.occurrence;
    if (isNew) return 'again';
    return heldBefore ? 'continues' : 'started';
  }

  /** Corrects a start that is in the future because the clock was ahead. */
  followClock(timeMs: number): void {
    if (this.#sinceMs !== null && this.#sinceMs > timeMs) this.#sinceMs = timeMs;
  }

  hasHeldFor(seconds: number, timeMs: number): boolean {
    return this.#holds && this.#sinceMs !== null && timeMs - this.#sinceMs >= seconds * 1000;
  }

  /**
   * Numbers increase: an older one observed between newer ones (two blobs on their way at once) is not new. Once the
   * condition was gone, any different number is new: a recording may jump back in time.
   */
  #isNewOccurrence(occurrence: number | undefined, heldBefore: boolean): boolean {
    if (occurrence === undefined || this.#occurrence === undefined) return false;
    return heldBefore ? occurrence > this.#occurrence : occurrence !== this.#occurrence;
  }
}
