/** Each day a part of the record is read, and within a month all of it. */
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { expect, it } from 'vitest';
import { MaintenanceService } from '../../server/monitor/maintenance-service.ts';
import { afterShare, firstRound, shareDue } from '../../server/monitor/rolling-check.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore, type Store } from '../../server/store/index.ts';
import { beginRun, inNewRecord, layoutOf, readingOf } from './readings.ts';

const START_MS = 1_750_000_000_000;
const DAY_MS = 86_400_000;

it('reads more after days off, and everything at most', () => {
  const check = firstRound(START_MS);
  const shares = [0.9, 1, 2.5, 28, 400, -1].map((days) => shareDue(check, START_MS + days * DAY_MS));
  expect(shares).toStrictEqual([0, 1 / 28, 2 / 28, 1, 1, 1 / 28]);
});

it('keeps what it found until the next round begins', () => {
  const next = { part: 1, after: 7 };
  const first = afterShare(firstRound(0), { read: 5, total: 10, faults: ['a'], next }, 1);
  expect(first).toStrictEqual({ lastMs: 1, next, read: 5, total: 10, faults: ['a'], completeMs: null });
  const second = afterShare(first, { read: 6, total: 11, faults: ['b'], next: null }, 2);
  expect(second).toStrictEqual({ lastMs: 2, next: null, read: 11, total: 11, faults: ['a', 'b'], completeMs: 2 });
  const third = afterShare(second, { read: 1, total: 11, faults: [], next }, 3);
  expect(third).toStrictEqual({ lastMs: 3, next, read: 1, total: 11, faults: [], completeMs: 2 });
});

it('begins again if how far it got cannot be read', async () => {
  await inNewRecord(async (folder) => {
    const store = openStore({ folder, readers: 'sameThread' });
    const check = { ...firstRound(START_MS), next: { part: 1, after: ['spool', 7] as const } };
    try {
      store.maintenance.saveRollingCheck(check);
      expect(store.maintenance.rollingCheck()).toStrictEqual(check);
      for (const changed of [{ faults: [[]] }, { next: { part: 1, after: {} } }, { total: 'x' }]) {
        store.maintenance.saveRollingCheck({ ...check, ...changed } as never);
        expect(store.maintenance.rollingCheck()).toBeNull();
      }
    } finally {
      await store.close();
    }
  });
});

it('finds a flipped bit within four weeks, across restarts, and reads nothing twice', async () => {
  await inNewRecord(async (folder) => {
    let nowMs = START_MS;
    const open = (): { store: Store; service: MaintenanceService } => {
      const store = openStore({ folder, readers: 'sameThread' });
      const service = new MaintenanceService({
        maintenance: store.maintenance,
        writer: store.writer,
        clock: () => nowMs,
        steadyClock: () => nowMs,
        correctBinDates: () => {},
        log: { info: () => {}, warn: () => {}, error: () => {} },
        settings: () => ({ ...defaultLineSettings(), freeSpaceAlarmGb: 0 }),
        backupFolder: join(folder, 'copies'),
        scheduled: false,
      });
      return { store, service };
    };
    let { store, service } = open();
    const runId = beginRun(store);
    const layout = layoutOf(['d']);
    for (let i = 0; i < 330_000; i++) store.samples.append(runId, readingOf(layout, START_MS + i, [1.75]), i);
    store.samples.flush();
    await store.close();
    const db = new Sqlite(join(folder, DATABASE_FILE));
    const blocks = db.prepare<[], number>('SELECT id FROM sample_block ORDER BY id').pluck().all();
    expect(blocks.length).toBeGreaterThan(40);
    const bad = blocks[20]!;
    const data = db.prepare<[number], Buffer>('SELECT data FROM sample_block WHERE id = ?').pluck().get(bad)!;
    data[70]! ^= 1;
    db.prepare('UPDATE sample_block SET data = ? WHERE id = ?').run(data, bad);
    db.close();

    ({ store, service } = open());
    service.runOnce();
    expect((await service.state()).rollingCheck).toMatchObject({ lastMs: START_MS, read: 0, completeMs: null });
    const foundOn: number[] = [];
    let day = 0;
    for (; (await service.state()).rollingCheck?.completeMs === null && day < 40; ) {
      day++;
      nowMs += DAY_MS;
      service.runOnce();
      // Only once a day.
      service.runOnce();
      await service.stop();
      const { faults } = (await service.state()).rollingCheck!;
      if (faults.length > 0) foundOn.push(day);
      if (day % 9 === 0) {
        await store.close();
        ({ store, service } = open());
      }
    }
    expect(day).toBeGreaterThan(20);
    expect(day).toBeLessThanOrEqual(28);
    expect(foundOn[0]).toBeGreaterThan(1);
    const { rollingCheck } = await service.state();
    // The alarm: across restarts too, until a check of everything finds nothing.
    expect(service.damage).toBe(`sample_block ${bad}: the checksum does not match`);
    await store.close();
    ({ store, service } = open());
    service.runOnce();
    expect(service.damage).toContain(`sample_block ${bad}`);
    data[70]! ^= 1;
    const mended = new Sqlite(join(folder, DATABASE_FILE));
    mended.prepare('UPDATE sample_block SET data = ? WHERE id = ?').run(data, bad);
    mended.close();
    await service.check('Kim');
    expect(service.damage).toBeNull();
    expect((await service.state()).rollingCheck!.faults).toStrictEqual([]);
    expect(rollingCheck!.faults).toStrictEqual([`sample_block ${bad}: the checksum does not match`]);
    // Groups of rows may be added while it goes on, such as those of the log.
    expect(Math.abs(rollingCheck!.read - rollingCheck!.total)).toBeLessThanOrEqual(2);
    const log = store.reader.logEntries({ limit: 50 }).map(({ what }) => what);
    expect(log.filter((what) => what.startsWith('The daily check of the record found 1 fault: '))).toHaveLength(1);
    await store.close();
  });
});
