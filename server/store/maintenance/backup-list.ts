import { readdirSync, rmSync, statSync } from 'node:fs';
import { join } from 'node:path';
import type { Backup } from '../../monitor/ports/maintenance.ts';

const NAME = /^strandward-(\d{4}-\d\d-\d\dT\d\d-\d\d-\d\dZ)(-before-update-to-[\w.+-]+)?\.sqlite$/;
/** A backup that is being made, or was when the process was killed. */
export const UNFINISHED_BACKUP = /^strandward-[\dTZ-]+(before-update-to-[\w.+-]+)?\.sqlite\.part(-wal|-shm|-journal)?$/;

/** How long the backup from before an update is kept once there are newer ones. */
export const BEFORE_UPDATE_KEPT_DAYS = 30;

/** @param updateTo the version that is about to change the layout of the record; null = an ordinary backup */
export function nameOfBackup(nowMs: number, updateTo: string | null = null): string {
  const stamp = new Date(nowMs).toISOString().slice(0, 19).replaceAll(':', '-');
  return `strandward-${stamp}Z${updateTo === null ? '' : `-before-update-to-${updateTo}`}.sqlite`;
}

export interface ListedBackup extends Backup {
  /** Made before a newer version changed the layout of the record, so an older version can use it. */
  readonly beforeUpdate: boolean;
}

/** Backups in a folder, newest first. */
export function backupsIn(folder: string): ListedBackup[] {
  let names: string[];
  try {
    names = readdirSync(folder);
  } catch {
    // The folder does not exist yet, or its stick is not plugged in. Making a backup reports that.
    return [];
  }
  return names
    .flatMap((name) => {
      const [, stamp, update] = NAME.exec(name) ?? [];
      const timeMs = Date.parse(stamp?.replace(/T(\d\d)-(\d\d)-/, 'T$1:$2:') ?? '');
      if (Number.isNaN(timeMs)) return [];
      const path = join(folder, name);
      const bytes = statSync(path, { throwIfNoEntry: false })?.size ?? 0;
      return [{ path, timeMs, bytes, beforeUpdate: update !== undefined }];
    })
    .sort((a, b) => b.timeMs - a.timeMs);
}

/**
 * Removes backups that newer ones have replaced.
 * @param made the backup just made: it is the newest. Others with a later date were made by a clock that was ahead, and
 *   count as the oldest: otherwise each new one would replace the one before
 * @param kept ordinary backups to keep, that one included
 * @param oldMs those from before an update are no longer kept if they are older
 */
export function removeOldBackups(folder: string, made: string, kept: number, nowMs: number, oldMs: number): void {
  const others = backupsIn(folder).filter(({ path }) => path !== made);
  const updates = others.filter(({ beforeUpdate }) => beforeUpdate);
  const ordinary = others.filter(({ beforeUpdate }) => !beforeUpdate);
  const isAhead = ({ timeMs }: ListedBackup) => timeMs > nowMs;
  const tooMany = [...ordinary.filter((one) => !isAhead(one)), ...ordinary.filter(isAhead)].slice(
    Math.max(kept - 1, 0),
  );
  const tooOld = updates.filter(({ timeMs }) => timeMs < oldMs);
  for (const { path } of [...tooMany, ...tooOld]) rmSync(path, { force: true });
}
