import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { describe, expect, it } from 'vitest';
import type { RunDetail, RunView } from '../../server/api/contract/runs-and-spools.ts';
import { CONTACT_DEFAULTS, type Contact } from '../../server/escalation/contact.ts';
import { readAnswerSecret } from '../../server/notify/answer-token.ts';
import { recoverLineSettings } from '../../server/settings/check-line-settings.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore, type UnreadableRow } from '../../server/store/index.ts';
import { blockId } from '../../server/store/samples/sample-ids.ts';
import { MUTE, startTestService, woundFromLines } from '../api/test-service.ts';
import { newRecord } from '../store/new-record.ts';
import { beginRun, layoutOf, readingOf } from '../store/readings.ts';

/** A wound spool with a blob and its alarm. */
const lines = Array.from({ length: 1000 }, (_, i) => {
  const d = i > 600 && i < 630 ? 2.1 : 1.75 + (i % 7) / 1000;
  return `ms=${i * 20} len=${(i * 0.7).toFixed(1)} v=35 d=${d.toFixed(3)}`;
});

const STEP = 'INSERT INTO alarm_journal (run_id, alarm_id, time_ms, what, by, payload)';
const SECTION = 'INSERT INTO measured_section (run_id, ordinal, kind, verdict, from_mm, to_mm, payload)';
const BAD_ROWS = [
  ['settings of a run that are no JSON', `INSERT INTO run_set (run_id, from_gauge_mm, payload) VALUES (1, 0, '{')`],
  ['settings of a run without limits', `INSERT INTO run_set (run_id, from_gauge_mm, payload) VALUES (1, 0, '{}')`],
  [
    'limits of a run in an impossible order',
    `INSERT INTO run_set (run_id, from_gauge_mm, payload) SELECT run_id, 0, json_set(payload, '$.limits.hotendLimitMm', 0.1) FROM run_set WHERE json_valid(payload) AND payload ->> '$.limits' IS NOT NULL LIMIT 1`,
  ],
  [
    'an impossible start of a spool',
    'INSERT INTO spool (run_id, ordinal, start_gauge_mm, started_ms) VALUES (1, 9, -9e999, 1)',
  ],
  ['a section that is no JSON', `${SECTION} VALUES (1, 98, 'blob', 'discard', 1, 2, 'x')`],
  ['a section that ends nowhere', `${SECTION} VALUES (1, 99, 'blob', 'discard', 1, 2, '{"ordinal":99}')`],
  ['an alarm that is no JSON', `${STEP} VALUES (1, 1, 1, 'raised', NULL, '[')`],
  ['an alarm without fields', `${STEP} VALUES (1, 1, 2, 'raised', NULL, '{}')`],
  ['a step at no time', `${STEP} SELECT run_id, alarm_id, 9e999, what, NULL, payload FROM alarm_journal LIMIT 1`],
  ['a run whose date was corrected nobody knows how', `UPDATE run SET moved_rows = '{"rows":'`],
  [
    'a spool that nobody deleted at no time',
    `INSERT INTO spool (run_id, ordinal, start_gauge_mm, started_ms, end_gauge_mm, ended_ms, deleted_ms) VALUES (1, 8, 1, 1, 2, 2, -1)`,
  ],
  [
    'a stretch that a user marked nobody knows how',
    `INSERT INTO stated_section (run_id, target, from_mm, to_mm, verdict, note, removed, at_time_ms) VALUES (1, 'p99', 1, 2, 'x', '', 0, 1)`,
  ],
  [
    'an alarm with a field of a hundred thousand levels',
    `${STEP} SELECT run_id, alarm_id, time_ms, what, NULL, substr(payload, 1, length(payload) - 1) || ',"x":${'['.repeat(100_000)}${']'.repeat(100_000)}}' FROM alarm_journal LIMIT 1`,
  ],
  ['an unknown step', `${STEP} SELECT run_id, alarm_id, time_ms, 'sung', NULL, payload FROM alarm_journal LIMIT 1`],
] as const;

