import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DuckDBInstance } from '@duckdb/node-api';

/** DuckDB with a folder for exported files, as an independent check. Times in UTC. */
export interface OutsideReader {
  readonly folder: string;
  run(sql: string): Promise<void>;
  rows<T>(sql: string): Promise<T[]>;
  close(): void;
}

export async function outsideReader(): Promise<OutsideReader> {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-duckdb-'));
  const instance = await DuckDBInstance.create(':memory:');
  const connection = await instance.connect();
  await connection.run("SET TimeZone = 'UTC'");
  return {
    folder,
    run: async (sql) => {
      await connection.run(sql);
    },
    rows: async <T>(sql: string) => (await connection.runAndReadAll(sql)).getRowObjectsJS() as unknown as T[],
    close() {
      connection.closeSync();
      instance.closeSync();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}
