import { statSync } from 'node:fs';
import Database from 'better-sqlite3';
import { type Batch, SIGNALS } from './generated-night.ts';
import type { Peer, PeerColumn } from './peer.ts';

/** What a first script would do: a row a reading, an index on time, durable a second at a time. */
export function plainRows(file: string, rowsACommit: number): Peer {
  const db = new Database(file);
  db.pragma('journal_mode = WAL');
  db.pragma('synchronous = FULL');
  const names = ['time', 'gauge', ...SIGNALS.map(({ name }) => name)];
  db.exec(
    `CREATE TABLE reading (${names.map((name) => `${name} REAL`).join(', ')}); CREATE INDEX at ON reading (time)`,
  );
  const insert = db.prepare(`INSERT INTO reading VALUES (${names.map(() => '?').join(', ')})`);
  const row = new Array<number>(names.length);
  const commit = db.transaction((batch: Batch, from: number, to: number) => {
    for (let i = from; i < to; i++) {
      row[0] = batch.timeMs[i]!;
      row[1] = batch.gaugeMm[i]!;
      for (let c = 0; c < SIGNALS.length; c++) row[c + 2] = batch.values[c]![i]!;
      insert.run(row);
    }
  });
  const window = db.prepare(
    `SELECT min(cast((time - @from) / @width AS INTEGER), @last) AS at, count(*) AS count, min(d) AS min, max(d) AS max,
     avg(d) AS mean FROM reading WHERE time >= @from AND time <= @to GROUP BY 1 ORDER BY 1`,
  );
  return {
    async take(batch) {
      for (let from = 0; from < batch.count; from += rowsACommit) {
        commit(batch, from, Math.min(from + rowsACommit, batch.count));
      }
    },
    async window(from, to, columns) {
      return window.all({ from, to, width: (to - from) / columns, last: columns - 1 }) as PeerColumn[];
    },
    async close() {
      db.pragma('wal_checkpoint(TRUNCATE)');
      db.close();
      return statSync(file).size;
    },
  };
}
