import { execFileSync } from 'node:child_process';
import { copyFileSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { Problem } from '../../server/problem/problem.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore, restoreBackup } from '../../server/store/index.ts';
import { checkFile } from '../../server/store/maintenance/check-file.ts';
import { watchRowChanges } from '../../server/store/row-checksums.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { layoutOf, readingOf } from '../store/readings.ts';

const START_MS = 1_750_000_000_000;
let folder: string;
let genuine: string;
let away: string;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'strandward-hostile-backup-'));
  genuine = join(folder, 'genuine.sqlite');
  away = join(folder, 'away');
  const home = openStore({ folder: join(folder, 'home') });
  const layout = layoutOf(['d']);
  const begin = (startedMs: number) =>
    home.writer.beginRun({ startedMs, timeZone: 'Europe/Vienna', sourceTitle: 'test line' });
  const ended = begin(START_MS);
  for (let i = 0; i < 9000; i++) home.samples.append(ended.id, readingOf(layout, START_MS + i * 20, [1.75]), i * 0.7);
  home.samples.flush();
  home.writer.beginSpool({ runId: ended.id, startGaugeMm: 0, startedMs: START_MS });
  home.writer.endRun(ended.id, START_MS + 180_000);
  // In progress: some of its readings are in the journal only.
  const live = begin(START_MS + 200_000);
  for (let i = 0; i < 50; i++) {
    home.samples.append(live.id, readingOf(layout, START_MS + 200_000 + i * 20, [1.75]), i * 0.7);
    if (i % 25 === 24) home.tick(START_MS);
  }
  const db = new Sqlite(join(folder, 'home', DATABASE_FILE), { readonly: true });
  await db.backup(genuine);
  db.close();
  await home.close();
  const store = openStore({ folder: away });
  store.writer.log({ timeMs: START_MS, runId: null, who: 'Ada', what: 'Kept.' });
  await store.close();
});

afterAll(() => rmSync(folder, { recursive: true }));

function changed(sql: string): string {
  const file = join(folder, 'changed.sqlite');
  for (const end of ['', '-wal', '-shm']) rmSync(file + end, { force: true });
  copyFileSync(genuine, file);
  const db = new Sqlite(file);
  db.pragma('foreign_keys = OFF');
  db.pragma('ignore_check_constraints = ON');
  // Whoever changes rows on purpose removes their checksums too.
  db.exec(`DELETE FROM row_group; ${sql}`);
  db.pragma('wal_checkpoint(TRUNCATE)');
  db.close();
  return file;
}

function problemOf(work: () => unknown): Problem {
  try {
    work();
  } catch (thrown) {
    if (thrown instanceof Problem) return thrown;
    throw thrown;
  }
  throw new Error('It was restored.');
}

it.each([
  ['table sample_span, row 268435456: ', 'UPDATE sample_span SET count = 9e15'],
  ['table sample_span, row 268435456: ', 'UPDATE sample_span SET first_number = -1'],
  ['table sample_span, row 268435457: ', 'DELETE FROM sample_span WHERE id = 268435456'],
  ['table sample_journal, row 1: ', 'UPDATE sample_journal SET count = 9e15'],
  ['table sample_journal, row 2: ', 'UPDATE sample_journal SET from_ms = 5 WHERE id = 2'],
  ['table spool, row 1: start_gauge_mm', 'UPDATE spool SET start_gauge_mm = -9e999'],
  ['table run, row 1: started_ms', 'UPDATE run SET started_ms = 9e17'],
  [
    'table run, row 999999: ',
    `INSERT INTO run (id, started_ms, time_zone, source_title) VALUES (999999, 1, 'UTC', '')`,
  ],
  ['table run_set, row 1: ', `INSERT INTO run_set (run_id, from_gauge_mm, payload) VALUES (1, 0, '{}')`],
  [
    'table printer, row 1: hotend_limit_mm',
    `INSERT INTO printer (name, hotend_limit_mm, smallest_feedable_mm, tolerance_mm, note, changed_ms)
     VALUES ('x', 9e999, 1, 1, '', 1)`,
  ],
  [
    'table line_settings, row 1: payload is longer',
    `INSERT INTO line_settings (saved_ms, payload) VALUES (1, printf('%.5000000c', 'x'))`,
  ],
  ['table spool, row 1: its run is missing', 'UPDATE spool SET run_id = 77'],
  ['table sqlite_sequence, row run: ', `UPDATE sqlite_sequence SET seq = 9223372036854775807 WHERE name = 'run'`],
  ['it contains only_one, which does not belong', 'CREATE UNIQUE INDEX only_one ON alarm_journal ((1)) WHERE id > 3'],
  ['it contains hold, which does not belong', 'CREATE TABLE hold (run_id INTEGER REFERENCES run (id))'],
  ['its printer was changed', 'ALTER TABLE printer ADD COLUMN hidden TEXT AS (name)'],
  [
    'its house was changed',
    'DROP TABLE house; CREATE TABLE house (one INTEGER PRIMARY KEY CHECK (one = 2), code TEXT NOT NULL) STRICT',
  ],
  ['it contains spoil', 'CREATE TRIGGER spoil AFTER INSERT ON run BEGIN DELETE FROM run; END'],
])('refuses to restore what cannot be: %s', (fault, sql) => {
  const names = readdirSync(away).toSorted();
  const backup = changed(sql);
  const problem = problemOf(() => restoreBackup(away, backup, START_MS));
  expect(problem).toMatchObject({ code: 'database-broken' });
  expect(problem.message).toContain(`${backup} cannot be restored: ${fault}`);
  expect(readdirSync(away).toSorted()).toStrictEqual(names);
});