it('leaves a bad row out of lists, reports and journals, and counts it', async () => {
  const service = await woundFromLines(lines);
  try {
    const before = await service.get<RunDetail>('/api/runs/1');
    expect(before.run.unreadableRows).toBe(0);
    expect(before.alarms.length).toBeGreaterThan(0);
    for (const [i, [what, sql]] of BAD_ROWS.entries()) {
      const db = new Sqlite(join(dirname(service.store.maintenance.scratchPath()), DATABASE_FILE));
      db.exec(sql);
      db.close();
      // A row counts once it has been read.
      expect(await service.get('/api/bin')).toStrictEqual([]);
      expect(service.store.reader.runDate(1).canBeMovedBack).toBe(false);
      // The monitor still holds the sections of its last run in memory.
      expect(service.store.reader.measuredSections(1)).toHaveLength(before.sections.length);
      const after = await service.get<RunDetail>('/api/runs/1');
      expect([what, after.run.unreadableRows]).toStrictEqual([what, i + 1]);
      expect(after.alarms).toStrictEqual(before.alarms);
      expect(after.spools).toStrictEqual(before.spools);
      expect((await service.get<RunView[]>('/api/runs')).map(({ unreadableRows }) => unreadableRows)).toStrictEqual([
        i + 1,
      ]);
      const journal = await service.get<unknown[]>('/api/alarm-journal?from=0&to=9e15&format=json');
      expect(journal).toHaveLength(before.alarms.length);
    }
  } finally {
    await service.stop();
  }
});

it.each([
  [
    'a scale',
    "INSERT INTO spool_weighing (spool_id, gross_g, tare_g, uncertainty_g, at_ms, who) VALUES (1, 1e308, -1e308, 1, 1, 'Kim')",
  ],
  [
    'a tape',
    "INSERT INTO length_correction (spool_id, measured_mm, indicated_mm, uncertainty_mm, at_ms, who) VALUES (1, 0, 0, 1, 1, 'Kim')",
  ],
  [
    'a choice',
    "INSERT INTO spool_choice (spool_id, printer_id, objective, shortest_mm, doubtful, unknown, prints, at_ms, who) VALUES (1, 0, 'mostLength', -1, 'cut', 'cut', '[]', 1, 'Kim')",
  ],
])('lists runs and spools as before if %s says what cannot be', async (_, sql) => {
  const service = await woundFromLines(lines);
  try {
    const lists = ['/api/spools', '/api/stock'];
    const before = await Promise.all(lists.map((path) => service.get(path)));
    const db = new Sqlite(join(dirname(service.store.maintenance.scratchPath()), DATABASE_FILE));
    db.exec(sql);
    db.close();
    expect(await Promise.all(lists.map((path) => service.get(path)))).toStrictEqual(before);
    expect(await service.get('/api/runs')).toHaveLength(1);
  } finally {
    await service.stop();
  }
});

describe('settings that cannot be read', () => {
  it('are replaced by the defaults, and each row is reported once', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'strandward-rows-'));
    try {
      await openStore({ folder }).close();
      const db = new Sqlite(join(folder, DATABASE_FILE));
      db.exec(`INSERT INTO line_settings (saved_ms, payload) VALUES (1, '{"nominalMm": 1.7');
        INSERT INTO alarm_setting (type, payload, who, saved_ms) VALUES ('blob', '{', 'x', 1);
        INSERT INTO alarm_setting (type, payload, who, saved_ms) VALUES ('neck', '{"delayS":3}', 'x', 1);
        INSERT INTO zone_model (source, zone, saved_ms, payload) VALUES ('line', 1, 1, 'x');
        INSERT INTO credential (kind, name, held_right, digest, created_ms, created_by) VALUES
          ('device', 'Kitchen phone', 'everything', randomblob(32), 1, 'x'),
          ('device', 'Yard phone', 'act', '${'a'.repeat(32)}', 1, 'x'),
          ('device', 'Attic phone', 'act', randomblob(32), 'x', 'x'),
          ('device', 'Loft phone', 'act', randomblob(32), 1, 'x');
        INSERT INTO printer (name, hotend_limit_mm, smallest_feedable_mm, tolerance_mm, note, changed_ms) VALUES ('Kiln', 9e999, 1.6, 0.05, '', 1);
        INSERT INTO sample_journal (run_id, first_number, count, from_ms, to_ms, from_gauge_mm, to_gauge_mm, data) VALUES (77, 0, 1, 1, 1, 0, 0, x'00');
        INSERT INTO alarm (id, type, subject, state, payload) VALUES (7, 'blob', '', 'unacknowledged', '{}')`);
      db.close();
      const reported: UnreadableRow[] = [];
      const damaged: string[] = [];
      const store = openStore({
        folder,
        unreadable: (row) => reported.push(row),
        damaged: ({ why }) => damaged.push(why),
      });
      expect(damaged).toStrictEqual([expect.stringContaining('belong to run 77, which does not exist')]);
      for (let i = 0; i < 2; i++) {
        expect(store.spoolStatements.printers()).toStrictEqual([]);
        const { settings, problems } = recoverLineSettings(store.writer.loadLineSettings().settings);
        expect(settings.nominalMm).toBe(1.75);
        expect(problems).toHaveLength(1);
        expect(store.writer.loadAlarmSettings()).toStrictEqual({ neck: { delayS: 3 } });
        expect(store.writer.loadZoneModels('line').size).toBe(0);
        expect(store.writer.standingAlarms()).toStrictEqual([]);
        expect(store.identity.credentials().map(({ name }) => name)).toStrictEqual(['Loft phone']);
      }
      expect(reported.map(({ table }) => table).sort()).toStrictEqual([
        'alarm',
        'alarm_setting',
        'credential',
        'credential',
        'credential',
        'line_settings',
        'printer',
        'zone_model',
      ]);
      await store.close();
    } finally {
      rmSync(folder, { recursive: true });
    }
  });
});

