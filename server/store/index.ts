import type { PeopleStore } from '../escalation/people-store.ts';
import type { RecordMaintenance } from '../monitor/ports/maintenance.ts';
import type { RecordReader, RecordWriter } from '../monitor/ports/record.ts';
import type { SampleReader, SampleWriter } from '../monitor/ports/samples.ts';
import type { SpoolStatements } from '../monitor/ports/spool-statements.ts';
import { BUSY_TIMEOUT_MS, openDatabase, sizeOf } from './database.ts';
import { recordMaintenance } from './maintenance/record-maintenance.ts';
import { peopleStore } from './people-store.ts';
import { recordReader } from './record-reader.ts';
import { recordWriter } from './record-writer.ts';
import { runPieces } from './run-pieces.ts';
import { type DamageListener, type SampleColumnsReader, sameThreadReader } from './sample-reader.ts';
import { type LeftOutListener, SampleAppender } from './samples/sample-appender.ts';
import { SampleQueries } from './samples/sample-queries.ts';
import { spoolStatements } from './spool-statements.ts';
import { canUseWorker, workerReader } from './worker-reader.ts';

export { backUpFolder } from './maintenance/backup-command.ts';
export { restoreBackup } from './maintenance/restore.ts';
export { RecordFailing } from './record-failing.ts';

export type { SampleColumns } from './samples/sample-queries.ts';

export interface StoreOptions {
  /** The data folder; made where it is missing. */
  readonly folder: string;
  /** Look only: no lock, nothing is written, the writing calls throw. */
  readonly readOnly?: boolean;
  /** Where questions about samples are answered; by itself on a thread of its own wherever the code is built. */
  readonly readers?: 'thread' | 'sameThread';
  /** Told once of every stored block that cannot be understood. Its readings are shown as gaps. */
  readonly damaged?: DamageListener;
  /** Told of channels beyond what a run can hold, once of each. */
  readonly leftOut?: LeftOutListener;
  /** Bytes of packed readings that may wait while the disk refuses. */
  readonly waitingBytesMax?: number;
}

export interface Store {
  readonly samples: SampleWriter & {
    /** Readings that were given up because the disk refused for too long. */
    readonly readingsLost: number;
  };
  readonly columns: SampleReader & SampleColumnsReader;
  readonly writer: RecordWriter;
  readonly reader: RecordReader;
  readonly spoolStatements: SpoolStatements;
  readonly people: PeopleStore;
  readonly maintenance: RecordMaintenance;
  /**
   * To be called once a second: what was appended is on disk when it returns.
   * @throws RecordFailing when the disk refuses; everything waits in memory, the next call tries again
   */
  tick(nowMs: number): void;
  /** Seal what is open, checkpoint, let the folder go; a second call does nothing more. */
  close(): Promise<void>;
  /** Bytes on disk, the write-ahead log included. */
  sizeBytes(): number;
}

/** A write-ahead log that a slow reader made larger than this is cut back as soon as nobody reads. */
const WAL_BYTES_MAX = 32 * 2 ** 20;
const WAL_LOOK_EVERY_MS = 10_000;

/**
 * Open the store of a data folder: one writer, readers beside it.
 * @throws Problem database-unusable, database-broken, database-newer
 */
export function openStore(options: StoreOptions): Store {
  const { folder, readOnly = false, damaged = () => {} } = options;
  const database = openDatabase(folder, readOnly);
  const { db, path } = database;
  const appender = new SampleAppender(db, path, options.waitingBytesMax, options.leftOut);
  const queries = new SampleQueries(db, damaged);
  // Without a writer in this process the journal tells what is in no block yet.
  const tailOf = readOnly ? () => null : (runId: number) => appender.tailOf(runId);
  try {
    if (!readOnly) {
      appender.recover((thrown) => damaged({ runId: 0, block: 0, level: null, why: `journal: ${String(thrown)}` }));
    }
  } catch (thrown) {
    database.close();
    throw thrown;
  }
  const threaded = options.readers ? options.readers === 'thread' : canUseWorker;
  const columns = threaded
    ? workerReader(folder, tailOf, damaged)
    : sameThreadReader(queries, runPieces(db, damaged), tailOf);
  let walLookedMs = Number.NEGATIVE_INFINITY;
  let closing: Promise<void> | null = null;
  const cutBack = (): void => {
    // A reader that goes on must not hold up the watching: then the next look tries again.
    db.pragma('busy_timeout = 0');
    try {
      db.pragma('wal_checkpoint(TRUNCATE)');
    } finally {
      db.pragma(`busy_timeout = ${BUSY_TIMEOUT_MS}`);
    }
  };
  const close = async (): Promise<void> => {
    await columns.close();
    try {
      if (!readOnly) appender.flush();
    } finally {
      database.close();
    }
  };

  return {
    samples: appender,
    columns,
    writer: recordWriter(db, path, (runId) => queries.last(runId, tailOf(runId))),
    reader: recordReader(db),
    spoolStatements: spoolStatements(db, path),
    people: peopleStore(db, path),
    maintenance: recordMaintenance(db, path),
    tick(nowMs) {
      appender.commit();
      if (nowMs - walLookedMs < WAL_LOOK_EVERY_MS) return;
      walLookedMs = nowMs;
      if (sizeOf(`${path}-wal`) > WAL_BYTES_MAX) cutBack();
    },
    close: () => {
      closing ??= close();
      return closing;
    },
    sizeBytes: () => sizeOf(path) + sizeOf(`${path}-wal`),
  };
}
