import type { Database } from 'better-sqlite3';
import { SAMPLE_TABLES } from '../samples/sample-ids.ts';

const ROWS_A_STEP = 32;

/** Removes the readings of a run in small steps, so that nothing else is delayed. */
export async function removeSamples(db: Database, runId: number): Promise<void> {
  for (const { name, firstId } of SAMPLE_TABLES) {
    const drop = db.prepare(
      `DELETE FROM main.${name} WHERE id IN
       (SELECT id FROM main.${name} WHERE id >= ? AND id < ? ORDER BY id LIMIT ${ROWS_A_STEP})`,
    );
    while (drop.run(firstId(runId), firstId(runId + 1)).changes > 0) {
      await new Promise((resolve) => setImmediate(resolve));
    }
  }
}

/** Ids of runs that have readings but no row in `run`: an import was killed half-way. One query per run and table. */
export function orphanedRuns(db: Database): number[] {
  const known = db.prepare<[number], number>('SELECT 1 FROM run WHERE id = ?').pluck();
  const found = new Set<number>();
  for (const { name, firstId } of SAMPLE_TABLES) {
    const next = db.prepare<[number], number | null>(`SELECT min(id) FROM ${name} WHERE id >= ?`).pluck();
    let from = 0;
    for (let id = next.get(from) ?? null; id !== null; id = next.get(from) ?? null) {
      const runId = Math.floor(id / firstId(1));
      if (known.get(runId) === undefined) found.add(runId);
      from = firstId(runId + 1);
    }
  }
  return [...found];
}
