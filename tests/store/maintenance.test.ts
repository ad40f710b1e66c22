import { existsSync, mkdirSync, readdirSync, readFileSync, statSync, utimesSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { describe, expect, it } from 'vitest';
import type { Log } from '../../server/monitor/log.ts';
import { MaintenanceService } from '../../server/monitor/maintenance-service.ts';
import type { WindowColumns } from '../../server/monitor/ports/samples.ts';
import { Problem } from '../../server/problem/problem.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore, restoreBackup, type Store } from '../../server/store/index.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { gauss } from './noise.ts';
import { beginRun, inFolder, layoutOf, readingOf, withStore } from './readings.ts';

const READINGS = 150_000;
const START_MS = 1_750_000_000_000;
const silent = { info: () => {}, warn: () => {}, error: () => {} };

/** An ended run whose readings fill two pages of summaries and start a third. */
function fill(store: Store, readings = READINGS): number {
  const runId = beginRun(store);
  const layout = layoutOf(['d', 't1']);
  const g = gauss(4);
  for (let i = 0; i < readings; i++) {
    const d = Math.round((1.75 + 0.01 * g()) * 1000) / 1000;
    store.samples.append(runId, readingOf(layout, START_MS + i * 20, [d, 200 + (i % 9) / 10]), i * 0.7);
  }
  store.samples.flush();
  store.writer.endRun(runId, START_MS + readings * 20);
  return runId;
}

function whole(store: Store, runId: number, columns: number, spread = false): Promise<WindowColumns> {
  const to = START_MS + READINGS * 20;
  return store.columns.window({ runId, axis: 'time', from: START_MS, to, columns, signals: ['d'], spread });
}

function thinAll(store: Store, endedBeforeMs: number): number[] {
  const started: number[] = [];
  for (let steps = 0; steps < 1000; steps++) {
    const step = store.maintenance.thinStep(endedBeforeMs, START_MS * 2);
    if (step === null) return started;
    if (step !== 'more') started.push(step.startedRunId);
  }
  throw new Error('It does not end.');
}

describe('deleting single readings', () => {
  it('keeps count, extremes and mean of the whole run exact, and charts down to groups of readings', async () => {
    await inFolder(async (folder) => {
      let store = openStore({ folder });
      const runId = fill(store);
      const young = fill(store, 5000);
      const before = await whole(store, runId, 1);
      const fine = await whole(store, runId, 40);
      const used = store.maintenance.usedBytes();
      expect(thinAll(store, START_MS + READINGS * 20 + 1)).toStrictEqual([runId, young]);
      // A third of the remainder are pages that an empty record has as well.
      expect(store.maintenance.usedBytes()).toBeLessThan(used * 0.6);
      await store.close();
      store = openStore({ folder });
      const after = await whole(store, runId, 1);
      expect(after.count).toStrictEqual(before.count);
      expect(after.signals.d!.min).toStrictEqual(before.signals.d!.min);
      expect(after.signals.d!.max).toStrictEqual(before.signals.d!.max);
      expect(after.signals.d!.mean[0]!).toBeCloseTo(before.signals.d!.mean[0]!, 12);
      const coarse = await whole(store, runId, 40);
      expect(coarse.count.reduce((a, b) => a + b)).toBe(READINGS);
      // Columns start within an eighth of a column of their place, which needs only summaries.
      const widthMs = (READINGS * 20) / 40;
      for (const { timeMs } of [fine, coarse]) {
        for (const [i, ms] of timeMs.entries()) {
          expect(Math.abs(ms! - START_MS - i * widthMs)).toBeLessThanOrEqual(widthMs / 8);
        }
      }
      expect(Math.max(...(coarse.signals.d!.max as number[]))).toBe(Math.max(...(fine.signals.d!.max as number[])));
      // Without a spread, everything else is still there.
      for (const columns of [1, 40, 200]) {
        const plain = await whole(store, runId, columns);
        const { sd, ...rest } = (await whole(store, runId, columns, true)).signals.d!;
        expect(rest.min).toStrictEqual(plain.signals.d!.min);
        expect(rest.max).toStrictEqual(plain.signals.d!.max);
        for (const [i, mean] of rest.mean.entries()) expect(mean!).toBeCloseTo(plain.signals.d!.mean[i]!, 9);
        expect(sd).toHaveLength(columns);
      }
      const asked = store.columns.readings(runId, 0, 1e9, ['d']);
      await expect(asked).rejects.toMatchObject({ code: 'readings-thinned' });
      await store.close();
    });
  });

  it('leaves younger and unfinished runs alone, and continues after a kill in the middle', async () => {
    await withStore(async (store) => {
      const runId = fill(store, 300_000);
      const open = beginRun(store);
      store.samples.append(open, readingOf(layoutOf(['d']), START_MS, [1.75]), 1);
      store.samples.flush();
      expect(store.maintenance.thinStep(START_MS, START_MS)).toBe(null);
      expect(store.maintenance.thinStep(START_MS * 2, START_MS)).toStrictEqual({ startedRunId: runId });
      expect(store.maintenance.thinStep(0, START_MS)).toBe('more');
      // Half of the blocks are deleted: the other half is ignored, and the summaries are used.
      const window = await whole(store, runId, 1);
      expect(window.count[0]).toBeGreaterThan(READINGS - 256);
      expect(thinAll(store, START_MS * 2)).toStrictEqual([]);
      expect((await store.columns.readings(open, 0, 9, ['d'])).values.d).toHaveLength(1);
    });
  });

  it.skipIf(!IS_LONG_CHECK)('releases the space to the disk in small steps', async () => {
    await inFolder(async (folder) => {
      const store = openStore({ folder });
      fill(store, 600_000);
      await store.close();
      const again = openStore({ folder });
      const before = statSync(join(folder, DATABASE_FILE)).size;
      thinAll(again, START_MS * 2);
      again.maintenance.releaseFreePages();
      const db = new Sqlite(join(folder, DATABASE_FILE), { readonly: true });
      expect(db.pragma('auto_vacuum', { simple: true })).toBe(2);
      db.close();
      await again.close();
      expect(statSync(join(folder, DATABASE_FILE)).size).toBeLessThan(before);
    });
  });
});

describe('a backup', () => {
  it('is made while readings are written, and restores the same content', async () => {
    await inFolder(async (folder) => {
      const store = openStore({ folder });
      const runId = fill(store, 60_000);
      store.writer.setRunNote(runId, 'kept');
      const making = store.maintenance.backup(join(folder, 'copies'), Date.UTC(2031, 4, 5, 6, 7, 8), 2);
      const live = beginRun(store);
      const layout = layoutOf(['d']);
      for (let i = 0; i < 5000; i++) {
        store.samples.append(live, readingOf(layout, START_MS + i * 20, [1.75]), i);
        if (i % 50 === 0) {
          store.tick(i);
          await new Promise((resolve) => setImmediate(resolve));
        }
      }
      const backup = await making;
      expect(backup.path).toBe(join(folder, 'copies', 'strandward-2031-05-05T06-07-08Z.sqlite'));
      expect(backup.timeMs).toBe(Date.UTC(2031, 4, 5, 6, 7, 8));
      store.writer.setRunNote(runId, 'spoilt later');
      await store.close();
      const old = restoreBackup(folder, backup.path, Date.now());
      expect(existsSync(old!)).toBe(true);
      // It may be on a stick that is write-protected.
      expect(readdirSync(join(folder, 'copies'))).toStrictEqual(['strandward-2031-05-05T06-07-08Z.sqlite']);
      const restored = openStore({ folder });
      expect(restored.reader.run(runId)!.note).toBe('kept');
      expect((await restored.columns.extent(runId))!.count).toBe(60_000);
      await restored.close();
    });
  });

  it.each([
    ['DROP TABLE spool_choice', 'it is incomplete (spool_choice'],
    ['ALTER TABLE run DROP COLUMN note', 'its run was changed'],
  ])('is not restored if it is incomplete: %s', async (sql, fault) => {
    await withStore(async (store, folder) => {
      fill(store, 3000);
      const { path } = await store.maintenance.backup(join(folder, 'copies'), 0, 2);
      await store.close();
      const changed = new Sqlite(path);
      changed.exec(sql);
      changed.close();
      const names = readdirSync(folder).toSorted();
      expect(() => restoreBackup(folder, path, 0)).toThrow(fault);
      expect(readdirSync(folder).toSorted()).toStrictEqual(names);
      await openStore({ folder }).close();
    });
  });

  it('replaces the oldest only when it is complete; one that fails leaves nothing behind', async () => {
    await withStore(async (store, folder) => {
      fill(store, 3000);
      const copies = join(folder, 'copies');
      // No backup of ours has such a date.
      mkdirSync(copies);
      writeFileSync(join(copies, 'strandward-2031-13-40T00-00-00Z.sqlite'), '');
      for (let day = 1; day <= 4; day++) await store.maintenance.backup(copies, Date.UTC(2031, 0, day), 2);
      expect(
        (await store.maintenance.backups(copies)).map(({ timeMs }) => new Date(timeMs).getUTCDate()),
      ).toStrictEqual([4, 3]);
      expect(readdirSync(copies)).toHaveLength(3);
      writeFileSync(join(folder, 'file'), '');
      await expect(store.maintenance.backup(join(folder, 'file'), 0, 2)).rejects.toMatchObject({
        code: 'backup-failed',
      });
      // A full disk: nothing can be written.
      await expect(store.maintenance.backup('/dev/full/copies', 0, 2)).rejects.toMatchObject({ code: 'backup-failed' });
      expect(await store.maintenance.check()).toStrictEqual([]);
    });
  });

  it('is kept although others have later dates, from a clock that was ahead', async () => {
    await withStore(async (store, folder) => {
      fill(store, 3000);
      const copies = join(folder, 'copies');
      const years = async (...made: readonly number[]) => {
        for (const year of made) await store.maintenance.backup(copies, Date.UTC(year, 0, 1), 2);
        return (await store.maintenance.backups(copies)).map(({ timeMs }) => new Date(timeMs).getUTCFullYear());
      };
      expect(await years(2040, 2041)).toStrictEqual([2041, 2040]);
      expect(await years(2031)).toStrictEqual([2041, 2031]);
      expect(await years(2032)).toStrictEqual([2032, 2031]);
    });
  });

  it('is not restored if it is damaged, missing, newer or of another program, or if the folder is in use', async () => {
    await inFolder(async (folder) => {
      const store = openStore({ folder });
      fill(store, 50_000);
      const { path } = await store.maintenance.backup(join(folder, 'copies'), 0, 2);
      const codeOf = (backup: string) => {
        try {
          restoreBackup(folder, backup, 0);
        } catch (thrown) {
          if (thrown instanceof Problem) return thrown.code;
          throw thrown;
        }
        return null;
      };
      expect(codeOf(path)).toBe('database-unusable');
      store.writer.setRunNote(1, 'now');
      await store.close();
      const names = readdirSync(folder);
      const stamp = (pragma: string) => {
        const db = new Sqlite(path);
        const before = db.pragma(pragma, { simple: true });
        db.pragma(`${pragma} = 4711`);
        db.close();
        const code = codeOf(path);
        const again = new Sqlite(path);
        again.pragma(`${pragma} = ${before}`);
        again.close();
        return code;
      };
      expect(stamp('user_version')).toBe('database-newer');
      expect(stamp('application_id')).toBe('database-broken');
      expect(readdirSync(folder)).toStrictEqual(names);
      const copy = new Sqlite(path, { readonly: true });
      const block = copy.prepare('SELECT data FROM sample_block LIMIT 1').pluck().get() as Buffer;
      copy.close();
      const bytes = readFileSync(path);
      // Free pages may hold an older copy.
      const start = block.subarray(0, 100);
      for (let at = bytes.indexOf(start); at >= 0; at = bytes.indexOf(start, at)) bytes[at + 50]! ^= 16;
      writeFileSync(path, bytes);
      expect(codeOf(path)).toBe('database-broken');
      writeFileSync(path, 'no database');
      expect(codeOf(path)).toBe('database-broken');
      expect(codeOf(join(folder, 'nowhere'))).toBe('database-broken');
      const again = openStore({ folder });
      expect(again.reader.run(1)!.note).toBe('now');
      await again.close();
    });
  });
});

describe('the check of the record', () => {
  it('finds a single flipped bit in a block of readings, which is not checked at the start', async () => {
    await inFolder(async (folder) => {
      const store = openStore({ folder });
      fill(store, 10_000);
      expect(await store.maintenance.check()).toStrictEqual([]);
      await store.close();
      const db = new Sqlite(join(folder, DATABASE_FILE));
      const id = 2 ** 28 + 1;
      const data = db.prepare('SELECT data FROM sample_block WHERE id = ?').pluck().get(id) as Buffer;
      data[700]! ^= 1;
      db.prepare('UPDATE sample_block SET data = ? WHERE id = ?').run(data, id);
      db.close();
      const again = openStore({ folder });
      expect(await again.maintenance.check()).toStrictEqual([`sample_block ${id}: the checksum does not match`]);
      await again.close();
    });
  });
});

describe('maintenance', () => {
  const serviceFor = (
    store: Store,
    folder: string,
    over: object,
    clock = () => Date.UTC(2031, 0, 1),
    steadyClock = clock,
    log: Log = silent,
  ) =>
    new MaintenanceService({
      maintenance: store.maintenance,
      writer: store.writer,
      clock,
      steadyClock,
      log,
      correctBinDates: () => {},
      settings: () => ({ ...defaultLineSettings(), ...over }),
      backupFolder: join(folder, 'copies'),
      scheduled: true,
    });

  it('raises an alarm before the disk is full', async () => {
    await withStore(async (store, folder) => {
      const off = { backupEveryDays: 0 };
      const calm = serviceFor(store, folder, { ...off, freeSpaceAlarmGb: 0 });
      calm.runOnce();
      expect(calm.diskFilling).toBe(null);
      const worried = serviceFor(store, folder, { ...off, freeSpaceAlarmGb: 100_000 });
      worried.runOnce();
      expect(worried.diskFilling).toMatch(/^\d+(\.\d+)? GB is left$/);
    });
  });

  it('logs a backup folder that is missing once, not with every attempt', async () => {
    await withStore(async (store, folder) => {
      writeFileSync(join(folder, 'copies'), 'a file in the place of the folder');
      let nowMs = START_MS;
      const lines: string[] = [];
      const note = (line: string) => lines.push(line);
      const log = { info: note, warn: note, error: note };
      const service = serviceFor(store, folder, { freeSpaceAlarmGb: 0 }, () => nowMs, undefined, log);
      for (let attempt = 0; attempt < 5; attempt++) {
        nowMs += 2 * 3_600_000;
        service.runOnce();
        await new Promise((resolve) => setTimeout(resolve, 50));
      }
      await service.stop();
      expect(lines.filter((line) => line.startsWith('No backup could be made'))).toHaveLength(1);
    });
  });

  it('makes backups automatically when due, deletes readings by age or size, and logs both', async () => {
    await withStore(async (store, folder) => {
      const runId = fill(store, 20_000);
      let nowMs = START_MS + 86_400_000;
      const service = serviceFor(store, folder, { backupEveryDays: 2, keepReadingsDays: 3 }, () => nowMs);
      service.runOnce();
      await service.stop();
      expect((await service.state()).backups).toHaveLength(1);
      expect(await store.columns.readings(runId, 0, 100, ['d'])).toBeDefined();
      nowMs += 86_400_000;
      service.runOnce();
      await service.stop();
      expect((await service.state()).backups).toHaveLength(1);
      nowMs += 2 * 86_400_000;
      service.runOnce();
      await service.stop();
      expect((await service.state()).backups).toHaveLength(2);
      // Old enough by the clock since yesterday, and now also by the days that the service has seen.
      expect(await store.columns.readings(runId, 0, 100, ['d'])).toBeDefined();
      nowMs += 86_400_000;
      for (let round = 0; round < 2; round++) service.runOnce();
      await expect(store.columns.readings(runId, 0, 100, ['d'])).rejects.toMatchObject({ code: 'readings-thinned' });
      const logged = store.reader.logEntries({ limit: 10 }).map(({ what }) => what);
      expect(logged.filter((what) => what.startsWith('Made a backup'))).toHaveLength(2);
      expect(logged).toContain(
        `Deleting the single readings of run ${runId}. Its charts and marked stretches are kept.`,
      );
    });
  });

  it('makes backups again once a clock that was years ahead is right', async () => {
    await withStore(async (store, folder) => {
      let [nowMs, steadyMs] = [Date.UTC(2041, 0, 1), 0];
      const service = serviceFor(
        store,
        folder,
        { backupEveryDays: 2 },
        () => nowMs,
        () => steadyMs,
      );
      const backups = async (clockMs: number, passedMs: number) => {
        nowMs = clockMs;
        steadyMs += passedMs;
        service.runOnce();
        await service.stop();
        return (await service.state()).backups.length;
      };
      expect(await backups(nowMs, 0)).toBe(1);
      expect(await backups(Date.UTC(2031, 0, 1), 2 * 3_600_000)).toBe(2);
      expect(await backups(Date.UTC(2031, 0, 2), 86_400_000)).toBe(2);
      expect(await backups(Date.UTC(2031, 0, 3), 86_400_000)).toBe(3);
    });
  });

  it('removes at its start what a kill left behind, and nothing else', async () => {
    await withStore(async (store, folder) => {
      const copies = join(folder, 'copies');
      const { path } = await store.maintenance.backup(copies, Date.UTC(2031, 0, 1), 2);
      const scratch = store.maintenance.scratchPath();
      expect(store.maintenance.scratchPath()).not.toBe(scratch);
      const old = `${path}.part`;
      const fresh = join(copies, 'strandward-2031-01-02T00-00-00Z.sqlite.part');
      const others = ['under-way.txt', 'notes.sqlite.part'].map((name) => join(folder, name));
      for (const file of [scratch, `${scratch}-journal`, old, fresh, ...others]) writeFileSync(file, 'half');
      // A part that was changed recently may be a backup that another service is making.
      for (const file of [scratch, `${scratch}-journal`, old]) utimesSync(file, 1, 1);
      const own = store.maintenance.scratchPath();
      writeFileSync(own, 'of this process');
      const service = serviceFor(store, folder, { backupEveryDays: 0 });
      service.start();
      await service.stop();
      expect([scratch, `${scratch}-journal`, old].filter((file) => existsSync(file))).toStrictEqual([]);
      expect([path, fresh, own, ...others].filter((file) => !existsSync(file))).toStrictEqual([]);
      expect(existsSync(join(folder, DATABASE_FILE))).toBe(true);
    });
  });

  it('does one task at a time, and refuses a second one with a reason', async () => {
    await withStore(async (store, folder) => {
      fill(store, 3000);
      const service = serviceFor(store, folder, {});
      const first = service.backup('a person');
      await expect(service.check('another')).rejects.toMatchObject({ code: 'wrong-state' });
      await first;
      expect((await service.check('another')).faults).toStrictEqual([]);
    });
  });
});
