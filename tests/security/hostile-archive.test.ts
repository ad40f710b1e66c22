import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { crc32 } from 'node:zlib';
import Sqlite from 'better-sqlite3';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { Problem } from '../../server/problem/problem.ts';
import { openStore, type Store } from '../../server/store/index.ts';
import { prepareArchive } from '../../server/store/maintenance/read-archive.ts';
import { BlockView, encodeBlock } from '../../server/store/samples/block-format.ts';
import { ByteWriter } from '../../server/store/samples/byte-writer.ts';
import { encodePage } from '../../server/store/samples/summary-page.ts';
import { layoutOf, readingOf } from '../store/readings.ts';

const START_MS = 1_750_000_000_000;
const END_MS = START_MS + 660_000;
/** Enough for a page of summaries: 128 groups of 256. */
const READINGS = 33_000;
let folder: string;
let genuine: string;
let store: Store;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'strandward-hostile-'));
  genuine = join(folder, 'genuine.sqlite');
  const home = openStore({ folder: join(folder, 'home') });
  const run = home.writer.beginRun({ startedMs: START_MS, timeZone: 'Europe/Vienna', sourceTitle: 'test line' });
  const layout = layoutOf(['d']);
  for (let i = 0; i < READINGS; i++) home.samples.append(run.id, readingOf(layout, START_MS + i * 20, [1.75]), i * 0.7);
  home.samples.flush();
  const spool = home.writer.beginSpool({ runId: run.id, startGaugeMm: 0, startedMs: START_MS });
  home.writer.endSpool(spool.id, 6000, END_MS);
  home.writer.log({ timeMs: START_MS, runId: run.id, who: 'Ada', what: 'Started spool 1.' });
  home.writer.endRun(run.id, END_MS);
  await home.maintenance.writeArchive(run.id, genuine);
  await home.close();
  store = openStore({ folder: join(folder, 'away') });
});

afterAll(async () => {
  await store.close();
  rmSync(folder, { recursive: true });
});

function changed(sql: string): string {
  const file = join(folder, 'changed.sqlite');
  copyFileSync(genuine, file);
  const db = new Sqlite(file);
  db.pragma('foreign_keys = OFF');
  db.pragma('ignore_check_constraints = ON');
  db.exec(sql);
  db.close();
  return file;
}

const SET = 'INSERT INTO run_set (run_id, from_gauge_mm, payload)';
const TAPE = 'INSERT INTO length_correction (spool_id, measured_mm, indicated_mm, uncertainty_mm, at_ms, who)';
const SCALE = 'INSERT INTO spool_weighing (spool_id, gross_g, tare_g, uncertainty_g, at_ms, who)';
const CHOICE =
  'INSERT INTO spool_choice (spool_id, printer_id, objective, shortest_mm, doubtful, unknown, prints, at_ms, who)';
/** Settings of a run, as the service stores them. */
const settingsWith = (limits: object, densityGPerCm3 = 1.24): string =>
  JSON.stringify({
    limits: {
      nominalMm: 1.75,
      toleranceMm: 0.05,
      hotendLimitMm: 1.9,
      smallestFeedableMm: 1.6,
      strandPresentMm: 0.5,
      offToleranceLengthMm: 500,
      gaugeUncertaintyMm: 0.005,
      ...limits,
    },
    gaugeToWinderMm: 0,
    densityGPerCm3,
  });
const SECTION = 'INSERT INTO measured_section (run_id, ordinal, kind, verdict, from_mm, to_mm, payload)';
const ALARM = 'INSERT INTO alarm (id, run_id, type, subject, state, payload)';
const STEP = 'INSERT INTO alarm_journal (run_id, alarm_id, time_ms, what, payload)';
const LOG = 'INSERT INTO operator_log (time_ms, run_id, who, what)';
const MANY = 'WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 60000)';

