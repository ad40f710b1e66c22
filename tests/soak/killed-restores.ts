import { copyFileSync, cpSync, existsSync, mkdirSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { Problem } from '../../server/problem/problem.ts';
import { DATABASE_FILE, openDatabase } from '../../server/store/database.ts';
import { openStore, restoreBackup } from '../../server/store/index.ts';
import { newDataFolder } from '../service/running-service.ts';
import { type Counts, count } from './kill-rounds.ts';
import { type KilledCommand, momentOf, olderRecord, runAndKill } from './killed-migrations.ts';

const OLD_NOTE = 'only in the write-ahead log';
const BACKUP_NOTE = 'in the backup';
const ENDINGS = ['', '-wal'];

/**
 * `strandward restore` of a backup of an older layout. Whatever a kill leaves, the record is the old one, the restored one, or
 * refused; another restore works, and the old record is kept with its write-ahead log.
 */
export async function killedRestores(counts: Counts, broken: string[]): Promise<KilledCommand> {
  const folder = newDataFolder();
  const [template, work, look] = ['killed', 'work', 'look'].map((name) => join(folder, name)) as [
    string,
    string,
    string,
  ];
  const older = join(folder, 'older.sqlite');
  writeFileSync(older, olderRecord('backup.sqlite'));
  const newer = await makeKilledRecord(template, join(folder, 'made'));
  const notes: Readonly<Record<string, string>> = { [older]: notesIn(older), [newer]: notesIn(newer) };
  const args = ['restore', older, '--data', work];
  const fresh = () => {
    rmSync(work, { recursive: true, force: true });
    cpSync(template, work, { recursive: true });
  };
  let takesMs = 0;

  const stateOf = (): string => {
    rmSync(look, { recursive: true, force: true });
    cpSync(work, look, { recursive: true });
    try {
      openDatabase(look, false).close();
    } catch (thrown) {
      if (thrown instanceof Problem && thrown.remedy.includes('strandward restore')) return 'refused with what to do';
      throw thrown;
    }
    const found = notesIn(join(look, DATABASE_FILE));
    if (found.includes(OLD_NOTE)) return 'the old record';
    if (found === notes[older]) return 'restored';
    broken.push(`A killed restore left a record with the notes ${found}.`);
    return 'neither';
  };
  return {
    async round(random) {
      if (takesMs === 0) {
        fresh();
        takesMs = await runAndKill(args, null);
      }
      fresh();
      await runAndKill(args, momentOf(takesMs, random));
      count(counts, `restore killed: ${stateOf()}`);
      const then = random() < 0.5 ? older : newer;
      // A second later, because kept databases are named by the second.
      restoreBackup(work, then, Date.now() + 1000);
      if (notesIn(join(work, DATABASE_FILE)) !== notes[then]) broken.push(`After a killed restore ${then} was mixed.`);
      if (!keptDatabases(work, look).some((found) => found.includes(OLD_NOTE)))
        broken.push('A killed restore lost entries of the record that was there.');
    },
    remove: () => rmSync(folder, { recursive: true, force: true }),
  };
}

/** A record with an entry that only its write-ahead log holds. @returns a backup from before that entry */
async function makeKilledRecord(target: string, made: string): Promise<string> {
  const store = openStore({ folder: made });
  const addRun = (note: string) => {
    const { id } = store.writer.beginRun({ startedMs: 1_750_000_000_000, timeZone: 'UTC', sourceTitle: 'killed line' });
    store.writer.setRunNote(id, note);
  };
  addRun(BACKUP_NOTE);
  const { path } = await store.maintenance.backup(join(made, 'backups'), Date.now(), 3);
  addRun(OLD_NOTE);
  mkdirSync(target);
  for (const end of ENDINGS) copyFileSync(join(made, DATABASE_FILE + end), join(target, DATABASE_FILE + end));
  await store.close();
  return path;
}

/** Notes of the databases that restores have kept. */
function keptDatabases(folder: string, scratch: string): string[] {
  return readdirSync(folder)
    .filter((name) => /\.before-restore-.*Z$/.test(name))
    .map((name) => {
      rmSync(scratch, { recursive: true, force: true });
      mkdirSync(scratch);
      for (const end of ENDINGS)
        if (existsSync(join(folder, name + end))) copyFileSync(join(folder, name + end), join(scratch, `kept${end}`));
      return notesIn(join(scratch, 'kept'));
    });
}

function notesIn(path: string): string {
  const db = new Sqlite(path, { readonly: true });
  try {
    return db.prepare('SELECT group_concat(note) FROM (SELECT note FROM run ORDER BY id)').pluck().get() as string;
  } finally {
    db.close();
  }
}
