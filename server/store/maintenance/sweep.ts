import { readdirSync, rmSync, statSync } from 'node:fs';
import { join } from 'node:path';

const SCRATCH = /^under-way-.+\.(sqlite(-wal|-shm|-journal)?|log|judged)$/;
const PART = /^strandward-[\dTZ-]+\.sqlite\.part(-wal|-shm|-journal)?$/;
/** A backup folder may be shared: what was written to so lately may be another's that is under way. */
const PART_QUIET_MS = 600_000;

/** A name for a file or folder that is on its way. Not by process number: in a container that is always the same. */
export function scratchName(unique: string, ending: 'sqlite' | 'log' | 'judged'): string {
  return `under-way-${unique}.${ending}`;
}

/**
 * Remove what a kill left half done: files on their way in the data folder, which nobody else uses while it is locked, and
 * backups that were never finished. It throws where one cannot be removed.
 */
export function sweep(dataFolder: string, backupFolder: string): void {
  // What is younger than this process is its own.
  remove(dataFolder, SCRATCH, Date.now() - performance.timeOrigin);
  remove(backupFolder, PART, PART_QUIET_MS);
}

function remove(folder: string, name: RegExp, quietMs: number): void {
  for (const found of namesIn(folder).filter((each) => name.test(each))) {
    const path = join(folder, found);
    const changedMs = statSync(path, { throwIfNoEntry: false })?.mtimeMs;
    if (changedMs !== undefined && Date.now() - changedMs >= quietMs) rmSync(path, { force: true, recursive: true });
  }
}

function namesIn(folder: string): string[] {
  try {
    return readdirSync(folder);
  } catch {
    // No folder, nothing in it: a stick that is not plugged in.
    return [];
  }
}