it.each([
  ['sample_span', 'a count that its block does not hold', 'UPDATE sample_span SET count = 2e9'],
  ['sample_span', 'numbers that overlap', 'UPDATE sample_span SET first_number = first_number / 2'],
  ['sample_span', 'numbers beyond all', 'UPDATE sample_span SET first_number = first_number + 9e15'],
  ['sample_span', 'a time that never was', 'UPDATE sample_span SET to_ms = 9e999'],
  ['sample_span', 'no block', 'DELETE FROM sample_block'],
  ['sample_channel', 'a signal number beyond all', 'UPDATE sample_channel SET number = 2000'],
  [
    'run_set',
    'settings without limits',
    `INSERT INTO run_set (run_id, from_gauge_mm, payload) SELECT id, 0, '{}' FROM run`,
  ],
  [
    'run_set',
    'a tolerance of no width',
    `INSERT INTO run_set (run_id, from_gauge_mm, payload) SELECT id, 0, json_object('limits', json_object('nominalMm', 1.75, 'toleranceMm', 5e-324, 'hotendLimitMm', 1.9, 'smallestFeedableMm', 1.6, 'strandPresentMm', 0.5, 'offToleranceLengthMm', 500, 'gaugeUncertaintyMm', 0.005), 'gaugeToWinderMm', 0, 'densityGPerCm3', 1.24) FROM run`,
  ],
  [
    'run_set',
    'a hotend limit below its tolerance',
    `${SET} SELECT id, 0, '${settingsWith({ hotendLimitMm: 0.1 })}' FROM run`,
  ],
  [
    'run_set',
    'a tolerance wider than the strand',
    `${SET} SELECT id, 0, '${settingsWith({ toleranceMm: 900 })}' FROM run`,
  ],
  ['run_set', 'a nominal diameter of nothing', `${SET} SELECT id, 0, '${settingsWith({ nominalMm: 0 })}' FROM run`],
  ['run_set', 'strand without mass', `${SET} SELECT id, 0, '${settingsWith({}, 0)}' FROM run`],
  ['length_correction', 'nothing measured of nothing', `${TAPE} SELECT id, 0, 0, 1, 1, 'x' FROM spool`],
  ['length_correction', 'a length below zero', `${TAPE} SELECT id, -1e12, 1, 1, 1, 'x' FROM spool`],
  ['length_correction', 'a factor beyond all', `${TAPE} SELECT id, 1e12, 1e-300, 1, 1, 'x' FROM spool`],
  ['length_correction', 'an uncertainty below zero', `${TAPE} SELECT id, 1000, 1000, -1, 1, 'x' FROM spool`],
  ['spool_weighing', 'a mass beyond all', `${SCALE} SELECT id, 1e308, -1e308, 1, 1, 'x' FROM spool`],
  ['spool_weighing', 'less with its strand than without', `${SCALE} SELECT id, 1, 2, 0, 1, 'x' FROM spool`],
  ['spool_weighing', 'an uncertainty below zero', `${SCALE} SELECT id, 500, 200, -1, 1, 'x' FROM spool`],
  [
    'spool_choice',
    'a shortest coil of nothing',
    `${CHOICE} SELECT id, 0, 'mostLength', 0, 'cut', 'cut', '[]', 1, 'x' FROM spool`,
  ],
  [
    'sample_channel',
    'a name that every line of an export would repeat',
    `UPDATE sample_channel SET name = printf('%.19000c', 'x')`,
  ],
  ['sample_channel', 'a unit of that length', `UPDATE sample_channel SET unit = printf('%.19000c', 'x')`],
  ['spool', 'an infinite start', 'UPDATE spool SET start_gauge_mm = -9e999'],
  ['spool', 'an end before its start', 'UPDATE spool SET end_gauge_mm = -5'],
  ['spool', 'an ordinal below 1', 'UPDATE spool SET ordinal = -1'],
  ['spool', 'an id that would use up the numbers', 'UPDATE spool SET id = 9e15'],
  ['run', 'a start beyond all calendars', 'UPDATE run SET started_ms = 9e17'],
  ['run', 'an end before its start', 'UPDATE run SET ended_ms = 5'],
  ['run', 'a time zone that does not exist', `UPDATE run SET time_zone = 'Mars/Olympus'`],
  ['run', 'a note of 1 MB', `UPDATE run SET note = printf('%.1000000c', 'x')`],
  ['measured_section', 'a section without fields', `${SECTION} SELECT id, 1, 'blob', 'discard', 0, 1, '{}' FROM run`],
  ['alarm', 'an alarm without fields', `${ALARM} SELECT 1, id, 'blob', '', 'normal', '{}' FROM run`],
  [
    'measured_section',
    'a section with a field of thousands of levels',
    `${SECTION} SELECT id, 1, 'blob', 'discard', 0, 1, '{"ordinal":1,"kind":"blob","fromMm":0,"toMm":1,"fromTimeMs":${START_MS},"toTimeMs":${START_MS},"peakMm":2,"peakAtMm":0,"volumeBeyondMm3":0,"certainty":"sure","verdict":"discard","open":false,"x":${'['.repeat(9000)}${']'.repeat(9000)}}' FROM run`,
  ],
  ['alarm_journal', 'a step that is no JSON', `${STEP} SELECT id, 1, 1, 'raised', 'x' FROM run`],
  ['operator_log', 'more entries than a run can have', `${MANY} ${LOG} SELECT 1, run.id, 'x', 'y' FROM n, run`],
  [
    'measured_section',
    'more sections than a line makes',
    `${MANY.replace('60000', '20000')} ${SECTION} SELECT id, i, 'blob', 'discard', i / 10.0, i / 10.0 + 0.05, json_object('ordinal', i, 'kind', 'blob', 'fromMm', i / 10.0, 'toMm', i / 10.0 + 0.05, 'fromTimeMs', ${START_MS}, 'toTimeMs', ${START_MS}, 'peakMm', 2, 'peakAtMm', i / 10.0, 'volumeBeyondMm3', 0, 'certainty', 'sure', 'verdict', 'discard', 'open', json('false')) FROM n, run`,
  ],
  [
    'stated_section',
    'more statements than anyone makes',
    `${MANY.replace('60000', '3000')} INSERT INTO stated_section (run_id, target, from_mm, to_mm, verdict, note, removed, at_time_ms) SELECT id, 'm' || i, i, i + 1, 'doubtful', '', 0, 1 FROM n, run`,
  ],
  [
    'cut',
    'an unknown action',
    `INSERT INTO cut (spool_id, action, counted_mm, reached_end, at_ms, who) SELECT id, 'burn', 1, 0, 1, 'x' FROM spool`,
  ],
  [
    'strand_use',
    'an unknown step of a print',
    `INSERT INTO strand_use (spool_id, kind, from_gauge_mm, to_gauge_mm, feeds, used_amount, used_unit, at_ms, who) SELECT id, 'burnt', 0, 9, 'inner', 1, 'metres', 1, 'x' FROM spool`,
  ],
  [
    'strand_use',
    'more than all of a print',
    `INSERT INTO strand_use (spool_id, kind, from_gauge_mm, to_gauge_mm, feeds, used_amount, used_unit, at_ms, who) SELECT id, 'jammed', 0, 9, 'inner', 101, 'percent', 1, 'x' FROM spool`,
  ],
  [
    'strand_use',
    'an end before its start',
    `INSERT INTO strand_use (spool_id, kind, from_gauge_mm, to_gauge_mm, feeds, used_amount, used_unit, at_ms, who) SELECT id, 'used', 9, 0, 'inner', 1, 'metres', 1, 'x' FROM spool`,
  ],
  [
    'strand_use',
    'an amount beyond all spools',
    `INSERT INTO strand_use (spool_id, kind, from_gauge_mm, to_gauge_mm, feeds, used_amount, used_unit, at_ms, who) SELECT id, 'used', 0, 9, 'inner', 1e12, 'metres', 1, 'x' FROM spool`,
  ],
  [
    'spool_choice',
    'prints that are no list',
    `INSERT INTO spool_choice (spool_id, printer_id, objective, doubtful, unknown, prints, at_ms, who) SELECT id, 0, 'prints', 'cut', 'cut', '{}', 1, 'x' FROM spool`,
  ],
])('refuses an archive whole whose table %s has %s', async (table, _, sql) => {
  const file = changed(sql);
  // On the thread that reads archives, before anything is copied.
  expect(prepareArchive(file)).toStrictEqual({
    // It becomes a part of a sentence.
    fault: expect.stringMatching(new RegExp(`^(table )?${table}\\b.*[^.]$`)),
  });
});

