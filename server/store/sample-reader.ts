import type { SampleColumnsReader, SampleReader } from '../monitor/ports/samples.ts';
import { packedWindow } from '../monitor/ports/window-bytes.ts';
import type { RunPieces } from './run-pieces.ts';
import type { DamageListener } from './samples/block-cache.ts';
import type { LiveTail } from './samples/sample-appender.ts';
import type { SampleQueries } from './samples/sample-queries.ts';

export type { SampleColumnsReader };

/** Answers queries of readings. */
export interface ColumnReader extends SampleReader, SampleColumnsReader {
  close(): Promise<void>;
}

export type TailOf = (runId: number) => LiveTail | null;
export type { DamageListener };

export function sameThreadReader(queries: SampleQueries, pieces: RunPieces, tailOf: TailOf): ColumnReader {
  return {
    window: async (query) => queries.window(query, tailOf(query.runId)),
    windowBytes: async (query, pack) => packedWindow(queries.window(query, tailOf(query.runId)), pack),
    extent: async (runId) => queries.extent(runId, tailOf(runId)),
    readings: async (runId, from, to, signals) => queries.readings(runId, from, to, signals, tailOf(runId)),
    piece: async (runId, first, count, signals) => pieces(runId, first, count, signals),
    close: async () => {},
  };
}
