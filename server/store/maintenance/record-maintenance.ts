import { randomUUID } from 'node:crypto';
import { statfsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import type { Database } from 'better-sqlite3';
import type { RecordMaintenance } from '../../monitor/ports/maintenance.ts';
import { requireAnswer } from '../../worker/hanging-path.ts';
import { sizeOf } from '../private-files.ts';
import { daysSeen } from '../record/days-seen.ts';
import { rollingCheckTable } from '../record/rolling-check.ts';
import { SAMPLE_TABLES } from '../samples/sample-ids.ts';
import { backupsIn } from './backup-list.ts';
import { makeBackup } from './backups.ts';
import { emptying } from './emptying.ts';
import { importRun, removeAbandoned, runAlreadyHere } from './import-run.ts';
import { removeTemporary, removeUnfinishedBackups, temporaryName } from './leftovers.ts';
import { onWorker } from './on-worker.ts';
import { thinning } from './thinning.ts';

/** Pages released to the disk at a time: 1 MB. */
const PAGES_RELEASED = 256;
/** Free pages that stay in the file for new rows. */
const FREE_PAGES_KEPT = 128;

/**
 * Backups, checks, deletion of old readings, and archives of runs, for a database that is open for writing.
 * @param unread why something could not be read since the start
 */
export function recordMaintenance(db: Database, path: string, unread: { why: string | null }): RecordMaintenance {
  const thin = thinning(db);
  const rolling = rollingCheckTable(db);
  const seen = daysSeen(db);
  let lastImport: Promise<unknown> = Promise.resolve();
  /** One at a time: only one file can be attached under the name. The caller gets the error of the import that it asked for. */
  const oneImport = <T>(work: () => Promise<T>): Promise<T> => {
    const imported = lastImport.then(work);
    lastImport = imported.catch(() => {});
    return imported;
  };
  const bytesOf = (table: string) =>
    db
      .prepare<[number, number], number>(`SELECT coalesce(sum(length(data)), 0) FROM ${table} WHERE id >= ? AND id < ?`)
      .pluck();
  const stored = SAMPLE_TABLES.filter(({ name }) => name !== 'sample_span').map(({ name, firstId }) => ({
    bytes: bytesOf(name),
    firstId,
  }));
  return {
    recordBytes: () => sizeOf(path) + sizeOf(`${path}-wal`),
    freeBytes() {
      const { bavail, bsize } = statfsSync(dirname(path));
      return bavail * bsize;
    },
    addDay: seen.add,
    olderThan: seen.olderThan,
    thinStep: thin.step,
    emptyBinStep: emptying(db),
    releaseFreePages() {
      const free = Number(db.pragma('freelist_count', { simple: true }));
      if (free > FREE_PAGES_KEPT) db.pragma(`incremental_vacuum(${PAGES_RELEASED})`);
    },
    usedBytes() {
      const pages =
        Number(db.pragma('page_count', { simple: true })) - Number(db.pragma('freelist_count', { simple: true }));
      return pages * Number(db.pragma('page_size', { simple: true }));
    },
    backup: (folder, nowMs, kept, reserveBytes) => makeBackup(path, folder, nowMs, kept, reserveBytes),
    async backups(folder) {
      await requireAnswer(folder);
      return backupsIn(folder);
    },
    check: () => onWorker('checkFile', path),
    checkShare: (from, share) => onWorker('checkShare', path, from, share),
    rollingCheck: rolling.load,
    saveRollingCheck: rolling.save,
    readFailure: () => unread.why,
    forgetReadFailure() {
      unread.why = null;
    },
    async removeLeftovers(backupFolder) {
      removeTemporary(dirname(path));
      // Before a new import can start.
      await removeAbandoned(db);
      await requireAnswer(backupFolder);
      removeUnfinishedBackups(backupFolder);
    },
    scratchPath: (ending = 'sqlite') => join(dirname(path), temporaryName(randomUUID(), ending)),
    runBytes: (runId) =>
      stored.reduce((sum, { bytes, firstId }) => sum + (bytes.get(firstId(runId), firstId(runId + 1)) ?? 0), 0),
    writeArchive: (runId, target) => onWorker('writeArchive', path, runId, target),
    readArchive: (file, stop, madeHere) =>
      oneImport(async () => importRun(db, file, await onWorker('prepareArchive', file), stop, madeHere)),
    readArchiveOnce: (file, stop) =>
      oneImport(async () => {
        const prepared = await onWorker('prepareArchive', file);
        const known = runAlreadyHere(db, file, prepared);
        if (known !== null) return { id: known, alreadyHere: true };
        return { id: await importRun(db, file, prepared, stop), alreadyHere: false };
      }),
  };
}
