import { randomUUID } from 'node:crypto';
import { statfsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import type { Database } from 'better-sqlite3';
import type { RecordMaintenance } from '../../monitor/ports/maintenance.ts';
import { sizeOf } from '../database.ts';
import { SAMPLE_TABLES } from '../samples/sample-ids.ts';
import { backupsIn, makeBackup } from './backups.ts';
import { onWorker } from './on-worker.ts';
import { removeSamples, strayRuns } from './stray-samples.ts';
import { scratchName, sweep } from './sweep.ts';
import { takeIn } from './take-in.ts';
import { thinning } from './thinning.ts';

/** Pages given back to the disk at a time: 1 MB. */
const GIVEN_BACK_PAGES = 256;
/** So many free pages are kept for what comes next. */
const FREE_PAGES_KEPT = 128;

/** Keeps house in a database that is open for writing. */
export function recordMaintenance(db: Database, path: string): RecordMaintenance {
  const thin = thinning(db);
  let takingIn: Promise<unknown> = Promise.resolve();
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
    thinStep: thin.step,
    giveBack() {
      const free = Number(db.pragma('freelist_count', { simple: true }));
      if (free > FREE_PAGES_KEPT) db.pragma(`incremental_vacuum(${GIVEN_BACK_PAGES})`);
    },
    usedBytes() {
      const pages =
        Number(db.pragma('page_count', { simple: true })) - Number(db.pragma('freelist_count', { simple: true }));
      return pages * Number(db.pragma('page_size', { simple: true }));
    },
    backup: (folder, nowMs, kept) => makeBackup(db, folder, nowMs, kept),
    backups: backupsIn,
    check: () => onWorker('checkFile', path),
    async sweep(backupFolder) {
      // Before anything else can be on its way.
      const strays = strayRuns(db);
      sweep(dirname(path), backupFolder);
      for (const runId of strays) await removeSamples(db, runId);
    },
    scratchPath: (ending = 'sqlite') => join(dirname(path), scratchName(randomUUID(), ending)),
    runBytes: (runId) =>
      stored.reduce((sum, { bytes, firstId }) => sum + bytes.get(firstId(runId), firstId(runId + 1))!, 0),
    writeArchive: (runId, target) => onWorker('writeArchive', path, runId, target),
    readArchive(file, stop) {
      // One at a time: only one file can be attached under the name.
      const taken = takingIn.then(async () => takeIn(db, file, await onWorker('prepareArchive', file), stop));
      takingIn = taken.catch(() => {});
      return taken;
    },
  };
}
