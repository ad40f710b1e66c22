/** Why a line was dropped, in the words of the reading-line contract. */
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

/** What has come over the cable since the source was opened. All are counts of lines. */
export interface LinkCounters {
  readonly received: number;
  readonly readings: number;
  readonly notes: number;
  /** Lines that never arrived, told by jumps of `n`. */
  readonly lost: number;
  readonly restarts: number;
  readonly dropped: Readonly<Record<DropCause, number>>;
}
