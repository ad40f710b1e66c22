/** A copy of the whole record. */
export interface Backup {
  readonly path: string;
  readonly timeMs: number;
  readonly bytes: number;
}

/** Where reading everything that has a checksum continues. */
export interface CheckPlace {
  readonly part: number;
  /** What was read last of the part; null = nothing yet. */
  readonly after: number | readonly [table: string, number: number] | null;
}

export interface CheckedShare {
  readonly read: number;
  /** Everything there is to read. */
  readonly total: number;
  readonly faults: readonly string[];
  /** null = everything was read. */
  readonly next: CheckPlace | null;
}

/** The check that reads some of the record each day, so that everything is read in a month. */
export interface RollingCheck {
  /** When a part was last read. */
  readonly lastMs: number;
  readonly next: CheckPlace | null;
  /** Of this round. */
  readonly read: number;
  readonly total: number;
  readonly faults: readonly string[];
  /** When the last round was complete; null = none yet. */
  readonly completeMs: number | null;
}

/** Maintenance of the record, in small steps so that readings are not delayed. */
export interface RecordMaintenance {
  /** Size of its files. */
  recordBytes(): number;
  /** Bytes in use; less than the size of the files after readings were deleted. */
  usedBytes(): number;
  /** Free space on the disk of the record. */
  freeBytes(): number;
  /** Counts a day on which the service has run; once a day is enough. */
  addDay(nowMs: number): void;
  /** What is dated before then is certainly older than a number of days: the clock says so, and the service has seen as many since, or 30. */
  olderThan(days: number, nowMs: number): number;
  /**
   * Deletes some single readings of old runs, in the order in which they were recorded; summaries are kept.
   * @returns the run that it starts with; `more` = a started run has more to delete; null = nothing older is left
   */
  thinStep(endedBeforeMs: number, nowMs: number): { readonly startedRunId: number } | 'more' | null;
  /**
   * Removes some of what was deleted before then: of a run its readings first, then everything else.
   * @returns whether there is more to remove
   */
  emptyBinStep(deletedBeforeMs: number): boolean;
  /** Returns some of the free space in the files to the disk. */
  releaseFreePages(): void;
  /**
   * Makes and checks a backup in a folder, then removes the oldest ones beyond `kept`.
   * @param reserveBytes stays free on the disk of the record during the copy
   * @throws Problem `backup-failed`
   */
  backup(folder: string, nowMs: number, kept: number, reserveBytes?: number): Promise<Backup>;
  /** Newest first. @throws Error if the folder does not answer, such as a network drive that is off */
  backups(folder: string): Promise<readonly Backup[]>;
  /** Checks the whole record. @returns descriptions of what is wrong; empty = nothing */
  check(): Promise<readonly string[]>;
  /** Reads a share of the record from a place on; null = from the beginning. */
  checkShare(from: CheckPlace | null, share: number): Promise<CheckedShare>;
  /** null = never saved, or damaged. */
  rollingCheck(): RollingCheck | null;
  saveRollingCheck(check: RollingCheck): void;
  /** Why something could not be read since the start, in a sentence: a failing card is noticed so before the check gets there. */
  readFailure(): string | null;
  forgetReadFailure(): void;
  /** At start, removes unfinished work of a killed process from the record, its folder and the backup folder. */
  removeLeftovers(backupFolder: string): Promise<void>;
  /** Path for a temporary file on the disk of the record, or for a folder (`replay`). The caller creates and removes it. */
  scratchPath(ending?: 'sqlite' | 'log' | 'replay'): string;
  /** Size of the stored readings and summaries of a run, which is nearly the size of its archive. */
  runBytes(runId: number): number;
  /** Writes everything about an ended run to a new file. */
  writeArchive(runId: number, target: string): Promise<void>;
  /**
   * Imports the run of such a file under a new number, in small steps so that alarms are not delayed.
   * @param file is changed, so pass a copy
   * @param stop cancels it; the promise then rejects and the record is unchanged
   * @param madeHere a recorded log or example that this service judged: a run of this house, named by its new number
   * @throws Problem `bad-archive`, or `bad-log` if it was made here
   */
  readArchive(file: string, stop?: AbortSignal, madeHere?: boolean): Promise<number>;
  /**
   * Imports such a file unless the record has its run already.
   * @returns the number of the run, and whether it was here before
   * @throws Problem `bad-archive`
   */
  readArchiveOnce(file: string, stop?: AbortSignal): Promise<{ readonly id: number; readonly alreadyHere: boolean }>;
}
