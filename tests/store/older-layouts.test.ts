import { join } from 'node:path';
import Sqlite, { type Database } from 'better-sqlite3';
import { beforeAll, describe, expect, it } from 'vitest';
import { DATABASE_FILE, openDatabase } from '../../server/store/database.ts';
import { openStore } from '../../server/store/index.ts';
import { LAYOUT, layoutOf, migrate } from '../../server/store/migrations/migrate.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { beginRun, layoutOf as channelsOf, inFolder, readingOf } from './readings.ts';

/** More than a page of summaries holds. */
const READINGS = 70_000;
const START_MS = 1_750_000_000_000;

/** As the first release stored it, without the fields that came later. */
const OLD_BLOB = {
  id: 3,
  type: 'blob',
  subject: '',
  priority: 'high',
  state: 'normal',
  sentence: 'A blob passed.',
  firstCheck: '',
  caution: '',
  occurrences: 1,
  raisedMs: START_MS + 5,
  lastOccurredMs: START_MS + 5,
  returnedMs: START_MS + 9,
  acknowledgedMs: null,
  acknowledgedBy: null,
  facts: {},
};
const OLD_ALARM = JSON.stringify(OLD_BLOB);
const OLD_HEATER_ALARM = JSON.stringify({
  ...OLD_BLOB,
  id: 5,
  type: 'heaterFallingAway',
  subject: 'zone 2',
  state: 'unacknowledged',
});

/**
 * Rows for every table, by the layout that added it and in the form of that layout. The test fails if a table of a new
 * layout has no rows here.
 */
