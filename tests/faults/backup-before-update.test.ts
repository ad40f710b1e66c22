/** Before a new version changes the layout of a record, it keeps the record as it was, whatever happens meanwhile. */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import Sqlite from 'better-sqlite3';
import { afterEach, beforeAll, describe, expect, test } from 'vitest';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore, restoreBackup } from '../../server/store/index.ts';
import { backupsIn } from '../../server/store/maintenance/backup-list.ts';
import { checkFile } from '../../server/store/maintenance/check-file.ts';
import { figuresOf, type MarkedState, readMarker, writeMarker } from '../../server/store/marker.ts';
import { LAYOUT, layoutOf, migrate } from '../../server/store/migrations/migrate.ts';
import { VERSION } from '../../server/version.ts';
import { casesOf } from '../long-check.ts';
import { builtStore } from '../store/built-store.ts';
import { inFolder } from '../store/readings.ts';
import { disk, MOUNTS, removeDisks } from './small-disk.ts';

const OLD_LAYOUT = 11;
const LOG_ROWS = 20_000;
/** The record of an earlier release, with many rows more, so that there is time to kill what works on it. */
let olderRecord: Buffer;
beforeAll(async () => {
  const packed = readFileSync(new URL('../store/records/layout-11/record.sqlite.gz', import.meta.url));
  await inFolder((folder) => {
    const path = join(folder, DATABASE_FILE);
    writeFileSync(path, gunzipSync(packed));
    const db = new Sqlite(path);
    db.exec(
      `WITH RECURSIVE i(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM i WHERE n < ${LOG_ROWS})
       INSERT INTO operator_log (time_ms, run_id, who, what) SELECT n, NULL, 'Kim', 'note ' || n FROM i`,
    );
    db.close();
    olderRecord = readFileSync(path);
  });
});
afterEach(removeDisks);

function putOlderRecord(folder: string): void {
  mkdirSync(folder);
  writeFileSync(join(folder, DATABASE_FILE), olderRecord);
}

function contentOf(path: string): { layout: number; rows: number } {
  const db = new Sqlite(path, { readonly: true });
  try {
    return { layout: layoutOf(db), rows: Number(db.prepare('SELECT count(*) FROM operator_log').pluck().get()) };
  } finally {
    db.close();
  }
}

const namesIn = (folder: string) => (existsSync(folder) ? readdirSync(folder) : []);

test('the record is kept as it was, checked, under a name that says why, and can be restored', async () => {
  await inFolder(async (parent) => {
    const folder = join(parent, 'data');
    putOlderRecord(folder);
    const before = contentOf(join(folder, DATABASE_FILE));
    const store = openStore({ folder });
    const [kept] = backupsIn(join(folder, 'backups'));
    expect(store.updatedFrom).toBe(kept!.path);
    expect(kept!.path).toMatch(new RegExp(`strandward-[\\dTZ-]+-before-update-to-${VERSION}\\.sqlite$`));
    expect(checkFile(kept!.path)).toStrictEqual([]);
    expect(contentOf(kept!.path)).toStrictEqual(before);
    expect(before).toMatchObject({ layout: OLD_LAYOUT });
    await store.close();
    // Nothing changes at the next start.
    const again = openStore({ folder });
    expect(again.updatedFrom).toBeNull();
    await again.close();
    expect(namesIn(join(folder, 'backups'))).toHaveLength(1);
    restoreBackup(folder, kept!.path, Date.now());
    expect(contentOf(join(folder, DATABASE_FILE))).toStrictEqual({ layout: LAYOUT, rows: before.rows });
  });
});

