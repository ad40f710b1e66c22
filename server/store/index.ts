import type { PeopleStore } from '../escalation/people-store.ts';
import type { IdentityStore } from '../identity/identity-store.ts';
import type { RecordMaintenance } from '../monitor/ports/maintenance.ts';
import type { RecordReader, RecordWriter } from '../monitor/ports/record.ts';
import type { SampleReader, SampleWriter } from '../monitor/ports/samples.ts';
import type { SpoolStatements } from '../monitor/ports/spool-statements.ts';
import { Problem } from '../problem/problem.ts';
import { openDatabase } from './database.ts';
import { databaseUpkeep } from './database-upkeep.ts';
import { keptInPlace } from './file-in-place.ts';
import { endTasks } from './maintenance/on-worker.ts';
import { recordMaintenance } from './maintenance/record-maintenance.ts';
import { LAYOUT, layoutOf } from './migrations/migrate.ts';
import { peopleStore } from './people-store.ts';
import { sizeOf } from './private-files.ts';
import { credentialTable } from './record/credentials.ts';
import { type UnreadableListener, UnreadableRows } from './record/unreadable-rows.ts';
import { asOpeningFailing, guardedReads } from './record-failing.ts';
import { recordReader } from './record-reader.ts';
import { recordWriter } from './record-writer.ts';
import { runPieces } from './run-pieces.ts';
import { type DamageListener, type SampleColumnsReader, sameThreadReader } from './sample-reader.ts';
import { type DroppedListener, type LeftOutListener, SampleAppender } from './samples/sample-appender.ts';
import { SampleQueries } from './samples/sample-queries.ts';
import { spoolStatements } from './spool-statements.ts';
import { canUseWorker, workerReader } from './worker-reader.ts';

export { foldersOfUpdate } from './database.ts';
export { backUpFolder } from './maintenance/backups.ts';
export { restoreBackup } from './maintenance/restore.ts';
export { listFolder } from './private-files.ts';
export type { UnreadableRow } from './record/unreadable-rows.ts';
export { RecordFailing } from './record-failing.ts';
export type { SampleColumns } from './samples/sample-queries.ts';

export interface StoreOptions {
  /** The data folder; created if it is missing. */
  readonly folder: string;
  /** Open only for reading: no lock is taken, and calls that write throw. */
  readonly readOnly?: boolean;
  /** Where the backup before an update is made, and one is looked for if part of the record is lost; by default `backups` in the data folder. */
  readonly backupFolder?: string | undefined;
  /** Where queries of readings run; by default on a separate thread, or on the same one if the code is not built. */
  readonly readers?: 'thread' | 'sameThread';
  /** Called once for each stored block that cannot be read. Its readings are shown as gaps. */
  readonly damaged?: DamageListener;
  /** Called once for each row that cannot be read. It is left out of every list. */
  readonly unreadable?: UnreadableListener;
  /** Called once for each signal beyond the number that a run can hold. */
  readonly leftOut?: LeftOutListener;
  /** Called once, with a sentence, for each fault in reading or looking after the database; again only after it worked in between. */
  readonly trouble?: (what: string) => void;
  /** Called once for each gap that a disk left in the readings by failing for too long. */
  readonly dropped?: DroppedListener;
  /** Bytes of packed readings that may wait in memory while the disk fails. */
  readonly waitingBytesMax?: number;
}

export interface Store {
  readonly samples: SampleWriter & {
    /** Readings that were dropped because the disk failed for too long. */
    readonly readingsLost: number;
  };
  readonly columns: SampleReader & SampleColumnsReader;
  readonly writer: RecordWriter;
  readonly reader: RecordReader;
  readonly spoolStatements: SpoolStatements;
  readonly people: PeopleStore;
  readonly identity: IdentityStore;
  readonly maintenance: RecordMaintenance;
  /** The backup made because this version has just changed the layout of the record; null = it did not change it. */
  readonly updatedFrom: string | null;
  /**
   * To be called once a second. Everything appended is on disk when it returns.
   * @throws RecordFailing if the disk fails; everything waits in memory, and the next call tries again
   */
  tick(nowMs: number): void;
  /** Seals open blocks, checkpoints, closes and unlocks the folder. Further calls wait for the same end. */
  close(): Promise<void>;
  /** Bytes on disk, including the write-ahead log. */
  sizeBytes(): number;
}

/**
 * Opens the store of a data folder, with one writer and any number of readers.
 * @throws Problem database-unusable, database-broken, database-newer, backup-failed
 */
export function openStore(options: StoreOptions): Store {
  const { folder, readOnly = false, damaged = () => {} } = options;
  const database = openDatabase(folder, readOnly, options.backupFolder);
  const { db, path } = database;
  if (readOnly && layoutOf(db) < LAYOUT) {
    database.close();
    throw new Problem(
      'database-unusable',
      `${path} was written by an older Strandward.`,
      'Start this version once on its data folder: it makes a backup and updates the record.',
    );
  }
  const unreadable = new UnreadableRows(options.unreadable);
  const appender = new SampleAppender(db, path, options.waitingBytesMax, options.leftOut, options.dropped);
  const queries = new SampleQueries(db, damaged);
  // Without a writer in this process, readings that are in no block yet come from the journal.
  const tailOf = readOnly ? () => null : (runId: number) => appender.tailOf(runId);
  try {
    if (!readOnly) {
      appender.recover((what) => damaged({ runId: 0, block: 0, level: null, why: `journal: ${what}` }));
    }
  } catch (thrown) {
    database.close();
    throw asOpeningFailing(thrown, path);
  }
  const threaded = options.readers ? options.readers === 'thread' : canUseWorker;
  const columns = threaded
    ? workerReader(folder, tailOf, damaged)
    : sameThreadReader(queries, runPieces(db, damaged), tailOf);
  const upkeep = databaseUpkeep(database, options.trouble);
  const requirePlace = keptInPlace(db, path);
  let closing: Promise<void> | null = null;
  const close = async (): Promise<void> => {
    await Promise.all([columns.close(), endTasks()]);
    try {
      if (!readOnly) appender.flush();
    } finally {
      database.close();
    }
  };

  const unread: { why: string | null } = { why: null };
  const readFailed = (why: string) => {
    if (unread.why === null) options.trouble?.(why);
    unread.why ??= why;
  };
  const guarded = <T extends object>(reads: T): T => guardedReads(reads, path, readFailed);
  return {
    samples: appender,
    columns: guarded(columns),
    writer: recordWriter(db, path, (runId) => queries.last(runId, tailOf(runId)), unreadable),
    reader: guarded(recordReader(db, unreadable)),
    spoolStatements: guarded(spoolStatements(db, path, unreadable)),
    people: guarded(peopleStore(db, path, unreadable)),
    identity: guarded(credentialTable(db, path, unreadable)),
    maintenance: recordMaintenance(db, path, unread),
    updatedFrom: database.updatedFrom,
    tick(nowMs) {
      requirePlace();
      appender.commit();
      upkeep(nowMs);
    },
    close: () => {
      closing ??= close();
      return closing;
    },
    sizeBytes: () => sizeOf(path) + sizeOf(`${path}-wal`),
  };
}
