/** A backup to a stick that takes its time, or to a drive that hangs during it, must not hold up the line. */
import { execFileSync } from 'node:child_process';
import { mkdirSync, readdirSync, rmSync, symlinkSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import Sqlite from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import { DATABASE_FILE, openDatabase } from '../../server/store/database.ts';
import { checkFile } from '../../server/store/maintenance/check-file.ts';
import { copyRecord } from '../../server/store/maintenance/copy-record.ts';
import { readMarker } from '../../server/store/marker.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import { HANGS, type HangingFolder, hangingFolder } from './hanging-folder.ts';

vi.setConfig({ testTimeout: 60_000 });

const PRELOAD = fileURLToPath(new URL('./slow-backup-preload.mjs', import.meta.url));

let service: RunningService | undefined;
afterEach(() => service?.remove());

function startHeldUp(seconds: number): Promise<RunningService> {
  const dataFolder = newDataFolder();
  return startService({
    source: 'simulator:steady',
    dataFolder,
    env: { NODE_OPTIONS: `--import=${PRELOAD}`, HELD_UP: join(dataFolder, 'backups'), HELD_UP_S: `${seconds}` },
  });
}

const untilBackup = () =>
  until(
    () => service!.get<{ busy: string | null }>('/api/record'),
    ({ busy }) => busy === 'backup',
    'the backup',
  );

test('the line is watched while a backup takes seconds', async () => {
  service = await startHeldUp(4);
  let isMade = false;
  const startMs = performance.now();
  const made = service.send('POST', '/api/record/backup').finally(() => {
    isMade = true;
  });
  let longestMs = 0;
  while (!isMade) {
    const askedMs = performance.now();
    await service.get('/api/state');
    longestMs = Math.max(longestMs, performance.now() - askedMs);
    await pause(50);
  }
  expect((await made).status).toBe(200);
  expect(performance.now() - startMs).toBeGreaterThan(4000);
  expect(longestMs).toBeLessThan(2000);
});

test('a stop does not wait for a backup that hangs, and closes the record', async () => {
  service = await startHeldUp(30);
  service.send('POST', '/api/record/backup').catch(() => {});
  await untilBackup();
  const startMs = performance.now();
  await service.stop();
  expect(performance.now() - startMs).toBeLessThan(10_000);
  expect(readMarker(service.dataFolder)?.state).toMatchObject({ inUse: false });
});

test('a backup that hangs does not let the write-ahead log grow', async () => {
  service = await startHeldUp(6);
  service.send('POST', '/api/record/backup').catch(() => {});
  await untilBackup();
  const db = new Sqlite(join(service.dataFolder, DATABASE_FILE));
  try {
    const truncated = async () => db.pragma('wal_checkpoint(TRUNCATE)') as { busy: number }[];
    await pause(1000);
    // Busy for as long as any connection reads.
    await until(truncated, ([state]) => state?.busy === 0, 'a truncated log', 3000);
    expect(await service.get('/api/record')).toMatchObject({ busy: 'backup' });
  } finally {
    db.close();
  }
});

describe.skipIf(!HANGS)('a backup to a drive that hangs', () => {
  let drive: HangingFolder;
  let folder: string;
  let mounted: string | null = null;
  let makeBackup: typeof import('../../server/store/maintenance/backups.ts').makeBackup;
  beforeEach(async () => {
    // On a worker, which runs built code only.
    const built = new URL('../../.build/server/store/maintenance/backups.js', import.meta.url).href;
    ({ makeBackup } = await import(built));
    drive = hangingFolder()!;
    folder = newDataFolder();
  });
  afterEach(() => {
    drive.release();
    if (mounted !== null) execFileSync('umount', ['-l', mounted]);
    mounted = null;
    rmSync(folder, { recursive: true });
  });

  /** Another drive is mounted where the first one was. */
  const replaceDrive = (held: string): string => {
    const other = join(folder, 'replaced-by');
    mkdirSync(other);
    execFileSync('mount', ['--bind', other, held]);
    mounted = held;
    return other;
  };

  test('is made once another drive is mounted in its place', async () => {
    const { path, close } = openDatabase(join(folder, 'data'), false);
    try {
      const held = join(folder, 'stick für alles');
      mkdirSync(held);
      symlinkSync(join(drive.path, 'copy'), join(held, 'strandward-1970-01-01T00-00-00Z.sqlite.part'));
      await expect(makeBackup(path, held, 0, 1, 0, 300)).rejects.toThrow('did not answer');
      await expect(makeBackup(path, held, 1000, 1)).rejects.toThrow('has not finished an earlier one');
      const other = replaceDrive(held);
      expect(await makeBackup(path, held, 2000, 1)).toMatchObject({ timeMs: 2000 });
      expect(readdirSync(other)).toContain('strandward-1970-01-01T00-00-02Z.sqlite');
    } finally {
      close();
    }
  });

  test('is not made late on the drive that was mounted in its place', async () => {
    const { path, close } = openDatabase(join(folder, 'data'), false);
    try {
      const held = join(folder, 'held');
      const late = copyRecord(path, held, 0, 1, 0);
      const other = replaceDrive(held);
      await expect(late).rejects.toThrow('another drive was mounted there meanwhile');
      expect(readdirSync(other)).toStrictEqual([]);
    } finally {
      close();
    }
  });

  test('is given up, further ones are refused until it has ended, and others are made', async () => {
    const { path, close } = openDatabase(join(folder, 'data'), false);
    try {
      // The folder answers, but not the drive that holds the copy.
      const held = join(folder, 'held');
      mkdirSync(held);
      symlinkSync(join(drive.path, 'copy'), join(held, 'strandward-1970-01-01T00-00-00Z.sqlite.part'));
      const failed = (why: string) =>
        expect.objectContaining({ code: 'backup-failed', message: expect.stringContaining(why) });
      await expect(makeBackup(path, held, 0, 1, 0, 300)).rejects.toThrow(failed('it did not answer within 0.3 s'));
      await expect(makeBackup(path, held, 1000, 1, 0, 300)).rejects.toThrow(failed('has not finished an earlier one'));
      expect(await makeBackup(path, join(folder, 'other'), 1000, 1)).toMatchObject({ timeMs: 1000 });
      // Without room for a copy beside the record.
      const direct = await makeBackup(path, join(folder, 'direct'), 1000, 1, Number.MAX_SAFE_INTEGER);
      expect(checkFile(direct.path)).toStrictEqual([]);
      drive.release();
      await until(
        () => makeBackup(path, held, 1000, 1).catch(() => null),
        (made) => made !== null,
        'a backup when the drive is back',
      );
    } finally {
      close();
    }
  });
});
