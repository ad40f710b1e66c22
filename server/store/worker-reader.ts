import type { WindowQuery } from '../monitor/ports/samples.ts';
import { packedWindow } from '../monitor/ports/window-bytes.ts';
import { HandedOver } from '../worker/calls.ts';
import { type OpenWorker, openWorker, workerCode } from '../worker/open-worker.ts';
import { WhileUsed } from '../worker/while-used.ts';
import { openDatabase } from './database.ts';
import { guardedReads } from './record-failing.ts';
import { runPieces } from './run-pieces.ts';
import type { ColumnReader, DamageListener, TailOf } from './sample-reader.ts';
import type { LiveTail } from './samples/sample-appender.ts';
import { type SampleColumns, SampleQueries } from './samples/sample-queries.ts';

const CODE = workerCode(import.meta.url, 'reader-worker');
export const canUseWorker = CODE !== null;

/** Answers queries of readings over a separate, read-only connection. */
export function createReader({ folder }: { readonly folder: string }, damaged: DamageListener) {
  const database = openDatabase(folder, true);
  const queries = new SampleQueries(database.db, damaged);
  const pieces = runPieces(database.db, damaged);
  /** The columns of a whole spool are transferred instead of copied: each has its own buffer. */
  const handOver = (columns: SampleColumns) =>
    new HandedOver(columns, [columns.timeMs, columns.gaugeMm, ...Object.values(columns.values)]);
  const reads = {
    window: (query: WindowQuery, tail: LiveTail | null) => queries.window(query, tail),
    /** Packing runs in parallel to the next query; everything else is done at once. */
    async windowBytes(query: WindowQuery, pack: boolean, tail: LiveTail | null) {
      const packed = await packedWindow(queries.window(query, tail), pack);
      return new HandedOver(packed, [packed.bytes]);
    },
    extent: (runId: number, tail: LiveTail | null) => queries.extent(runId, tail),
    piece: (...args: Parameters<typeof pieces>) => handOver(pieces(...args)),
    readings: (...args: Parameters<SampleQueries['readings']>) => handOver(queries.readings(...args)),
    close: () => database.close(),
  };
  return guardedReads(reads, database.path);
}

/** A thread takes 9 MB, and at night hardly anyone looks. To open it again takes a tenth of a second. */
const CLOSE_IDLE_AFTER_MS = 5 * 60_000;

type Reader = ReturnType<typeof createReader>;

/**
 * A reader on a worker, so that no query delays a reading or an alarm. Readings that are not on disk yet are sent with the
 * query. If the worker dies, its open queries are rejected, and the next query starts a new worker.
 */
export function workerReader(folder: string, tailOf: TailOf, damaged: DamageListener): ColumnReader {
  let worker: OpenWorker<Reader> | null = null;
  let closed = false;
  let ending: Promise<void> = Promise.resolve();
  const end = () => {
    if (worker !== null) ending = worker.close();
    worker = null;
    return ending;
  };
  const use = new WhileUsed(CLOSE_IDLE_AFTER_MS, () => void end());
  const call: OpenWorker<Reader>['call'] = (...query) =>
    use.run(async () => {
      if (closed) throw new Error('The store is closed.');
      if (worker === null || worker.ended) {
        const start = { folder };
        worker = openWorker({ task: 'reads the record', code: CODE, create: createReader, start, notify: damaged });
      }
      return worker.call(...query);
    });
  return {
    window: (query) => call('window', [query, tailOf(query.runId)]),
    windowBytes: (query, pack) => call('windowBytes', [query, pack, tailOf(query.runId)]),
    extent: (runId) => call('extent', [runId, tailOf(runId)]),
    readings: (runId, ...rest) => call('readings', [runId, ...rest, tailOf(runId)]),
    piece: (...args) => call('piece', args),
    async close() {
      closed = true;
      use.cancel();
      await end();
    },
  };
}
