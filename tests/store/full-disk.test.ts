import { describe, expect, it } from 'vitest';
import type { LogEntry } from '../../server/monitor/ports/record.ts';
import { logDroppedReadings } from '../../server/monitor/run/dropped-readings.ts';
import { openDatabase } from '../../server/store/database.ts';
import { RecordFailing } from '../../server/store/index.ts';
import { faultOfSamples } from '../../server/store/maintenance/check-sample-values.ts';
import { UnreadableRows } from '../../server/store/record/unreadable-rows.ts';
import { recordWriter } from '../../server/store/record-writer.ts';
import { type DroppedReadings, SampleAppender } from '../../server/store/samples/sample-appender.ts';
import { SampleQueries } from '../../server/store/samples/sample-queries.ts';
import { inFolder, layoutOf, randomOf, readingOf } from './readings.ts';

/** A writer on a disk whose size can be set. */
async function onSmallDisk(
  waitingBytesMax: number,
  dropped: (gap: DroppedReadings) => void,
  use: (parts: {
    appender: SampleAppender;
    queries: SampleQueries;
    writer: ReturnType<typeof recordWriter>;
    /** Pages that the database may still grow by; null = no limit. */
    room: (pages: number | null) => void;
    db: ReturnType<typeof openDatabase>['db'];
  }) => void,
): Promise<void> {
  await inFolder((folder) => {
    const { db, path, close } = openDatabase(folder, false);
    const appender = new SampleAppender(db, path, waitingBytesMax, () => {}, dropped);
    const queries = new SampleQueries(db, (what) => expect(what).toBeNull());
    const writer = recordWriter(db, path, () => null, new UnreadableRows());
    const room = (pages: number | null) => {
      const now = Number(db.pragma('page_count', { simple: true }));
      db.pragma(`max_page_count = ${pages === null ? 4294967294 : now + pages}`);
    };
    use({ appender, queries, writer, room, db });
    close();
  });
}

const layout = layoutOf(['d', 'x']);
const run = { startedMs: 0, timeZone: 'UTC', sourceTitle: 'small disk' };

describe('a full disk', () => {
  it('is not to blame if a table has no more numbers', async () => {
    await onSmallDisk(
      1e9,
      () => {},
      ({ writer, db, room }) => {
        writer.beginRun(run);
        db.prepare("UPDATE sqlite_sequence SET seq = 9223372036854775807 WHERE name = 'run'").run();
        const broken = expect.objectContaining({
          code: 'database-broken',
          message: expect.stringContaining('numbers'),
        });
        expect(() => writer.beginRun(run)).toThrow(broken);
        db.prepare("UPDATE sqlite_sequence SET seq = 1 WHERE name = 'run'").run();
        room(0);
        expect(() => {
          for (let i = 0; i < 1000; i++) writer.beginRun(run);
        }).toThrow(expect.objectContaining({ code: 'record-failing', reason: 'full' }));
      },
    );
  });

  it('is reported every second; readings wait, stay visible, and are written when there is space again', async () => {
    await onSmallDisk(
      1e9,
      (gap) => expect(gap).toBeNull(),
      ({ appender, queries, writer, room }) => {
        const runId = writer.beginRun(run).id;
        const random = randomOf(1);
        const sent: number[] = [];
        let reports = 0;
        room(20);
        for (let second = 0; second < 600; second++) {
          for (let k = 0; k < 50; k++) {
            const i = second * 50 + k;
            sent.push(random());
            appender.append(runId, readingOf(layout, i * 20, [1.75, sent[i]!]), i);
          }
          try {
            appender.commit();
          } catch (thrown) {
            expect(thrown).toBeInstanceOf(RecordFailing);
            expect((thrown as RecordFailing).reason).toBe('full');
            expect((thrown as RecordFailing).message).toContain('full');
            reports++;
          }
        }
        expect(reports).toBeGreaterThan(400);
        const read = () => [...queries.readings(runId, 0, 1e9, ['x'], appender.tailOf(runId)).values.x!];
        expect(read()).toStrictEqual(sent);
        // A user's entry is refused with an error, not lost silently.
        expect(() => writer.setRunNote(runId, 'n'.repeat(100_000))).toThrow(RecordFailing);

        room(null);
        appender.flush();
        expect(appender.tailOf(runId)?.blocks ?? []).toStrictEqual([]);
        expect(read()).toStrictEqual(sent);
        expect(appender.readingsLost).toBe(0);
        writer.setRunNote(runId, 'space again');
      },
    );
  });

  it('drops the oldest waiting readings beyond the limit, marks the gap once, and continues', async () => {
    const gaps: DroppedReadings[] = [];
    await onSmallDisk(
      100_000,
      (gap) => gaps.push(gap),
      ({ appender, queries, writer, room, db }) => {
        const runId = writer.beginRun(run).id;
        const random = randomOf(2);
        room(0);
        const n = 40_000;
        for (let i = 0; i < n; i++) {
          appender.append(runId, readingOf(layout, i * 20, [1.75, random()]), i);
          if (i % 5000 === 4999) expect(() => appender.commit()).toThrow(RecordFailing);
        }
        expect(appender.readingsLost).toBeGreaterThan(10_000);
        expect(gaps).toStrictEqual([]);
        room(null);
        appender.flush();
        const { gaugeMm } = queries.readings(runId, 0, 1e9, [], appender.tailOf(runId));
        expect(gaugeMm.length).toBe(n - appender.readingsLost);
        expect(gaugeMm.at(-1)).toBe(n - 1);
        expect(queries.extent(runId, appender.tailOf(runId))!.count).toBe(gaugeMm.length);
        const last = gaugeMm[0]! - 1;
        const count = appender.readingsLost;
        const gap = { runId, count, fromMs: 0, toMs: last * 20, fromGaugeMm: 0, toGaugeMm: last };
        appender.append(runId, readingOf(layout, n * 20, [1.75, 1]), n);
        appender.commit();
        expect(gaps).toStrictEqual([gap]);
        // Such a run can still be exported, imported and restored.
        expect(faultOfSamples(db, runId)).toBeNull();

        const logged: Omit<LogEntry, 'id'>[] = [];
        const log = { info: () => {}, warn: () => {}, error: () => {} };
        logDroppedReadings(gap, { writer: { log: (entry) => ({ ...entry, id: logged.push(entry) }) }, log, nowMs: 7 });
        expect(logged).toMatchObject([{ timeMs: 7, runId, who: 'service' }]);
        expect(JSON.stringify(logged)).toContain(`from 0.0 to ${(last / 1000).toFixed(1)} m at the gauge`);
      },
    );
  });
});

it('a damaged journal is reported once for each run, not for each row', async () => {
  await onSmallDisk(
    1e9,
    () => {},
    ({ appender, writer, db }) => {
      const runId = writer.beginRun(run).id;
      for (let i = 0; i < 5; i++) {
        appender.append(runId, readingOf(layout, i * 1000, [1.75, i]), i);
        appender.commit();
      }
      expect(db.prepare("UPDATE sample_journal SET data = x'00'").run().changes).toBe(5);
      const told: string[] = [];
      new SampleAppender(db, db.name).recover((what) => told.push(what));
      expect(told).toStrictEqual([expect.stringContaining(`5 rows of run ${runId}, the first: `)]);
    },
  );
});
