import { readdirSync, rmSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { UNFINISHED_BACKUP } from './backup-list.ts';

/** `judged`: the name of `replay` in earlier versions. */
const TEMPORARY = /^under-way-.+\.(sqlite(-wal|-shm|-journal)?|log|judged|replay)$/;
/** A backup folder may be shared: a file that was changed more recently may be a backup that another service is making. */
const UNCHANGED_FOR_MS = 600_000;

/** A name for a temporary file or folder. Process ids would not do: in a container they are always the same. */
export function temporaryName(unique: string, ending: 'sqlite' | 'log' | 'replay'): string {
  return `under-way-${unique}.${ending}`;
}

/** Removes temporary files that a killed service left in the data folder, which is locked against other services. Throws if one cannot be removed. */
export function removeTemporary(dataFolder: string): void {
  // Files younger than this process are its own.
  remove(dataFolder, TEMPORARY, Date.now() - performance.timeOrigin);
}

/** The same for unfinished backups. */
export function removeUnfinishedBackups(backupFolder: string): void {
  remove(backupFolder, UNFINISHED_BACKUP, UNCHANGED_FOR_MS);
}

function remove(folder: string, name: RegExp, unchangedMs: number): void {
  for (const found of namesIn(folder).filter((each) => name.test(each))) {
    const path = join(folder, found);
    const changedMs = statSync(path, { throwIfNoEntry: false })?.mtimeMs;
    if (changedMs !== undefined && Date.now() - changedMs >= unchangedMs)
      rmSync(path, { force: true, recursive: true });
  }
}

function namesIn(folder: string): string[] {
  try {
    return readdirSync(folder);
  } catch {
    // The folder does not exist, for example because its stick is not plugged in.
    return [];
  }
}
