import type { WindowQuery } from '../monitor/ports/samples.ts';
import { packedWindow } from '../monitor/ports/window-bytes.ts';
import { HandedOver } from '../worker/calls.ts';
import { type OpenWorker, openWorker, workerCode } from '../worker/open-worker.ts';
import { openDatabase } from './database.ts';
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
  return {
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
}

/**
 * A reader on a worker, so that no query delays a reading or an alarm. Readings that are not on disk yet are sent with the
 * query. If the worker dies, its open queries are rejected, and the next query starts a new worker.
 */
export function workerReader(folder: string, tailOf: TailOf, damaged: DamageListener): ColumnReader {
  let worker: OpenWorker<ReturnType<typeof createReader>> | null = null;
  let closed = false;
  const open = () => {
    if (closed) throw new Error('The store is closed.');
    if (worker === null || worker.ended) {
      const start = { folder };
      worker = openWorker({ task: 'reads the record', code: CODE, create: createReader, start, notify: damaged });
    }
    return worker;
  };
  return {
    window: async (query) => open().call('window', [query, tailOf(query.runId)]),
    windowBytes: async (query, pack) => open().call('windowBytes', [query, pack, tailOf(query.runId)]),
    extent: async (runId) => open().call('extent', [runId, tailOf(runId)]),
    readings: async (runId, ...rest) => open().call('readings', [runId, ...rest, tailOf(runId)]),
    piece: async (...args) => open().call('piece', args),
    async close() {
      closed = true;
      await worker?.close();
    },
  };
}
