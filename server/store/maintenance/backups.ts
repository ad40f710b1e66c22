import type { Backup } from '../../monitor/ports/maintenance.ts';
import { Problem } from '../../problem/problem.ts';
import { placeOf, requireAnswer } from '../../worker/hanging-path.ts';
import { waitAtMost } from '../../worker/wait-at-most.ts';
import { openDatabase } from '../database.ts';
import { lockFolder } from '../folder-lock.ts';
import { sizeOf } from '../private-files.ts';
import { backupFailed } from './copy-record.ts';
import { onWorker } from './on-worker.ts';

/** The slowest sticks are written and checked at half a megabyte a second. */
const patienceMs = (database: string) => 600_000 + 2000 * Math.ceil(sizeOf(database) / 1e6);

/** Places at which a backup is being made. One that was given up goes on as soon as its drive answers. */
const underWay = new Set<string>();

/**
 * Copies the database while it is being written, on a worker: a stick may take minutes, and a drive may hang at any moment. The
 * copy is checked before it counts as a backup; only then are older ones beyond `kept` deleted (null = none).
 * @param reserveBytes stays free on the disk of the record during the copy
 * @throws Problem `backup-failed`, also if it takes too long
 */
export async function makeBackup(
  database: string,
  folder: string,
  nowMs: number,
  kept: number | null,
  reserveBytes = 0,
  withinMs = patienceMs(database),
): Promise<Backup> {
  try {
    await requireAnswer(folder);
    // Each that hangs takes a thread.
    const place = placeOf(folder);
    if (underWay.has(place)) throw new Error('the drive has not finished an earlier one');
    underWay.add(place);
    const made = onWorker('copyRecord', database, folder, nowMs, kept, reserveBytes).finally(() =>
      underWay.delete(place),
    );
    return await waitAtMost(withinMs, made, () => {});
  } catch (thrown) {
    throw thrown instanceof Problem ? thrown : backupFailed(folder, thrown);
  }
}

/**
 * Makes a backup of a record while no service is running. The record keeps its layout, so this also works before a newer
 * version carries it forward.
 * @throws Problem `database-unusable` if there is no record or the folder is in use, `database-broken`,
 *   `database-newer`, `backup-failed`
 */
export async function backUpFolder(folder: string, backupFolder: string, nowMs: number): Promise<Backup> {
  const { path, close } = openDatabase(folder, true);
  try {
    const unlock = lockFolder(
      folder,
      'Make the backup on its page Set-up, with the button “Make a backup”; or stop it first.',
    );
    try {
      return await makeBackup(path, backupFolder, nowMs, null);
    } finally {
      unlock();
    }
  } finally {
    close();
  }
}
