import type { SampleReader } from '../monitor/ports.ts';
import type { DamageListener } from './samples/block-cache.ts';
import type { LiveTail } from './samples/sample-appender.ts';
import type { SampleColumns, SampleQueries } from './samples/sample-queries.ts';

/** Reads raw columns, for judging a run anew and for analysis. */
export interface SampleColumnsReader {
  /** All readings with fromGaugeMm ≤ gauge length ≤ toGaugeMm, in order; an unknown channel is all gaps (NaN). */
  readings(runId: number, fromGaugeMm: number, toGaugeMm: number, channels: readonly string[]): Promise<SampleColumns>;
}

/** A reader that answers on the caller's thread. */
export interface ColumnReader extends SampleReader, SampleColumnsReader {
  close(): Promise<void>;
}

export type TailOf = (runId: number) => LiveTail | null;
export type { DamageListener };

export function sameThreadReader(queries: SampleQueries, tailOf: TailOf): ColumnReader {
  return {
    window: async (query) => queries.window(query, tailOf(query.runId)),
    extent: async (runId) => queries.extent(runId, tailOf(runId)),
    readings: async (runId, from, to, channels) => queries.readings(runId, from, to, channels, tailOf(runId)),
    close: async () => {},
  };
}