/** With blocks and summaries that are changed on purpose: their checksums agree. */
function rewritten(table: 'sample_block' | 'sample_summary', rewrite: (data: Uint8Array) => Uint8Array): string {
  const file = changed('');
  const db = new Sqlite(file);
  const { id, data } = db.prepare(`SELECT id, data FROM ${table} ORDER BY id LIMIT 1`).get() as {
    id: number;
    data: Uint8Array;
  };
  db.prepare(`UPDATE ${table} SET data = ? WHERE id = ?`).run(rewrite(Uint8Array.from(data)), id);
  db.close();
  return file;
}

/** A block of 8192 readings by its head. */
function headOnly(write: (to: ByteWriter) => void): Uint8Array {
  const to = new ByteWriter();
  to.reset();
  to.u32(0);
  to.u8(3);
  to.varint(8192);
  write(to);
  for (let i = 0; i < 60; i++) to.u8(0);
  return withChecksum(to.take());
}

function withChecksum(bytes: Uint8Array): Uint8Array {
  new DataView(bytes.buffer, bytes.byteOffset).setUint32(0, crc32(bytes.subarray(4)), true);
  return bytes;
}

function recoded(change: (columns: { timeMs: Float64Array; gaugeMm: Float64Array }) => void) {
  return (data: Uint8Array): Uint8Array => {
    const view = new BlockView(data);
    const [timeMs, gaugeMm, d] = [0, 1, 2].map((number) => {
      const values = new Float64Array(view.count);
      view.column(number)!.all(values, 0);
      return values;
    }) as [Float64Array, Float64Array, Float64Array];
    change({ timeMs, gaugeMm });
    return encodeBlock({ count: view.count, timeMs, gaugeMm, signals: [d], breaks: [] });
  };
}

