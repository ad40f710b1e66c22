/** Another program that has opened the database locks it, and keeps it locked. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { expect, it } from 'vitest';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore } from '../../server/store/index.ts';

it('is not waited for: the line is watched, and entries are refused until it is unlocked', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-locked-'));
  const store = openStore({ folder, readers: 'sameThread' });
  const other = new Sqlite(join(folder, DATABASE_FILE));
  const enter = () => store.writer.log({ timeMs: 0, runId: null, who: 'Ada', what: 'An entry.' });
  try {
    other.exec('BEGIN IMMEDIATE');
    const startMs = performance.now();
    for (let i = 0; i < 5; i++) {
      expect(enter).toThrow(
        expect.objectContaining({
          code: 'record-failing',
          message: expect.stringMatching(/another program has locked/),
        }),
      );
    }
    // Each second there is more than one attempt, and nothing else happens during it.
    expect(performance.now() - startMs).toBeLessThan(2500);
    other.exec('ROLLBACK');
    enter();
    expect(store.reader.logEntries({ limit: 10 })).toHaveLength(1);
  } finally {
    other.close();
    await store.close();
    rmSync(folder, { recursive: true });
  }
});