const ROWS: readonly (readonly [layout: number, sql: string])[] = [
  [
    1,
    `INSERT INTO run (id, started_ms, ended_ms, time_zone, source_title, note) VALUES (4, ${START_MS}, ${START_MS + 1e6}, 'Europe/Vienna', 'old line', 'kept');
     INSERT INTO spool (id, run_id, ordinal, start_gauge_mm, end_gauge_mm, started_ms, ended_ms, note) VALUES (7, 4, 1, -900.5, 3000, ${START_MS}, ${START_MS + 9e5}, 'red');
     INSERT INTO measured_section VALUES (4, 1, 'blob', 'discard', 10.5, 20.25, '{"ordinal":1,"kind":"blob","verdict":"discard","open":false,"fromMm":10.5,"toMm":20.25,"fromTimeMs":1,"toTimeMs":2,"peakMm":2.1,"peakAtMm":12,"volumeBeyondMm3":3,"certainty":"sure"}');
     INSERT INTO stated_section (run_id, target, measured_ordinal, from_mm, to_mm, verdict, note, removed, at_time_ms) VALUES (4, 'm1', 1, 9, 21, 'doubtful', 'kept too', 0, 18);
     INSERT INTO alarm VALUES (3, 4, 'blob', '', 'normal', '${OLD_ALARM}');
     INSERT INTO alarm VALUES (5, 4, 'heaterFallingAway', 'zone 2', 'unacknowledged', '${OLD_HEATER_ALARM}');
     INSERT INTO alarm_journal (run_id, alarm_id, time_ms, what, by, payload) VALUES (4, 3, ${START_MS + 5}, 'raised', NULL, '${OLD_ALARM}');
     INSERT INTO operator_log (time_ms, run_id, who, what) VALUES (${START_MS + 6}, 4, 'Kim', 'Changed the spool.');
     INSERT INTO line_settings (saved_ms, payload) VALUES (17, '{"lineName":"Old line","leastFeedableMm":1.65}');`,
  ],
  [2, `INSERT INTO sample_channel VALUES (4, 0, 'd', 'mm'), (4, 1, 't1', '');`],
  [
    3,
    `INSERT INTO printer (name, hotend_limit_mm, least_feedable_mm, tolerance_mm, note, changed_ms) VALUES ('Bench', 1.9, 1.6, 0.05, 'left one', 5);
     INSERT INTO cut (spool_id, takes_back, action, counted_mm, landmark_counted_mm, reached_end, at_ms, who) VALUES (7, NULL, 'discard', 120.5, 119, 0, 8, 'Kim');
     INSERT INTO coil_name (spool_id, coil, name, at_ms, who) VALUES (7, 1, 'good one', 9, 'Kim');
     INSERT INTO length_correction (spool_id, measured_mm, indicated_mm, uncertainty_mm, at_ms, who) VALUES (7, 990, 1000, 2, 10, 'Kim');`,
  ],
  [4, `UPDATE run SET stage_word = 'winding' WHERE id = 4;`],
  [
    5,
    `UPDATE alarm_journal SET came_from = 'a phone', why = 'seen';
     INSERT INTO alarm_setting (type, payload, who, saved_ms) VALUES ('blob', '{"delayS":2}', 'Kim', 11);`,
  ],
  [
    6,
    `INSERT INTO channel (name, settings, changed_ms) VALUES ('Chat', '{"kind":"webhook","url":"http://127.0.0.1:9/","template":"","secret":""}', 12);
     INSERT INTO contact (payload, changed_ms) VALUES ('{"name":"Kim","channels":[1],"round":1,"quiet":null,"active":true}', 13);
     INSERT INTO calling_rules (saved_ms, payload) VALUES (14, '{"reminderMin":5}');
     INSERT INTO service_secret VALUES ('vapid', 'kept secret');
     INSERT INTO outbox VALUES (1, 1, 'k1', NULL, 'sent', '{"seq":1}', 15);
     INSERT INTO drill (payload) VALUES ('{"startedMs":16}');`,
  ],
  [
    7,
    `INSERT INTO lot (run_id, name, preparation, at_ms, who) VALUES (4, 'Lot 9', 'dried 6 h', 17, 'Kim');
     INSERT INTO run_set (run_id, from_gauge_mm, payload) VALUES (4, 0, '{"pathMm":900}');`,
  ],
  [8, `UPDATE run SET thinned_ms = NULL;`],
  [9, `INSERT INTO zone_model VALUES ('old line', 1, 18, '{"none":true}');`],
  [
    11,
    `UPDATE cut SET from_gauge_mm = 3000, to_gauge_mm = 2879.5, known_to_gauge_mm = 2881, known_after_gauge_mm = 2880, length_factor = 1.002;
     UPDATE coil_name SET from_gauge_mm = -900.5, to_gauge_mm = 2879.5;
     UPDATE stated_section SET about_kind = 'neck', about_from_mm = 8, about_to_mm = 22;
     INSERT INTO spool_choice (spool_id, printer_id, objective, shortest_mm, doubtful, unknown, at_ms, who) VALUES (7, 1, 'fewestCuts', 2500, 'keep', 'cut', 19, 'Kim');
     INSERT INTO examination VALUES (7, 'by these', '{"found":[]}');`,
  ],
  [
    15,
    `INSERT INTO credential (kind, name, held_right, digest, created_ms, created_by, last_seen_ms) VALUES ('device', 'Kitchen phone', 'act', x'0a0b', 21, 'Kim', 22);`,
  ],
  [16, `INSERT INTO row_group VALUES ('run', 0, NULL);`],
  [17, `UPDATE run SET clock_ahead_s = 86400;`],
  [18, `UPDATE stated_section SET decision = 'left', who = 'Kim';`],
  [19, `UPDATE spool SET wanted_amount = 250, wanted_unit = 'metres';`],
  [20, `INSERT INTO rolling_check VALUES (1, '{}');`],
  [21, `UPDATE lot SET fields = '{"dryingH":6}';`],
  [22, `UPDATE house SET code = 'K7M'; UPDATE run SET house = 'Q4X', house_run = 9;`],
  [24, `UPDATE run SET title = 'New die', is_test = 1;`],
  [
    25,
    `INSERT INTO strand_use (id, spool_id, takes_back, kind, from_gauge_mm, to_gauge_mm, feeds, used_amount, used_unit, print_amount, print_unit, printer, called, at_ms, who)
       VALUES (1, 7, NULL, 'jammed', 0, 900.5, 'inner', 40, 'percent', 48, 'metres', 'Bench', 'fit', 23, 'Kim');`,
  ],
  [
    26,
    `INSERT INTO spool_weighing (spool_id, gross_g, tare_g, uncertainty_g, at_ms, who) VALUES (7, 212.5, 180, 1, 24, 'Kim');`,
  ],
  [27, `UPDATE spool SET title = 'For the lamp';`],
  [28, 'INSERT INTO day_seen VALUES (20000);'],
];
/** Tables and columns that a later layout renamed. */
const RENAMED: Readonly<Record<string, string>> = {
  calling: 'escalation',
  calling_rules: 'escalation_rules',
  calls: 'escalations',
  least_feedable_mm: 'smallest_feedable_mm',
};
const nameNow = (name: string): string => RENAMED[name] ?? name;
/** A value of a row, with the names of today inside its JSON. */
const valueNow = (value: unknown): unknown =>
  typeof value === 'string'
    ? value
        .replace('"leastFeedableMm":', '"smallestFeedableMm":')
        .replace(/^heaterFallingAway$|(?<=")heaterFallingAway(?=")/, 'heaterLosingTemperature')
    : value;
