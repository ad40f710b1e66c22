/** A network drive whose server is off hangs whoever uses it, but not the service. */
import { mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { readdir } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import Sqlite from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { MaintenanceService } from '../../server/monitor/maintenance-service.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import { SourceOpener } from '../../server/source/source-opener.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { LAYOUT, migrate } from '../../server/store/migrations/migrate.ts';
import { isAsking, requireAnswer } from '../../server/worker/hanging-path.ts';
import { startTestService } from '../api/test-service.ts';
import { launch, newDataFolder, until } from '../service/running-service.ts';
import { withStore } from '../store/readings.ts';
import { HANGS, type HangingFolder, hangingFolder } from './hanging-folder.ts';

describe.skipIf(!HANGS)('a folder that hangs', () => {
  let folder: HangingFolder;
  let dataFolder: string;
  beforeEach(() => {
    folder = hangingFolder()!;
    dataFolder = newDataFolder();
  });
  afterEach(() => {
    folder.release();
    rmSync(dataFolder, { recursive: true, force: true });
  });

  it('is waited for on one other thread, and not for ever', async () => {
    const backups = join(folder.path, 'backups');
    const asked = Array.from({ length: 20 }, () => requireAnswer(backups, 100));
    for (const one of asked) await expect(one).rejects.toThrow(/did not answer within 0.1 s/);
    // There are four threads for files, and the others are free.
    await requireAnswer('/', 1000);
    const late = requireAnswer(backups, 5000);
    folder.release();
    await expect(late).resolves.toBeUndefined();
  });

  it('leaves threads for files to all others, however many paths are in it', async () => {
    const asked = Array.from({ length: 12 }, (_, i) => requireAnswer(join(folder.path, `${i}`), 100));
    for (const one of asked) await expect(one).rejects.toThrow(/did not answer/);
    expect(await Promise.race([readdir('/'), pause(2000)])).toContain('tmp');
    const late = requireAnswer(join(folder.path, 'late'), 5000);
    folder.release();
    await expect(late).resolves.toBeUndefined();
  });

  it('does not keep a healthy drive from answering while several paths in it are waited for', async () => {
    const asked = Array.from({ length: 4 }, (_, i) => requireAnswer(join(folder.path, `${i}`), 100));
    for (const one of asked) await expect(one).rejects.toThrow(/did not answer/);
    await requireAnswer(tmpdir(), 5000);
    // Whether the path exists is another question.
    await requireAnswer('/nowhere/at/all', 5000);
    expect(isAsking()).toBe(true);
    folder.release();
    await expect.poll(isAsking).toBe(false);
  });

  it('is asked again once another drive is mounted in its place, although the first call still hangs', async () => {
    const path = join(folder.path, 'backups');
    for (let i = 0; i < 2; i++) await expect(requireAnswer(path, 100)).rejects.toThrow(/did not answer/);
    folder.detach();
    await requireAnswer(path, 5000);
    expect(isAsking()).toBe(true);
    folder.release();
    await expect.poll(isAsking).toBe(false);
  });

  it('holds no source, on the page or on the command line', async () => {
    const sources = new SourceOpener(() => 0, { recordingFolders: [folder.path] });
    const address = `file:${join(folder.path, 'night.log')}`;
    await sources.ask(address, 100);
    const refused = expect.objectContaining({
      code: 'source-unusable',
      message: expect.stringMatching(/did not answer/),
    });
    for (const isFixed of [true, false]) expect(() => sources.open(address, isFixed)).toThrow(refused);
    // It is refused until its drive has answered, also while that is being asked once more.
    const again = sources.ask(address, 100);
    expect(() => sources.open(address, true)).toThrow(refused);
    await again;
    // Others are usable, and so is this one when its drive is back.
    await sources.ask('simulator:steady', 100);
    expect(sources.open('simulator:steady', false).title).toContain('steady');
    folder.release();
    await sources.ask(address, 1000);
    expect(() => sources.open(address, true)).toThrow(/there is no such file/);
  });

  it('holds no change of how the lines of a log are read, and the log is read when its drive is back', {
    timeout: 40_000,
  }, async () => {
    const watched = async (isFixed: boolean) => {
      const logs = mkdtempSync(join(tmpdir(), 'strandward-logs-'));
      const log = join(logs, 'night.log');
      writeFileSync(log, 'ms=20 d=1.75\n'.repeat(1000));
      const address = `file:${log}`;
      const startup = { source: isFixed ? address : null, recordingFolders: [logs] };
      const service = await startTestService(address, isFixed ? {} : { source: address }, undefined, null, startup);
      service.start();
      return { service, logs, log, link: () => service.monitor.snapshot().link };
    };
    const lines = [await watched(true), await watched(false)];
    try {
      const changes = lines.map(({ service, log }) => {
        rmSync(log);
        symlinkSync(join(folder.path, 'night.log'), log);
        return service.send('PUT', '/api/settings', { checksum: 'required' });
      });
      for (const change of changes) expect(await change).toMatchObject({ status: 200 });
      for (const { link } of lines) expect(link().status.text).toMatch(/night\.log: it did not answer/);
      folder.release();
      for (const { log } of lines) {
        rmSync(log);
        writeFileSync(log, 'ms=20 d=1.75*70\n'.repeat(1000));
      }
      for (const { link } of lines) await expect.poll(() => link().sourceTitle).toMatch(/night\.log/);
    } finally {
      folder.release();
      for (const { service, logs } of lines) {
        await service.stop();
        rmSync(logs, { recursive: true });
      }
    }
  });

  it('of the record, the authority or the backup before an update is waited for, and the log says so', {
    timeout: 40_000,
  }, async () => {
    const at = join(folder.path, 'at');
    const older = join(dataFolder, 'older');
    mkdirSync(older);
    const db = new Sqlite(join(older, DATABASE_FILE));
    migrate(db, LAYOUT - 1);
    db.close();
    const started = [
      ['--port', '0', '--data', at],
      ['--port', '0', '--data', dataFolder, '--https', 'own-ca', '--https-ca-folder', at],
      ['--port', '0', '--data', older, '--backup', at],
      ['doctor', '--data', at],
    ].map((args) => launch(args));
    const waits = /Waiting for .*hanging-\w+\/at.*did not answer within 8 s/;
    for (const { child, printed, complained } of started) {
      await until(
        () => printed() + complained(),
        (text) => waits.test(text),
        'a line in the log',
      );
      child.kill('SIGKILL');
    }
    folder.release();
    await Promise.all(started.map(({ ended }) => ended));
  });

  it('for backups does not stop the service', async () => {
    await withStore(async (store) => {
      const service = new MaintenanceService({
        maintenance: store.maintenance,
        writer: store.writer,
        clock: Date.now,
        steadyClock: () => performance.now(),
        correctBinDates: () => {},
        log: { info: () => {}, warn: () => {}, error: () => {} },
        settings: () => ({ ...defaultLineSettings(), freeSpaceAlarmGb: 0 }),
        backupFolder: join(folder.path, 'backups'),
        scheduled: true,
      });
      service.start();
      service.runOnce();
      const state = service.state();
      const failed = service.backup('Ada');
      await pause(100);
      folder.release();
      // The folder is then an empty one.
      await failed;
      expect((await state).backups).toStrictEqual([]);
      await service.stop();
    });
  });
});
