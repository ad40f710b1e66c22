/** A network drive whose server is off hangs whoever uses it, but not the service. */
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { MaintenanceService } from '../../server/monitor/maintenance-service.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import { requireAnswer } from '../../server/store/maintenance/backup-list.ts';
import { withStore } from '../store/readings.ts';
import { type HangingFolder, hangingFolder } from './hanging-folder.ts';

const probe = hangingFolder();
probe?.release();

describe.skipIf(probe === null)('a folder that hangs', () => {
  let folder: HangingFolder;
  beforeEach(() => {
    folder = hangingFolder()!;
  });
  afterEach(() => folder.release());

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
