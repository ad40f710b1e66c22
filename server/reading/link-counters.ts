/** Why a line was dropped, as named by the reading-line contract. */
export const DROP_CAUSES = [
  'tooLong',
  'notAscii',
  'badChecksum',
  'noChecksum',
  'unreadable',
  'wrongShape',
  'implausible',
] as const;

export type DropCause = (typeof DROP_CAUSES)[number];

/** What has arrived over the cable since the source was opened. All are counts of lines, except `restarts`. */
export interface LinkCounters {
  readonly received: number;
  readonly readings: number;
  readonly notes: number;
  /** Lines that never arrived, as the jumps of `n` show. */
  readonly lost: number;
  /** Restarts of the device. */
  readonly restarts: number;
  readonly dropped: Readonly<Record<DropCause, number>>;
}

/** Counts what arrives over the cable. */
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
    return { received, readings, notes, lost, restarts, dropped: { ...this.#dropped } };
  }
}