test.each(
  casesOf(
    [
      ['while the backup is being written', '.part'],
      ['once it is whole', '.sqlite'],
    ],
    1,
  ),
)('an update that is killed %s goes on with one whole backup from before it', async (_, ending) => {
  const open = `const { openStore } = await import(${JSON.stringify(builtStore().href)});`;
  await inFolder(async (parent) => {
    const folder = join(parent, 'data');
    const backups = join(folder, 'backups');
    putOlderRecord(folder);
    const before = contentOf(join(folder, DATABASE_FILE));
    const code = `${open} openStore({ folder: ${JSON.stringify(folder)} }); setInterval(() => {}, 1000);`;
    const child = spawn(process.execPath, ['--input-type=module', '--eval', code], { stdio: 'inherit' });
    const closed = once(child, 'close');
    const isThere = () => namesIn(backups).some((name) => name.endsWith(ending));
    while (child.exitCode === null && !isThere()) await new Promise((resolve) => setTimeout(resolve, 1));
    child.kill('SIGKILL');
    expect(await closed).toStrictEqual([null, 'SIGKILL']);
    const whole = backupsIn(backups);

    await openStore({ folder }).close();
    const [kept, ...others] = backupsIn(backups);
    expect(others).toStrictEqual([]);
    // Not replaced by one of a record that is partly updated.
    if (whole.length > 0) expect(whole).toStrictEqual([kept]);
    expect(namesIn(backups)).toHaveLength(1);
    expect(checkFile(kept!.path)).toStrictEqual([]);
    expect(contentOf(kept!.path)).toStrictEqual(before);
    expect(contentOf(join(folder, DATABASE_FILE))).toStrictEqual({ layout: LAYOUT, rows: before.rows });
    expect(readMarker(folder)!.state).toMatchObject({ layout: LAYOUT, update: null });
  });
});

test('an update that is killed after its last change, before the marker is renewed, has lost nothing', async () => {
  await inFolder(async (parent) => {
    const folder = join(parent, 'data');
    putOlderRecord(folder);
    const before = contentOf(join(folder, DATABASE_FILE));
    const db = new Sqlite(join(folder, DATABASE_FILE));
    const noted: MarkedState = { ...figuresOf(db), bytes: 1, timeMs: 0, inUse: false, update: null };
    // An older layout has tables by other names.
    expect(noted.lastIds).toHaveProperty('calling_rules');
    writeMarker(folder, noted);
    migrate(db);
    db.close();

    await openStore({ folder }).close();
    expect(contentOf(join(folder, DATABASE_FILE))).toStrictEqual({ layout: LAYOUT, rows: before.rows });
    expect(readMarker(folder)!.state).toMatchObject({ layout: LAYOUT });
  });
});

describe.skipIf(!MOUNTS)('without room for the backup', () => {
  test('the update is refused with what to do, and the record stays as it is', async () => {
    await inFolder((parent) => {
      const folder = join(parent, 'data');
      putOlderRecord(folder);
      const backupFolder = join(disk(1), 'copies');
      expect(() => openStore({ folder, backupFolder })).toThrow(
        expect.objectContaining({
          code: 'backup-failed',
          message: expect.stringMatching(/must change the layout.*not enough space in/),
          remedy: expect.stringMatching(
            /^Free at least \d+ MB .*--backup FOLDER, then start again.*Nothing was changed/,
          ),
        }),
      );
      expect(contentOf(join(folder, DATABASE_FILE)).layout).toBe(OLD_LAYOUT);
      expect(namesIn(backupFolder)).toStrictEqual([]);
    });
  });
});

test('backups before updates do not pile up: only the newest is kept, and not for ever', async () => {
  await inFolder(async (parent) => {
    const folder = join(parent, 'data');
    const backups = join(folder, 'backups');
    putOlderRecord(folder);
    mkdirSync(backups);
    const earlier = join(backups, 'strandward-2020-01-01T00-00-00Z-before-update-to-0.0.9.sqlite');
    const ordinary = join(backups, 'strandward-2020-01-02T00-00-00Z.sqlite');
    for (const path of [earlier, ordinary]) writeFileSync(path, '');
    const store = openStore({ folder });
    const kept = store.updatedFrom!;
    expect(
      namesIn(backups)
        .map((name) => join(backups, name))
        .sort(),
    ).toStrictEqual([ordinary, kept].sort());
    const nowMs = Date.now();
    // It is not counted among the ordinary ones.
    await store.maintenance.backup(backups, nowMs + 86_400_000, 1);
    expect(backupsIn(backups).map(({ path }) => path)).toContain(kept);
    expect(existsSync(ordinary)).toBe(false);
    for (let day = 2; day <= 31; day++) store.maintenance.addDay(nowMs + day * 86_400_000);
    await store.maintenance.backup(backups, nowMs + 31 * 86_400_000, 1);
    expect(existsSync(kept)).toBe(false);
    await store.close();
  });
});
