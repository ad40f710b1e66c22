/** What a restore that was killed half way left behind harms neither the old record nor the next restore. */
import { copyFileSync, mkdirSync, readdirSync, renameSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore, restoreBackup, type Store } from '../../server/store/index.ts';
import { beginRun, inFolder } from '../store/readings.ts';

const ENDINGS = ['', '-wal'];
const notesOf = (store: Store) => store.reader.runs().map(({ note }) => note);

function addRun(store: Store, note: string): void {
  store.writer.setRunNote(beginRun(store), note);
}

/** A record whose last entry is only in its write-ahead log, as a kill leaves it, and a backup from before that entry. */
async function killedRecord(folder: string, name: string): Promise<{ record: string; backup: string }> {
  const [made, record] = [join(folder, name), join(folder, `${name}-killed`)];
  const store = openStore({ folder: made });
  addRun(store, `${name}: saved`);
  const { path } = await store.maintenance.backup(join(made, 'backups'), Date.now(), 3);
  addRun(store, `${name}: only in the log`);
  mkdirSync(record);
  for (const end of ENDINGS) copyFileSync(join(made, DATABASE_FILE + end), join(record, DATABASE_FILE + end));
  await store.close();
  return { record, backup: path };
}

test('the log of the old record stays with it if only the database had been moved', async () => {
  await inFolder(async (folder) => {
    const { record, backup } = await killedRecord(folder, 'bench');
    const path = join(record, DATABASE_FILE);
    renameSync(path, `${path}.before-restore-2026-01-01T00-00-00Z`);
    const old = restoreBackup(record, backup, 0);
    expect(old).toBe(`${path}.before-restore-2026-01-01T00-00-00Z`);
    const kept = join(folder, 'kept');
    mkdirSync(kept);
    for (const end of ENDINGS) copyFileSync(old! + end, join(kept, DATABASE_FILE + end));
    for (const [where, notes] of [
      [kept, ['bench: only in the log', 'bench: saved']],
      [record, ['bench: saved']],
    ] as const) {
      const store = openStore({ folder: where, readOnly: true });
      expect(notesOf(store).sort()).toStrictEqual(notes);
      await store.close();
    }
  });
});

test('what was being restored is not mixed into another backup', async () => {
  await inFolder(async (folder) => {
    const { record, backup } = await killedRecord(folder, 'bench');
    const other = await killedRecord(folder, 'other');
    for (const end of ENDINGS)
      copyFileSync(join(other.record, DATABASE_FILE + end), join(record, `${DATABASE_FILE}.restoring${end}`));
    restoreBackup(record, backup, 0);
    const store = openStore({ folder: record });
    expect(notesOf(store)).toStrictEqual(['bench: saved']);
    expect(readdirSync(record).filter((name) => name.includes('restoring'))).toStrictEqual([]);
    await store.close();
  });
});

test('a record that was replaced can be restored with what is only in its log', async () => {
  await inFolder(async (folder) => {
    const { record, backup } = await killedRecord(folder, 'bench');
    const replaced = restoreBackup(record, backup, 0)!;
    restoreBackup(record, replaced, 1000);
    const store = openStore({ folder: record });
    expect(notesOf(store).sort()).toStrictEqual(['bench: only in the log', 'bench: saved']);
    expect(readdirSync(record).filter((name) => name.includes('restoring'))).toStrictEqual([]);
    await store.close();
  });
});
