import { mkdirSync, readFileSync, truncateSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { describe, expect, it } from 'vitest';
import { Problem } from '../../server/problem/problem.ts';
import { DATABASE_FILE, openDatabase } from '../../server/store/database.ts';
import { openStore } from '../../server/store/index.ts';
import { LAYOUT, layoutOf as layoutNumber, migrate } from '../../server/store/migrations/migrate.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { beginRun, inFolder, layoutOf, readingOf } from './readings.ts';

function problemOf(act: () => unknown): Problem {
  try {
    act();
  } catch (thrown) {
    expect(thrown).toBeInstanceOf(Problem);
    return thrown as Problem;
  }
  throw new Error('nothing was refused');
}

/** A store with a run and some readings, closed afterwards. */
async function filled(folder: string): Promise<string> {
  const store = openStore({ folder });
  const runId = beginRun(store);
  const layout = layoutOf(['d']);
  for (let i = 0; i < 20_000; i++)
    store.samples.append(runId, readingOf(layout, i * 20, [((i * 7919) % 997) / 1000]), i);
  await store.close();
  return join(folder, DATABASE_FILE);
}

describe('the database file', () => {
  it('is created with its folder, and set up so that accepted entries are on disk', async () => {
    await inFolder((folder) => {
      const { db, close } = openDatabase(join(folder, 'data', 'line'), false);
      const pragma = (name: string) => db.pragma(name, { simple: true });
      expect(pragma('journal_mode')).toBe('wal');
      expect(pragma('synchronous')).toBe(2);
      expect(pragma('auto_vacuum')).toBe(2);
      expect(pragma('foreign_keys')).toBe(1);
      expect(pragma('journal_size_limit')).toBe(8_388_608);
      expect(layoutNumber(db)).toBe(LAYOUT);
      close();
    });
  });

  it('is refused and left unchanged if it is no database', async () => {
    await inFolder((folder) => {
      const path = join(folder, DATABASE_FILE);
      const text = 'ms,d,t1\n'.repeat(4000);
      writeFileSync(path, text);
      const problem = problemOf(() => openStore({ folder }));
      expect(problem.code).toBe('database-broken');
      expect(problem.message).toContain(path);
      expect(problem.remedy).toContain('backup');
      expect(readFileSync(path, 'utf8')).toBe(text);
    });
  });

  it('is refused and left unchanged if its end is missing', async () => {
    await inFolder(async (folder) => {
      const path = await filled(folder);
      truncateSync(path, Math.floor(readFileSync(path).length / 2));
      const rest = readFileSync(path);
      const problem = problemOf(() => openStore({ folder }));
      expect(problem.code).toBe('database-broken');
      expect(problem.message).toContain(path);
      expect(readFileSync(path).equals(rest)).toBe(true);
    });
  });

  it('is refused if a page of the record was overwritten', async () => {
    await inFolder(async (folder) => {
      const path = await filled(folder);
      const bytes = readFileSync(path);
      for (let page = 1; page < 8; page++) bytes.fill(0xa5, page * 4096, page * 4096 + 4096);
      writeFileSync(path, bytes);
      expect(problemOf(() => openStore({ folder })).code).toBe('database-broken');
    });
  });

  it('is refused and left unchanged if it belongs to another program', async () => {
    await inFolder((folder) => {
      const path = join(folder, DATABASE_FILE);
      const db = new Sqlite(path);
      db.exec('CREATE TABLE recipe (name TEXT)');
      db.close();
      expect(problemOf(() => openStore({ folder })).message).toContain('another program');
    });
  });

  it('is refused if a newer Strandward wrote it', async () => {
    await inFolder(async (folder) => {
      const path = await filled(folder);
      const db = new Sqlite(path);
      db.pragma(`user_version = ${LAYOUT + 1}`);
      db.close();
      const problem = problemOf(() => openStore({ folder }));
      expect(problem.code).toBe('database-newer');
      expect(problem.message).toContain(`layout ${LAYOUT + 1}`);
    });
  });

  it('belongs to one service at a time', async () => {
    await inFolder(async (folder) => {
      const first = openStore({ folder });
      const problem = problemOf(() => openStore({ folder }));
      expect(problem.code).toBe('database-unusable');
      expect(problem.message).toContain('already in use');
      // Reading is allowed.
      await openStore({ folder, readOnly: true }).close();
      await first.close();
      await openStore({ folder }).close();
    });
  });

  it('is refused where no folder can be created, or if it is a folder itself', async () => {
    await inFolder((folder) => {
      writeFileSync(join(folder, 'file'), '');
      const problem = problemOf(() => openStore({ folder: join(folder, 'file', 'data') }));
      expect(problem.code).toBe('database-unusable');
      mkdirSync(join(folder, 'b', DATABASE_FILE), { recursive: true });
      expect(problemOf(() => openStore({ folder: join(folder, 'b') })).code).toBe('database-unusable');
      expect(problemOf(() => openStore({ folder: join(folder, 'c'), readOnly: true })).code).toBe('database-unusable');
    });
  });

  it.skipIf(!IS_LONG_CHECK)('is carried forward from every older layout with all its content', async () => {
    for (let layout = 0; layout < LAYOUT; layout++) {
      await inFolder(async (folder) => {
        const db = new Sqlite(join(folder, DATABASE_FILE));
        migrate(db, layout);
        if (layout >= 1) {
          db.exec(`INSERT INTO run (started_ms, time_zone, source_title, note) VALUES (17, 'UTC', 'old line', 'kept');
            INSERT INTO stated_section (run_id, target, from_mm, to_mm, verdict, note, removed, at_time_ms)
            VALUES (1, 'p1', 10, 20, 'discard', 'kept too', 0, 18)`);
        }
        db.close();
        const store = openStore({ folder });
        if (layout >= 1) {
          expect(store.reader.run(1)!.note).toBe('kept');
          expect(store.reader.statedSections(1)[0]!.note).toBe('kept too');
        }
        const runId = beginRun(store);
        store.samples.append(runId, readingOf(layoutOf(['d']), 1, [1.75]), 0);
        expect((await store.columns.extent(runId))!.count).toBe(1);
        await store.close();
      });
    }
  });
});
