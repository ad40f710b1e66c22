import { expect, test } from 'vitest';
import type { JournalPageView } from '../../server/api/contract/alarm-journal.ts';
import { exportJournal } from '../../server/api/export/export-journal.ts';
import { searchJournal } from '../../server/api/journal-search.ts';
import { openDatabase } from '../../server/store/database.ts';
import { UnreadableRows } from '../../server/store/record/unreadable-rows.ts';
import { recordReader } from '../../server/store/record-reader.ts';
import { recordWriter } from '../../server/store/record-writer.ts';
import { alarmOf, changeOf } from '../escalation/alarms.ts';
import { inNewRecord } from '../store/readings.ts';

const STEPS = 1300;

test('the journal of a long period is read in pages: each step once, in order, even if many happened at the same time', async () => {
  await inNewRecord(async (folder) => {
    const { db, path, close } = openDatabase(folder, false);
    const writer = recordWriter(db, path, () => null, new UnreadableRows());
    const reader = recordReader(db, new UnreadableRows());
    const runId = writer.beginRun({ startedMs: 0, timeZone: 'UTC', sourceTitle: 'journal' }).id;
    for (let n = 1; n <= STEPS; n++) {
      // Steps at the same time continue across pages; every third step belongs to the run.
      const alarm = alarmOf('low', { id: n, lastOccurredMs: Math.floor(n / 400) * 1000 });
      writer.saveAlarmChanges(n % 3 === 0 ? runId : null, [changeOf('raised', alarm)]);
    }
    const read = async (of: { runId: number | null; fromMs: number; toMs: number }, format: 'json' | 'csv') => {
      const pieces: string[] = [];
      for await (const piece of exportJournal(reader, of, format)) pieces.push(piece);
      return pieces;
    };
    const alarms = async (of: { runId: number | null; fromMs: number; toMs: number }) =>
      (JSON.parse((await read(of, 'json')).join('')) as { alarm: number }[]).map(({ alarm }) => alarm);
    const all = { runId: null, fromMs: 0, toMs: 9e15 };
    const numbers = Array.from({ length: STEPS }, (_, i) => i + 1);
    expect(await alarms(all)).toEqual(numbers);
    expect(await alarms({ ...all, runId })).toEqual(numbers.filter((n) => n % 3 === 0));
    // From inclusive, to exclusive.
    expect(await alarms({ ...all, fromMs: 1000, toMs: 2000 })).toEqual(numbers.filter((n) => n >= 400 && n < 800));
    expect(await alarms({ ...all, fromMs: 8e15 })).toEqual([]);
    const csv = await read(all, 'csv');
    expect(csv.join('').trimEnd().split('\r\n')).toHaveLength(STEPS + 1);
    // Each piece is only a part.
    const longest = Math.max(...csv.map((piece) => piece.length));
    expect(longest).toBeLessThan(csv.join('').length / 2);

    // Newest first, 50 at a time, and never more of the journal at once than is allowed.
    const query = { search: '', from: 0, to: 9e15, limit: 50 };
    const backwards: number[] = [];
    let next: { to: number; toId: number } | null = { to: 9e15, toId: 0 };
    while (next !== null) {
      const page: JournalPageView = await searchJournal(reader, { ...query, ...next });
      backwards.push(...page.entries.map(({ id }) => id));
      next = page.next;
    }
    expect(backwards).toEqual(numbers.toReversed());
    const lookedThroughMax = 500;
    const rare = { ...query, search: 'said by no one' };
    expect(await searchJournal(reader, rare, lookedThroughMax)).toEqual({
      entries: [],
      next: { to: 2000, toId: STEPS - lookedThroughMax + 1 },
    });

    const plan = db
      .prepare(
        'EXPLAIN QUERY PLAN SELECT id FROM alarm_journal WHERE time_ms < 9 AND (time_ms, id) > (1, 2) ORDER BY time_ms, id',
      )
      .all()
      .map((row) => (row as { detail: string }).detail)
      .join();
    expect(plan).toMatch(/alarm_journal_by_time/);
    expect(plan).not.toMatch(/TEMP B-TREE/);
    close();
  });
});
