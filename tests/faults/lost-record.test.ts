/** A database or its write-ahead log that disappears between two starts. */
import {
  copyFileSync,
  existsSync,
  mkdirSync,
  readFileSync,
  rmSync,
  statSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { describe, expect, it } from 'vitest';
import { Problem } from '../../server/problem/problem.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { CHECKPOINT_EVERY_MS } from '../../server/store/database-upkeep.ts';
import { backUpFolder, openStore, restoreBackup, type Store } from '../../server/store/index.ts';
import { MARKER_FILE } from '../../server/store/marker.ts';
import { beginRun, inFolder, layoutOf, readingOf } from '../store/readings.ts';

const layout = layoutOf(['d']);

function refusalOf(folder: string): Problem {
  try {
    void openStore({ folder }).close();
  } catch (thrown) {
    expect(thrown).toBeInstanceOf(Problem);
    return thrown as Problem;
  }
  throw new Error('nothing was refused');
}

/** A closed record with a run and a backup in its usual folder. @returns path of the backup */
async function filled(folder: string): Promise<string> {
  const store = openStore({ folder, readers: 'sameThread' });
  const runId = beginRun(store);
  for (let i = 0; i < 20_000; i++) store.samples.append(runId, readingOf(layout, i * 20, [1.75]), i);
  const { path } = await store.maintenance.backup(join(folder, 'backups'), 1_790_000_000_000, 3);
  await store.close();
  return path;
}

/** What a kill leaves, without the write-ahead log. */
function killedWithoutLog(from: string, to: string): void {
  mkdirSync(to);
  for (const name of [DATABASE_FILE, MARKER_FILE]) copyFileSync(join(from, name), join(to, name));
}

describe('a lost record', () => {
  for (const [what, lose, sentence] of [
    ['empty', (path: string) => truncateSync(path, 0), 'the database is empty (0 bytes)'],
    ['missing', (path: string) => rmSync(path), 'the database is missing'],
  ] as const) {
    it(`is not replaced by a new one if its database is ${what}`, async () => {
      await inFolder(async (folder) => {
        const backup = await filled(folder);
        const path = join(folder, DATABASE_FILE);
        lose(path);
        for (let start = 0; start < 2; start++) {
          const { code, message, remedy, exitCode } = refusalOf(folder);
          expect([code, exitCode]).toStrictEqual(['database-broken', 6]);
          expect(message).toContain(sentence);
          expect(message).toContain('it held 1 run ');
          expect(remedy).toContain(`strandward restore '${backup}' --data '${folder}'`);
          expect(existsSync(path) && statSync(path).size > 0).toBe(false);
        }
        // Who asks for a diagnosis or a backup hears the same; an empty backup would be the newest.
        expect(() => openStore({ folder, readOnly: true })).toThrow(sentence);
        await expect(backUpFolder(folder, join(folder, 'backups'), 1_790_000_000_000)).rejects.toThrow(sentence);
        restoreBackup(folder, backup, 1_790_000_000_000);
        const restored = openStore({ folder });
        expect(restored.reader.runs()).toHaveLength(1);
        await restored.close();
      });
    });
  }

  it('is begun again only once the marker was deleted', async () => {
    await inFolder(async (folder) => {
      await filled(folder);
      rmSync(join(folder, DATABASE_FILE));
      const marker = join(folder, MARKER_FILE);
      expect(refusalOf(folder).remedy).toContain(`delete ${marker}`);
      rmSync(marker);
      const again = openStore({ folder });
      expect(again.reader.runs()).toStrictEqual([]);
      await again.close();
    });
  });

  it('is begun again with a word if its marker is missing, too', async () => {
    const reportedIn = async (folder: string): Promise<string[]> => {
      const reported: string[] = [];
      const store = openStore({ folder, readers: 'sameThread', trouble: (what) => reported.push(what) });
      store.tick(0);
      store.tick(1000);
      expect(store.reader.runs()).toStrictEqual([]);
      await store.close();
      return reported;
    };
    await inFolder(async (folder) => {
      const backup = await filled(folder);
      for (const name of [DATABASE_FILE, MARKER_FILE]) rmSync(join(folder, name));
      const [sentence, ...others] = await reportedIn(folder);
      expect(sentence).toMatch(/^There was no database, .* so a new record has begun\. /);
      expect(sentence).toContain(`strandward restore '${backup}'`);
      expect(others).toStrictEqual([]);
    });
    await inFolder(async (folder) => {
      writeFileSync(join(folder, DATABASE_FILE), '');
      expect(await reportedIn(folder)).toStrictEqual([
        `The database was empty (0 bytes), and nothing says what it held, so a new record has begun. If it held anything, restore a backup: strandward restore FILE --data '${folder}'.`,
      ]);
    });
    await inFolder(async (folder) => expect(await reportedIn(folder)).toStrictEqual([]));
  });

  it('is noticed even if the marker is damaged as well', async () => {
    await inFolder(async (folder) => {
      await filled(folder);
      const marker = join(folder, MARKER_FILE);
      writeFileSync(marker, readFileSync(marker, 'utf8').replace('"run":1', '"run":0'));
      // The database alone is enough.
      await openStore({ folder }).close();
      writeFileSync(marker, '');
      rmSync(join(folder, DATABASE_FILE));
      expect(refusalOf(folder).message).toContain('its marker is damaged');
    });
  });
});

describe('a write-ahead log that is missing after a kill', () => {
  it('is noticed by the runs and entries that the database lacks', async () => {
    await inFolder(async (folder) => {
      await filled(folder);
      const store = openStore({ folder, readers: 'sameThread' });
      beginRun(store);
      store.tick(0);
      killedWithoutLog(folder, join(folder, 'killed'));
      expect(refusalOf(join(folder, 'killed')).message).toContain(
        '1 run missing; its write-ahead log is missing or empty, too (',
      );
      await store.close();
      // Nothing was copied from its log yet.
      const young = openStore({ folder: join(folder, 'young'), readers: 'sameThread' });
      beginRun(young);
      young.tick(0);
      killedWithoutLog(join(folder, 'young'), join(folder, 'young, killed'));
      expect(refusalOf(join(folder, 'young, killed')).message).toMatch(
        /: the file is older than the record was \(layout 0 instead of \d+\); its write-ahead log is missing or empty, too \(/,
      );
      await young.close();
    });
  });

  it.each([
    ['missing', () => {}],
    ['empty', (log: string) => writeFileSync(log, '')],
  ])(
    'loses at most what was recorded since the last checkpoint, and is reported once: a log that is %s',
    async (_, leave) => {
      await inFolder(async (folder) => {
        const store = openStore({ folder, readers: 'sameThread' });
        const runId = beginRun(store);
        store.tick(0);
        const append = (from: number) => {
          for (let i = from; i < from + 1000; i++) store.samples.append(runId, readingOf(layout, i * 20, [1.75]), i);
        };
        append(0);
        store.tick(CHECKPOINT_EVERY_MS);
        append(1000);
        store.tick(CHECKPOINT_EVERY_MS + 10_000);
        killedWithoutLog(folder, join(folder, 'killed'));
        leave(join(folder, 'killed', `${DATABASE_FILE}-wal`));
        const reported: string[] = [];
        const after = openStore({
          folder: join(folder, 'killed'),
          readers: 'sameThread',
          trouble: (what) => reported.push(what),
        });
        after.tick(0);
        after.tick(1000);
        expect(reported).toHaveLength(1);
        expect(reported[0]).toContain('The write-ahead log of the last session is missing or empty.');
        expect((await after.columns.extent(runId))?.count).toBe(1000);
        await after.close();
        await store.close();
      });
    },
  );
});

describe('the marker', () => {
  it('can be read by the service’s user only, and is no obstacle after an ordinary kill or stop', async () => {
    await inFolder(async (folder) => {
      await filled(folder);
      expect(statSync(join(folder, MARKER_FILE)).mode & 0o777).toBe(0o600);
      const store: Store = openStore({ folder, readers: 'sameThread' });
      beginRun(store);
      store.tick(0);
      const killed = join(folder, 'killed');
      killedWithoutLog(folder, killed);
      copyFileSync(join(folder, `${DATABASE_FILE}-wal`), join(killed, `${DATABASE_FILE}-wal`));
      await store.close();
      const after = openStore({ folder: killed });
      expect(after.reader.runs()).toHaveLength(2);
      await after.close();
    });
  });

  it('expects no log that a checkpoint has just emptied', async () => {
    await inFolder(async (folder) => {
      const store = openStore({ folder, readers: 'sameThread' });
      beginRun(store);
      store.tick(0);
      store.tick(CHECKPOINT_EVERY_MS);
      const killed = join(folder, 'killed');
      killedWithoutLog(folder, killed);
      expect(statSync(join(folder, `${DATABASE_FILE}-wal`)).size).toBe(0);
      writeFileSync(join(killed, `${DATABASE_FILE}-wal`), '');
      await store.close();
      const reported: string[] = [];
      const after = openStore({ folder: killed, readers: 'sameThread', trouble: (what) => reported.push(what) });
      after.tick(0);
      expect(reported).toEqual([]);
      await after.close();
    });
  });

  it('reports a checkpoint that another program holds up once', async () => {
    await inFolder(async (folder) => {
      const reported: string[] = [];
      const store = openStore({ folder, readers: 'sameThread', trouble: (what) => reported.push(what) });
      const other = new Sqlite(join(folder, DATABASE_FILE), { readonly: true });
      other.exec('BEGIN');
      other.prepare('SELECT count(*) FROM run').get();
      beginRun(store);
      for (let n = 0; n < 8; n++) store.tick(n * CHECKPOINT_EVERY_MS);
      expect(reported).toStrictEqual([
        'The write-ahead log could not be copied into the database: another program has been reading for too long',
      ]);
      other.exec('COMMIT');
      other.close();
      store.tick(8 * CHECKPOINT_EVERY_MS);
      expect(reported).toHaveLength(1);
      await store.close();
    });
  });
});
