import { DROP_CAUSES, type DropCause, type LinkCounters } from './link-counters.ts';

/** Counts what comes over the cable. */
export class LinkTally {
  received = 0;
  readings = 0;
  notes = 0;
  lost = 0;
  restarts = 0;
  readonly #dropped = Object.fromEntries(DROP_CAUSES.map((cause) => [cause, 0])) as Record<DropCause, number>;

  drop(cause: DropCause): void {
    this.#dropped[cause]++;
  }

  counters(): LinkCounters {
    const { received, readings, notes, lost, restarts } = this;
    return {
      received,
      readings,
      notes,
      lost,
      restarts,
      dropped: { ...this.#dropped },
    };
  }
}