const nonsenseBehind = (kept: number) => (data: Uint8Array) => withChecksum(data.fill(0xff, kept, -8));

it.each([
  ['a billion interruptions', 'sample_block', () => headOnly((to) => [0, 2 ** 30].map((n) => to.varint(n)))],
  ['a billion columns', 'sample_block', () => headOnly((to) => to.varint(2 ** 30))],
  ['a column beyond all', 'sample_block', () => headOnly((to) => [1, 2 ** 30].map((n) => to.varint(n)))],
  ['no columns', 'sample_block', () => headOnly((to) => [0, 0].map((n) => to.varint(n)))],
  ['columns that cannot be decoded', 'sample_block', nonsenseBehind(60)],
  ['a time that never was', 'sample_block', recoded(({ timeMs }) => timeMs.fill(9e17, 4000, 4100))],
  ['lengths that fall', 'sample_block', recoded(({ gaugeMm }) => gaugeMm.fill(-5, 4000, 4100))],
  ['fields that cannot be decoded', 'sample_summary', nonsenseBehind(12)],
  ['other fields', 'sample_summary', () => encodePage([new Float64Array(128), new Float64Array(128)], 128)],
] as const)('refuses an archive with %s in a %s whose checksum agrees', (_, table, rewrite) => {
  expect(prepareArchive(rewritten(table, rewrite))).toStrictEqual({
    fault: expect.stringMatching(/^(table )?sample_(block|span|summary)\b/),
  });
});

it.each([
  ['a computed column', (sql: string) => sql.replace('who TEXT NOT NULL', "who TEXT NOT NULL AS ('x')")],
  ['a check', (sql: string) => sql.replace('who TEXT NOT NULL', 'who TEXT NOT NULL CHECK (hex(zeroblob(2e8)) <> who)')],
  [
    'a check behind what looks like a comment',
    (sql: string) => sql.replace('what TEXT NOT NULL', "what TEXT NOT NULL DEFAULT '--' CHECK (what <> 'x')"),
  ],
])('refuses an archive with %s before it is evaluated', (_, change) => {
  const file = changed('DROP INDEX operator_log_by_run; ALTER TABLE operator_log RENAME TO log_before');
  const db = new Sqlite(file);
  const sql = String(db.prepare("SELECT sql FROM sqlite_schema WHERE name = 'log_before'").pluck().get());
  db.exec(change(sql.replace('"log_before"', 'operator_log')));
  db.exec('DROP TABLE log_before');
  db.close();
  expect(prepareArchive(file)).toStrictEqual({ fault: 'its operator_log was changed' });
});

it('names table and row, and leaves the record as it was', async () => {
  const refused = store.maintenance.readArchive(changed('UPDATE spool SET start_gauge_mm = -9e999'));
  const problem = await refused.catch((thrown: unknown) => thrown);
  expect(problem).toBeInstanceOf(Problem);
  expect(problem).toMatchObject({
    code: 'bad-archive',
    message: expect.stringMatching(/table spool, row 1: start_gauge_mm/),
  });
  expect(store.reader.runs()).toStrictEqual([]);
});

it('speaks of the log if the refused run was made from one', async () => {
  const refused = store.maintenance.readArchive(changed('UPDATE spool SET start_gauge_mm = -9e999'), undefined, true);
  const problem = await refused.catch((thrown: unknown) => thrown);
  expect(problem).toMatchObject({
    code: 'bad-log',
    message: expect.stringMatching(/^The run in this log cannot be kept: .*start_gauge_mm/),
    remedy: expect.stringMatching(/units are those of the log/),
  });
});

it('imports the unchanged archive', async () => {
  const id = await store.maintenance.readArchive(changed(''));
  expect((await store.columns.extent(id))!.count).toBe(READINGS);
  expect(store.reader.spools(id)).toHaveLength(1);
});