/** Tables that change when the store opens, because blocks are sealed; they are compared by their readings. */
const REWRITTEN = new Set(['sample_journal', 'sample_span', 'sample_block', 'sample_summary']);

type Row = Record<string, unknown>;

/** Blocks, summaries and the journal of run 4 as a killed service left them. */
async function samples(): Promise<Map<string, Row[]>> {
  const rows = new Map<string, Row[]>();
  await inFolder(async (folder) => {
    const store = openStore({ folder });
    let runId = 0;
    while (runId < 4) runId = beginRun(store);
    const channels = channelsOf(['d', 't1']);
    for (let i = 0; i < READINGS; i++) {
      store.samples.append(runId, readingOf(channels, START_MS + i * 20, [1.75 + (i % 9) / 1000, 200]), i * 0.7);
      if (i % 9999 === 0) store.tick(i * 20);
    }
    store.tick(READINGS * 20);
    const db = new Sqlite(join(folder, DATABASE_FILE), { readonly: true });
    for (const name of REWRITTEN) rows.set(name, db.prepare<[], Row>(`SELECT * FROM ${name}`).all());
    db.close();
    await store.close();
  });
  return rows;
}

function insert(db: Database, table: string, row: Row): void {
  const names = Object.keys(row);
  db.prepare(`INSERT INTO ${table} (${names.join()}) VALUES (${names.map(() => '?').join()})`).run(
    ...Object.values(row),
  );
}

function tablesOf(db: Database): string[] {
  return db
    .prepare<[], string>("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'")
    .pluck()
    .all();
}

/** The one before the current one, and every fourth before that; all of them before a release. */
const LAYOUTS = Array.from({ length: LAYOUT }, (_, i) => i + 1).filter(
  (layout) => IS_LONG_CHECK || (LAYOUT - layout) % 4 === 1,
);

let recorded: Map<string, Row[]>;
beforeAll(async () => {
  recorded = await samples();
}, 60_000);