it('leaves out a bad channel, contact, rule, message or choice and keeps the others', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-rows-'));
  try {
    const first = openStore({ folder });
    const settings = { kind: 'webhook', url: 'http://127.0.0.1:9/', secret: '', template: '' } as const;
    const { id } = first.people.addChannel({ name: 'Chat', settings }, 1);
    const fields = { name: 'Kim', channelIds: [id], leastPriority: 'high', quiet: null, round: 1 } as const;
    // As an older version stored it, without what has been added since.
    first.people.addContact(fields as unknown as Contact, 1);
    const kim = { ...CONTACT_DEFAULTS, ...fields };
    const run = first.writer.beginRun({ startedMs: 1, timeZone: 'UTC', sourceTitle: 'line' });
    const spool = first.writer.beginSpool({ runId: run.id, startGaugeMm: 0, startedMs: 1 });
    await first.close();
    const db = new Sqlite(join(folder, DATABASE_FILE));
    db.exec(`INSERT INTO channel (name, settings, changed_ms) VALUES ('Bad', '{', 1), ('Worse', '{"kind":"pigeon"}', 1),
        ('Worst', '{"kind":"webhook","url":"http://127.0.0.1:9/","secret":"","template":"","x":[]}', 1);
      UPDATE channel SET state = '{}' WHERE name = 'Chat';
      INSERT INTO contact (payload, changed_ms) VALUES ('[', 1), ('{"name":"Ada"}', 1);
      INSERT INTO escalation_rules (saved_ms, payload) VALUES (1, '{"remindEveryMin":[]}');
      INSERT INTO outbox VALUES (1, 1, 'alarm-1-a', NULL, 'waiting', '{"seq":1', NULL), (2, 1, 'alarm-1-b', NULL, 'expired', '{}', 5);
      INSERT INTO drill (payload) VALUES ('x'), ('{}');
      INSERT INTO cut (spool_id, action, counted_mm, reached_end, at_ms, who) VALUES (${spool.id}, 'discard', 9e999, 0, 1, 'Kim');
      INSERT INTO coil_name (spool_id, coil, name, from_gauge_mm, to_gauge_mm, at_ms, who) VALUES (${spool.id}, 1, 'a', 9e999, 1, 1, 'Kim');
      INSERT INTO spool_weighing (spool_id, gross_g, tare_g, uncertainty_g, at_ms, who) VALUES (${spool.id}, 9e999, 1, 1, 1, 'Kim');
      UPDATE escalation SET escalations = '[{}]';
      INSERT INTO spool_choice (spool_id, printer_id, objective, shortest_mm, doubtful, unknown, prints, at_ms, who)
        VALUES (${spool.id}, 1, 'fewestCuts', NULL, 'keep', 'cut', '[{"amount":"x"}]', 1, 'Kim')`);
    db.close();
    const reported: string[] = [];
    const store = openStore({ folder, unreadable: ({ table, row }) => reported.push(`${table} ${row}`) });
    for (let i = 0; i < 2; i++) {
      const { people, spoolStatements } = store;
      expect(people.channels().map(({ name }) => name)).toStrictEqual(['Chat']);
      expect(people.channelStates().size).toBe(0);
      expect(people.contacts()).toStrictEqual([{ ...kim, id: 1 }]);
      expect(people.loadRules()).toBeNull();
      expect(people.waiting()).toStrictEqual([]);
      expect(people.ended({ dead: true, limit: 9 })).toStrictEqual([]);
      expect(people.pictureOf(1)).toBeNull();
      expect(people.drills(9)).toStrictEqual([]);
      expect(people.escalations()).toStrictEqual([]);
      expect(spoolStatements.choices(spool.id)).toBeNull();
      expect(spoolStatements.cuts(spool.id)).toStrictEqual([]);
      expect(spoolStatements.coilNames(spool.id)).toStrictEqual([]);
      expect(spoolStatements.weighing(spool.id)).toBeNull();
    }
    expect(new Set(reported).size).toBe(reported.length);
    expect(reported).toHaveLength(16);
    await store.close();
  } finally {
    rmSync(folder, { recursive: true });
  }
});