const OTHER_RUN = `INSERT INTO run (id, started_ms, ended_ms, time_zone, source_title) VALUES (3, 1, 2, 'UTC', 'good')`;
it.each([
  ['table sample_span, row 268435456: ', 'UPDATE sample_span SET count = 9e15 WHERE id = 268435456', [2, 3]],
  ['table sample_journal, row 1: ', 'UPDATE sample_journal SET count = 9e15', [1, 3]],
  ['table spool, row 1: start_gauge_mm', 'UPDATE spool SET start_gauge_mm = -9e999', [2, 3]],
  ['table run, row 1: started_ms', 'UPDATE run SET started_ms = 9e17 WHERE id = 1', [2, 3]],
  ['table run_set, row 1: ', `INSERT INTO run_set (run_id, from_gauge_mm, payload) VALUES (1, 0, '{}')`, [2, 3]],
  [
    'table spool, row 1: note is longer',
    `UPDATE spool SET note = printf('%.2000000c', 'x'); UPDATE sample_journal SET from_ms = 5 WHERE id = 2`,
    [3],
  ],
] as const)('restores what is good if asked to, and says what it leaves out: %s', async (fault, sql, good) => {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-partly-'));
  const backup = changed(`${OTHER_RUN}; ${sql}`);
  try {
    expect(problemOf(() => restoreBackup(folder, backup, START_MS)).remedy).toMatch(
      /run \d: add --without-damaged-runs/,
    );
    const leftOut: string[] = [];
    restoreBackup(folder, backup, START_MS, (what) => leftOut.push(what));
    expect(leftOut.join()).toContain(fault);
    expect(leftOut).toHaveLength(3 - good.length);
    expect(checkFile(join(folder, DATABASE_FILE))).toStrictEqual([]);
    const store = openStore({ folder });
    expect(store.reader.runs().map(({ id }) => id)).toEqual(good);
    await store.close();
  } finally {
    rmSync(folder, { recursive: true });
  }
});

it('refuses a fault that is of no run even then', () => {
  const backup = changed('UPDATE spool SET run_id = 77');
  const problem = problemOf(() => restoreBackup(away, backup, START_MS, () => {}));
  expect(problem.message).toMatch(/its run is missing/);
  expect(problem.remedy).not.toContain('--without');
});

it.skipIf(!IS_LONG_CHECK)(
  'leaves the present record as it was, and restores the unchanged backup with the run in progress',
  async () => {
    const before = openStore({ folder: away });
    expect(before.reader.logEntries({ limit: 5 }).map(({ what }) => what)).toStrictEqual(['Kept.']);
    await before.close();
    restoreBackup(away, changed(''), START_MS);
    const restored = openStore({ folder: away });
    expect((await restored.columns.extent(1))!.count).toBe(9000);
    expect((await restored.columns.extent(2))!.count).toBe(50);
    await restored.close();
  },
);

it.skipIf(process.platform === 'win32')('refuses a pipe at once if it has no writer, also in place of a log', () => {
  const pipe = join(folder, 'pipe');
  execFileSync('mkfifo', [pipe]);
  expect(problemOf(() => restoreBackup(away, pipe, START_MS)).message).toMatch(/: it is not a file\.$/);
  const beside = join(folder, 'beside');
  copyFileSync(genuine, beside);
  execFileSync('mkfifo', [`${beside}-wal`]);
  expect(problemOf(() => restoreBackup(away, beside, START_MS)).message).toMatch(
    /beside-wal beside it is not a file\.$/,
  );
});

it('refuses a note of 60 MB without filling the memory', () => {
  const backup = changed(`UPDATE run SET note = printf('%.60000000c', 'x')`);
  // With checksums, which are compared first.
  const db = new Sqlite(backup);
  watchRowChanges(db);
  db.exec('UPDATE row_group SET checksum = 1');
  db.close();
  const beforeKb = process.resourceUsage().maxRSS;
  const { message } = problemOf(() => restoreBackup(away, backup, START_MS));
  expect(message).toMatch(/table \w+.*: something was changed/);
  expect(process.resourceUsage().maxRSS - beforeKb).toBeLessThan(300_000);
});

it('says of an empty file that it is empty', () => {
  const empty = join(folder, 'empty');
  writeFileSync(empty, '');
  expect(problemOf(() => restoreBackup(away, empty, START_MS)).message).toMatch(/: it is empty\.$/);
});
