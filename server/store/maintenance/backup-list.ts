import { readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import type { Backup } from '../../monitor/ports/maintenance.ts';

const NAME = /^strandward-(\d{4}-\d\d-\d\dT\d\d-\d\d-\d\dZ)\.sqlite$/;

/** Backups in a folder, newest first. */
export function backupsIn(folder: string): Backup[] {
  let names: string[];
  try {
    names = readdirSync(folder);
  } catch {
    // The folder does not exist yet, or its stick is not plugged in. Making a backup reports that.
    return [];
  }
  return names
    .flatMap((name) => {
      const stamp = NAME.exec(name)?.[1];
      if (stamp === undefined) return [];
      const path = join(folder, name);
      return [{ path, timeMs: timeOfBackup(stamp), bytes: statSync(path, { throwIfNoEntry: false })?.size ?? 0 }];
    })
    .sort((a, b) => b.timeMs - a.timeMs);
}

/** @param stamp time in the name of a backup, `2026-11-25T06-00-00Z` */
export function timeOfBackup(stamp: string): number {
  return Date.parse(stamp.replace(/T(\d\d)-(\d\d)-/, 'T$1:$2:'));
}