describe('a database of an older layout', () => {
  it.each(LAYOUTS)(
    'layout %i is carried forward with every row of every table that it has',
    async (layout) => {
      await inFolder(async (folder) => {
        const path = join(folder, DATABASE_FILE);
        const old = new Sqlite(path);
        // Set up like the database of a service.
        old.pragma('auto_vacuum = INCREMENTAL');
        old.pragma('journal_mode = WAL');
        for (let step = 1; step <= layout; step++) {
          migrate(old, step);
          for (const [of, sql] of ROWS) if (of === step) old.exec(sql);
          if (step === 2) for (const [table, rows] of recorded) for (const row of rows) insert(old, table, row);
        }
        expect(layoutOf(old)).toBe(layout);
        const before = new Map(
          tablesOf(old).map((name) => [name, old.prepare<[], Row>(`SELECT * FROM ${name}`).all()]),
        );
        for (const [name, rows] of before) expect([name, rows.length]).not.toStrictEqual([name, 0]);
        old.close();

        const opened = openDatabase(folder, false);
        expect(layoutOf(opened.db)).toBe(LAYOUT);
        expect(opened.db.pragma('foreign_key_check')).toStrictEqual([]);
        expect(opened.db.pragma('integrity_check', { simple: true })).toBe('ok');
        // The days of what was recorded count as days on which the service ran.
        const days = opened.db.prepare('SELECT day FROM day_seen').pluck().all();
        expect(days).toContain(Math.floor(START_MS / 86_400_000));
        // Checksums are computed, and more rows are due.
        before.delete('row_group');
        for (const [name, rows] of before) {
          const after = opened.db.prepare<[], Row>(`SELECT * FROM ${nameNow(name)}`).all();
          expect(after.length).toBe(rows.length);
          for (const [i, row] of rows.entries())
            expect([name, after[i]]).toStrictEqual([
              name,
              {
                ...after[i],
                ...Object.fromEntries(Object.entries(row).map(([key, value]) => [nameNow(key), valueNow(value)])),
              },
            ]);
        }
        opened.close();

        const store = openStore({ folder });
        const { reader, spoolStatements: statements, people, writer } = store;
        expect(reader.run(4)).toMatchObject({ note: 'kept', sourceTitle: 'old line', timeZone: 'Europe/Vienna' });
        expect(reader.spools(4)[0]).toMatchObject({ id: 7, startGaugeMm: -900.5, endGaugeMm: 3000, note: 'red' });
        expect(reader.measuredSections(4)[0]).toMatchObject({ ordinal: 1, fromMm: 10.5, toMm: 20.25, peakMm: 2.1 });
        expect(reader.statedSections(4)[0]).toMatchObject({ note: 'kept too', verdict: 'doubtful' });
        expect(reader.statedSections(4)[0]!.decision).toBe(layout < 18 ? undefined : 'left');
        expect(reader.alarmJournal(4)[0]).toMatchObject({ step: 'raised', timeMs: START_MS + 5 });
        expect(reader.logEntries({ runId: 4, limit: 5 })[0]).toMatchObject({ who: 'Kim', what: 'Changed the spool.' });
        expect(writer.loadLineSettings().settings).toMatchObject({ lineName: 'Old line', smallestFeedableMm: 1.65 });
        expect(writer.standingAlarms()).toMatchObject([{ id: 5, type: 'heaterLosingTemperature', subject: 'zone 2' }]);
        if (layout >= 24) expect(reader.run(4)).toMatchObject({ title: 'New die', isTest: true });
        expect(reader.spools(4)[0]!.title).toBe(layout < 27 ? '' : 'For the lamp');
        if (layout >= 2) {
          expect(await store.columns.extent(4)).toMatchObject({ count: READINGS, fromMs: START_MS });
          const { values } = await store.columns.readings(4, 0, 1e9, ['d']);
          expect(values.d!.every((d, i) => Math.abs(d - (1.75 + (i % 9) / 1000)) < 1e-9)).toBe(true);
        }
        if (layout >= 3) {
          expect(statements.printers()).toMatchObject([{ name: 'Bench', hotendLimitMm: 1.9 }]);
          // From before places were stored; they follow from the counts and the number.
          const cutAt =
            layout < 11
              ? null
              : {
                  fromGaugeMm: 3000,
                  toGaugeMm: 2879.5,
                  knownToGaugeMm: 2881,
                  lengthFactor: 1.002,
                };
          const namedAt = layout < 11 ? null : { fromGaugeMm: -900.5, toGaugeMm: 2879.5 };
          expect(statements.cuts(7)).toMatchObject([{ action: 'discard', countedMm: 120.5, place: cutAt }]);
          expect(statements.coilNames(7)).toMatchObject([{ coil: 1, name: 'good one', place: namedAt }]);
          expect(statements.lengthCorrection(7)).toMatchObject({ measuredMm: 990, indicatedMm: 1000 });
        }
        if (layout >= 5) expect(writer.loadAlarmSettings()).toMatchObject({ blob: { delayS: 2 } });
        if (layout >= 6) expect(people.secret('vapid', (text) => text)).toBe('kept secret');
        expect(statements.choices(7)).toStrictEqual(
          layout < 11
            ? null
            : { printerId: 1, objective: 'fewestCuts', prints: [], shortestMm: 2500, doubtful: 'keep', unknown: 'cut' },
        );
        expect(statements.uses(7)).toMatchObject(
          layout < 25
            ? []
            : [{ id: 1, kind: 'jammed', used: { amount: 40, unit: 'percent' }, called: 'fit', who: 'Kim' }],
        );
        expect(statements.examination(7, 'by these')).toStrictEqual(layout < 11 ? null : { found: [] });
        expect(reader.statedSections(4)[0]!.about).toStrictEqual(
          layout < 11 ? null : { kind: 'neck', fromMm: 8, toMm: 22 },
        );
        if (layout >= 7)
          expect(reader.run(4)!.lot).toStrictEqual({
            name: 'Lot 9',
            preparation: 'dried 6 h',
            values: layout >= 21 ? { dryingH: 6 } : {},
          });
        // No one is notified again of what is long past.
        expect(people.unprocessed()).toStrictEqual([]);
        // New runs can be added.
        const next = beginRun(store);
        expect(next).toBeGreaterThan(4);
        store.samples.append(next, readingOf(channelsOf(['d']), START_MS, [1.75]), 0);
        expect((await store.columns.extent(next))!.count).toBe(1);
        await store.close();
      });
    },
    60_000,
  );

  it('of layout 10 keeps cuts without a place and coil names by number, and continues after them', async () => {
    await inFolder(async (folder) => {
      const old = new Sqlite(join(folder, DATABASE_FILE));
      old.pragma('auto_vacuum = INCREMENTAL');
      old.pragma('journal_mode = WAL');
      for (let step = 1; step <= 10; step++) {
        migrate(old, step);
        for (const [of, sql] of ROWS) if (of === step) old.exec(sql);
      }
      old.exec(
        `INSERT INTO cut (id, spool_id, takes_back, action, counted_mm, landmark_counted_mm, reached_end, at_ms, who)
           VALUES (2, 7, NULL, 'keep', 900, NULL, 0, 21, 'Kim'), (3, 7, 2, 'keep', 900, NULL, 0, 22, 'Ada'),
             (4, 7, NULL, 'keep', 950.25, NULL, 0, 23, 'Ada'), (5, 7, NULL, 'discard', 2829.75, 40, 1, 24, 'Kim');
         INSERT INTO coil_name (id, spool_id, coil, name, at_ms, who)
           VALUES (2, 7, 2, 'first', 25, 'Kim'), (3, 7, 2, 'then', 26, 'Ada'), (4, 7, 1, '', 27, 'Ada');`,
      );
      old.close();

      const cuts = [
        { id: 1, action: 'discard', countedMm: 120.5, landmarkCountedMm: 119, reachedEnd: false, atMs: 8, who: 'Kim' },
        { id: 4, action: 'keep', countedMm: 950.25, landmarkCountedMm: null, reachedEnd: false, atMs: 23, who: 'Ada' },
        { id: 5, action: 'discard', countedMm: 2829.75, landmarkCountedMm: 40, reachedEnd: true, atMs: 24, who: 'Kim' },
      ].map((cut) => ({ ...cut, place: null }));
      const names = [
        { id: 1, coil: 1, name: 'good one', place: null },
        { id: 2, coil: 2, name: 'first', place: null },
        { id: 3, coil: 2, name: 'then', place: null },
        { id: 4, coil: 1, name: '', place: null },
      ];
      const cutAt = {
        fromGaugeMm: 3000,
        toGaugeMm: 2000.5,
        knownToGaugeMm: 2999,
        lengthFactor: 1.002,
      };
      const at = { fromGaugeMm: 10.5, toGaugeMm: 900 };
      const cut = { action: 'keep', countedMm: 999.5, landmarkCountedMm: null, reachedEnd: false } as const;
      const store = openStore({ folder });
      expect(store.spoolStatements.cuts(7)).toStrictEqual(cuts);
      expect(store.spoolStatements.coilNames(7)).toStrictEqual(names);
      expect(store.spoolStatements.takeBackLastCut(7, 28, 'Kim')).toStrictEqual(cuts[2]);
      const [added] = store.spoolStatements.addCuts(7, [{ ...cut, atMs: 29, who: 'Kim', place: cutAt }], false);
      store.spoolStatements.placeCoilName(3, at);
      await store.close();

      const again = openStore({ folder });
      expect(again.spoolStatements.cuts(7)).toStrictEqual([cuts[0], cuts[1], added]);
      expect(added?.place).toStrictEqual(cutAt);
      expect(again.spoolStatements.coilNames(7)).toStrictEqual(
        names.map((name) => (name.id === 3 ? { ...name, place: at } : name)),
      );
      await again.close();
    });
  });
});