describe('a secret of the service that cannot be read', () => {
  const OTHER = '192.0.2.7:8751';
  const KEYS = `{"publicKey":"${'B'.repeat(87)}","privateKey":"${'A'.repeat(42)}E"}`;
  it.each([
    ['answers', ''],
    ['push keys', '{"publicKey":"B'],
    ['push keys', KEYS],
    ['spools reported', 'soon'],
    ['other-lines', '[{"id":1'],
    ['other-lines', `{"lastId":null,"lines":[{"address":"http://${OTHER}","watchToken":"t","actToken":""}]}`],
    ['other-lines', '{"lastId":1,"lines":[{"id":1,"address":"nowhere","watchToken":"t","actToken":""}]}'],
  ])('%s: %s is made anew or left out, also at the next start', async (name, value) => {
    const dataFolder = newRecord('strandward-secrets-');
    try {
      const db = new Sqlite(join(dataFolder, DATABASE_FILE));
      db.prepare('INSERT INTO service_secret (name, value) VALUES (?, ?)').run(name, value);
      db.close();
      for (let start = 0; start < 2; start++) {
        const service = await startTestService(MUTE, {}, undefined, null, { dataFolder });
        try {
          service.start();
          expect(await service.get('/api/lines')).toStrictEqual([]);
          if (name === 'other-lines') continue;
          expect(service.store.people.secret(name, (text) => text)).not.toBe(value);
        } finally {
          await service.stop();
        }
      }
    } finally {
      rmSync(dataFolder, { recursive: true });
    }
  });

  it('is reported', async () => {
    const folder = newRecord('strandward-secrets-');
    const reported: string[] = [];
    const store = openStore({ folder, unreadable: ({ table, row, why }) => reported.push(`${table} ${row}: ${why}`) });
    try {
      store.people.keepSecret('answers', 'x');
      expect(store.people.secret('answers', readAnswerSecret)).toBeNull();
      expect(reported).toStrictEqual(['service_secret answers: It does not have its 32 bytes.']);
    } finally {
      await store.close();
      rmSync(folder, { recursive: true });
    }
  });
});

it('says that the record is damaged where rows contradict each other at the start', async () => {
  const [folder, copied] = [newRecord('strandward-rows-'), mkdtempSync(join(tmpdir(), 'strandward-rows-'))];
  const store = openStore({ folder });
  try {
    const runId = beginRun(store);
    store.samples.append(runId, readingOf(layoutOf(['d']), 1e12, [1.75]), 0);
    store.tick(0);
    // As a killed process leaves it: a reading in the journal. The block that it is to begin is there already.
    const db = new Sqlite(join(folder, DATABASE_FILE));
    db.prepare('VACUUM INTO ?').run(join(copied, DATABASE_FILE));
    db.close();
    const copy = new Sqlite(join(copied, DATABASE_FILE));
    expect(copy.prepare('SELECT count(*) FROM sample_journal').pluck().get()).toBe(1);
    copy.prepare(`INSERT INTO sample_block VALUES (?, x'00')`).run(blockId(runId, 0));
    copy.close();
    expect(() => openStore({ folder: copied })).toThrow(/is damaged: UNIQUE constraint failed/);
  } finally {
    await store.close();
    for (const one of [folder, copied]) rmSync(one, { recursive: true });
  }
});
