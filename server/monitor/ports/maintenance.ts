/** A copy of the whole record. */
export interface Backup {
  readonly path: string;
  readonly timeMs: number;
  readonly bytes: number;
}

/** Keeping house with the record. What it does it does in small steps, so that no reading waits. */
export interface RecordMaintenance {
  /** Bytes of its files. */
  recordBytes(): number;
  /** Bytes of it that are in use: less than its files hold after something was let go. */
  usedBytes(): number;
  /** Bytes that the disk of the record has left. */
  freeBytes(): number;
  /**
   * Let some of the raw readings of old runs go, the oldest run first; what was summed up of them stays.
   * @returns the run that it starts with; `more` = a started run has more to delete; null = there is nothing older
   */
  thinStep(endedBeforeMs: number, nowMs: number): { readonly startedRunId: number } | 'more' | null;
  /** Give some of the free space in the files back to the disk. */
  releaseFreePages(): void;
  /**
   * A checked copy in a folder; the oldest ones beyond `kept` go.
   * @throws Problem `backup-failed`
   */
  backup(folder: string, nowMs: number, kept: number): Promise<Backup>;
  /** Newest first. */
  backups(folder: string): readonly Backup[];
  /** Read all of it. @returns what is wrong, in words; empty = nothing */
  check(): Promise<readonly string[]>;
  /** Remove what a kill left half done in the record, in its folder and in that of the backups; at the start. */
  removeLeftovers(backupFolder: string): Promise<void>;
  /** A path for what is on its way, on the disk of the record; whoever makes it removes it. `judged` = a folder. */
  scratchPath(ending?: 'sqlite' | 'log' | 'judged'): string;
  /** Bytes of the stored readings and summaries of a run: nearly all that a file of it takes. */
  runBytes(runId: number): number;
  /** Write all that is known of an ended run into a new file. */
  writeArchive(runId: number, target: string): Promise<void>;
  /**
   * Take the run of such a file in, under a number of its own, in small steps: no alarm waits for it.
   * @param file is changed: give a copy
   * @param stop ends it early; the promise then rejects, and nothing of it is in the record
   * @throws Problem `bad-archive`
   */
  readArchive(file: string, stop?: AbortSignal): Promise<number>;
}
