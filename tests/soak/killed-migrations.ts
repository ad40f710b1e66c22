import { cpSync, mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import Sqlite, { type Database } from 'better-sqlite3';
import { DATABASE_FILE, openDatabase } from '../../server/store/database.ts';
import { backupsIn } from '../../server/store/maintenance/backup-list.ts';
import { checkFile } from '../../server/store/maintenance/check-file.ts';
import { LAYOUT, layoutOf } from '../../server/store/migrations/migrate.ts';
import { launch, newDataFolder } from '../service/running-service.ts';
import { type Counts, count } from './kill-rounds.ts';

/** A command that is killed at a moment by chance, and what is then on the disk. */
export interface KilledCommand {
  round(random: () => number): Promise<void>;
  remove(): void;
}

const OLD_LAYOUT = 11;
/** From the release with that layout. */
export const olderRecord = (name: string) =>
  gunzipSync(readFileSync(new URL(`../../../tests/store/records/layout-11/${name}.gz`, import.meta.url)));

/** So that carrying them forward takes a while. */
const LOG_ROWS = 60_000;
/** In the first part of its life the process has not opened the record yet. */
const EARLIEST_SHARE = 0.3;

/** Runs a command to its end, or kills it. @returns how long it ran, ms, and whether it ended by itself */
export async function runAndKill(args: readonly string[], killAfterMs: number | null): Promise<number> {
  const beganMs = performance.now();
  const { child, ended, complained } = launch(args);
  const timer = killAfterMs === null ? undefined : setTimeout(() => child.kill('SIGKILL'), killAfterMs);
  const code = await ended;
  clearTimeout(timer);
  if (code !== null && code !== 0) throw new Error(`${args.join(' ')} ended with ${code}: ${complained()}`);
  return performance.now() - beganMs;
}

/** Between the moment when a command begins to work on the record and its end. */
export const momentOf = (takesMs: number, random: () => number) =>
  takesMs * (EARLIEST_SHARE + (1 - EARLIEST_SHARE) * random());

/** The service starts on an older record. Whatever a kill leaves, the next start ends up with every row and one whole backup. */
export async function killedMigrations(counts: Counts, broken: string[]): Promise<KilledCommand> {
  const folder = newDataFolder();
  const [template, work] = [join(folder, 'older'), join(folder, 'work')];
  mkdirSync(template);
  writeFileSync(join(template, DATABASE_FILE), olderRecord('record.sqlite'));
  const db = new Sqlite(join(template, DATABASE_FILE));
  db.exec(
    `WITH RECURSIVE i(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM i WHERE n < ${LOG_ROWS})
     INSERT INTO operator_log (time_ms, run_id, who, what) SELECT n, NULL, 'Kim', 'note ' || n FROM i`,
  );
  const rows = rowsOf(db);
  db.close();
  const args = ['--data', work, '--port', '0', '--source', 'simulator:steady', '--log', 'warn'];
  let startTakesMs = 0;

  return {
    async round(random) {
      // A service does not end by itself; the first time tells when it is ready.
      if (startTakesMs === 0) startTakesMs = await timeOfStart(template, work, args);
      rmSync(work, { recursive: true, force: true });
      cpSync(template, work, { recursive: true });
      await runAndKill(args, momentOf(startTakesMs, random));
      const found = layoutIn(join(work, DATABASE_FILE));
      count(counts, `migration killed at layout ${found}`);
      const backups = () => backupsIn(join(work, 'backups'));
      if (found !== OLD_LAYOUT && backups().length === 0) broken.push('A record was changed without a backup.');
      const opened = openDatabase(work, false);
      const [kept, ...others] = backups();
      if (kept === undefined || others.length > 0) broken.push('A killed migration has not left one backup.');
      else if (layoutIn(kept.path) !== OLD_LAYOUT || checkFile(kept.path).length > 0)
        broken.push('The backup before a killed migration is not the record as it was.');
      if (layoutOf(opened.db) !== LAYOUT) broken.push('A killed migration was not carried on.');
      const after = rowsOf(opened.db);
      for (const [table, number] of rows)
        if ((after.get(table) ?? 0) < number) broken.push(`A killed migration lost rows of ${table}.`);
      if (opened.db.pragma('integrity_check', { simple: true }) !== 'ok') broken.push('A killed migration damaged it.');
      opened.close();
    },
    remove: () => rmSync(folder, { recursive: true, force: true }),
  };
}

function layoutIn(path: string): number {
  const db = new Sqlite(path, { readonly: true });
  try {
    return layoutOf(db);
  } finally {
    db.close();
  }
}

async function timeOfStart(template: string, work: string, args: readonly string[]): Promise<number> {
  cpSync(template, work, { recursive: true });
  const beganMs = performance.now();
  const { child, ended, printed } = launch(args);
  while (!printed().includes('Open http')) {
    if (child.exitCode !== null) throw new Error(`The service ended: ${printed()}`);
    await new Promise((resolve) => setTimeout(resolve, 10));
  }
  const takesMs = performance.now() - beganMs;
  child.kill('SIGKILL');
  await ended;
  return takesMs;
}

/** Rows by table, under the names of today. */
function rowsOf(db: Database): ReadonlyMap<string, number> {
  const tables = db
    .prepare<[], string>("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'")
    .pluck()
    .all();
  // Readings of a killed service are sealed into blocks when it starts again.
  return new Map(
    tables
      .filter((name) => !/^sample_|^row_group$/.test(name))
      .map((name) => [
        name.replace(/^calling/, 'escalation').replace(/^calls$/, 'escalations'),
        Number(db.prepare(`SELECT count(*) FROM ${name}`).pluck().get()),
      ]),
  );
}
