import { statSync } from 'node:fs';
import { DOUBLE, DuckDBDataChunk, DuckDBInstance } from '@duckdb/node-api';
import { SIGNALS } from './generated-night.ts';
import type { Peer, PeerColumn } from './peer.ts';

/** Rows of a chunk that DuckDB takes at once. */
const CHUNK = 2048;

/** The same readings in a table of DuckDB, a column store; `packed` writes them as Parquet and tells its size. */
export async function duckdbPeer(file: string): Promise<Peer & { packed(parquet: string): Promise<number> }> {
  const instance = await DuckDBInstance.create(file);
  const connection = await instance.connect();
  const names = ['time', 'gauge', ...SIGNALS.map(({ name }) => name)];
  await connection.run(`CREATE TABLE reading (${names.map((name) => `"${name}" DOUBLE`).join(', ')})`);
  const appender = await connection.createAppender('reading');
  const types = names.map(() => DOUBLE);
  const window = await connection.prepare(
    `SELECT least(cast(floor((time - $1) / $2) AS INTEGER), $3) AS "at", count(*)::INTEGER AS count, min(d) AS min,
     max(d) AS max, avg(d) AS mean FROM reading WHERE time >= $1 AND time <= $4 GROUP BY 1 ORDER BY 1`,
  );
  return {
    async take({ count, timeMs, gaugeMm, values }) {
      const columns = [timeMs, gaugeMm, ...values];
      for (let from = 0; from < count; from += CHUNK) {
        const rows = Math.min(CHUNK, count - from);
        const chunk = DuckDBDataChunk.create(types, rows);
        for (let c = 0; c < columns.length; c++) {
          const vector = chunk.getColumnVector(c);
          for (let i = 0; i < rows; i++) vector.setItem(i, columns[c]![from + i]!);
          vector.flush();
        }
        appender.appendDataChunk(chunk);
      }
      appender.flushSync();
    },
    async window(from, to, columns) {
      window.bindDouble(1, from);
      window.bindDouble(2, (to - from) / columns);
      window.bindInteger(3, columns - 1);
      window.bindDouble(4, to);
      const reader = await window.runAndReadAll();
      return reader.getRowObjects() as unknown as PeerColumn[];
    },
    /** Both versions of Parquet's encodings, with zstd; the smaller one counts. */
    async packed(parquet) {
      const sizes: number[] = [];
      for (const version of ['v1', 'v2']) {
        await connection.run(
          `COPY (SELECT make_timestamp(cast(round(time * 1000) AS BIGINT)) AS time, * EXCLUDE (time) FROM reading)
           TO '${parquet}' (FORMAT parquet, COMPRESSION zstd, PARQUET_VERSION ${version})`,
        );
        sizes.push(statSync(parquet).size);
      }
      return Math.min(...sizes);
    },
    async close() {
      appender.closeSync();
      await connection.run('CHECKPOINT');
      connection.closeSync();
      instance.closeSync();
      return statSync(file).size;
    },
  };
}
