import { mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { LineMonitor } from '../../server/monitor/line-monitor.ts';
import type { RecordingReplayer } from '../../server/monitor/ports/recording.ts';
import { RecordingService } from '../../server/monitor/recording-service.ts';
import { surveyFile } from '../../server/recording/recording-replayer.ts';
import { replayRecording } from '../../server/recording/replay-recording.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';

const START_MS = Date.UTC(2021, 1, 3, 20, 15);
const KEPT_FREE = defaultLineSettings().freeSpaceAlarmGb * 1e9;

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'recording-service-'));
});
afterEach(() => rmSync(folder, { recursive: true }));

/** A service with a disk that a test fills and a replayer that a test supplies. */
function serviceWith(
  replay: RecordingReplayer['replay'],
  readArchive: (file: string, stop?: AbortSignal) => Promise<number> = async () => 1,
) {
  const warned: string[] = [];
  const disk = { freeBytes: KEPT_FREE * 2 };
  const service = new RecordingService({
    replayer: { survey: surveyFile, replay },
    maintenance: {
      scratchPath: (ending) => join(folder, `under-way.${ending}`),
      readArchive,
      freeBytes: () => disk.freeBytes,
    },
    writer: { log: (entry) => ({ id: 1, ...entry }), loadAlarmSettings: () => ({}) },
    clock: () => START_MS,
    log: { info: () => {}, warn: (text) => void warned.push(text), error: () => {} },
    settings: defaultLineSettings,
    timeZone: 'UTC',
  });
  return { service, disk, warned };
}

async function examine(service: RecordingService): Promise<string> {
  const path = join(folder, 'uploaded.log');
  const text = Array.from({ length: 100 }, (_, i) => `ms=${i * 20} d=1.75\n`).join('');
  writeFileSync(path, text);
  await service.examine({ path, name: 'night.log', bytes: text.length, lines: 100, changedMs: null });
  return path;
}

const untilCancelled: RecordingReplayer['replay'] = (_request, _progress, stop) =>
  new Promise((_, reject) => {
    stop.addEventListener('abort', () => reject(new Error('cancelled')));
  });

test('logs a copy that cannot be removed, and still reports the outcome', async () => {
  const { service, warned } = serviceWith(async () => ({ share: 1, readings: 7, archives: [] }));
  const path = await examine(service);
  // A folder cannot be removed like a file.
  rmSync(path);
  mkdirSync(path);
  service.startImport(START_MS, null, 'test');
  await service.settled();
  expect(service.state).toMatchObject({
    phase: 'failed',
    problem: { title: expect.stringMatching(/^No run was found/) },
  });
  expect(warned).toContainEqual(expect.stringMatching(/could not be removed/));
  await service.stop();
});

test('starts no import whose temporary files would fill the disk', async () => {
  const { service, disk } = serviceWith(untilCancelled);
  await examine(service);
  disk.freeBytes = KEPT_FREE + 10;
  expect(() => service.startImport(START_MS, null, 'test')).toThrow(/not enough space/);
  expect(service.state?.phase).toBe('ready');
  disk.freeBytes = KEPT_FREE * 2;
  service.startImport(START_MS, null, 'test');
  await service.discard();
  expect(service.state).toBe(null);
  expect(readdirSync(folder)).toStrictEqual([]);
});

test('cancels an import when the disk fills, and gives that as the reason', async () => {
  const { service, disk } = serviceWith((request, progress, stop) => {
    const replayed = untilCancelled(request, progress, stop);
    disk.freeBytes = KEPT_FREE - 1;
    progress({ share: 0.3, readings: 30 });
    return replayed;
  });
  await examine(service);
  service.startImport(START_MS, null, 'test');
  await service.settled();
  expect(service.state).toMatchObject({
    phase: 'failed',
    progress: { share: 0.3, readings: 30 },
    problem: {
      title: 'There is not enough space on the disk of the record: less is left than is to be kept free.',
      detail: expect.stringMatching(/^Free some space/),
    },
  });
  expect(readdirSync(folder)).toStrictEqual([]);
});

test('does not wait for the import of a run to finish when the log is discarded', async () => {
  const archive = join(folder, 'run-1.sqlite');
  writeFileSync(archive, 'a run');
  let importing = false;
  const { service } = serviceWith(
    async () => ({ share: 1, readings: 100, archives: [archive] }),
    (_file, stop) => {
      importing = true;
      return new Promise((_, reject) => stop?.addEventListener('abort', () => reject(stop.reason)));
    },
  );
  await examine(service);
  service.startImport(START_MS, null, 'test');
  await expect.poll(() => importing).toBe(true);
  await service.discard();
  expect(service.state).toBe(null);
});

test('leaves no timer that keeps its thread alive if the replay cannot start', async () => {
  const path = join(folder, 'night.log');
  writeFileSync(path, 'ms=20 d=1.75\n');
  const timers = () => process.getActiveResourcesInfo().filter((kind) => kind === 'Timeout').length;
  const before = timers();
  const start = vi.spyOn(LineMonitor.prototype, 'start').mockImplementation(() => {
    throw new Error('the disk went away');
  });
  try {
    const request = {
      path,
      name: 'night.log',
      folder: join(folder, 'replay'),
      settings: defaultLineSettings(),
      alarmSettings: {},
      timeZone: 'UTC',
      startMs: START_MS,
      rateHz: null,
      stamped: false,
    };
    await expect(replayRecording(request, () => {}, new AbortController().signal)).rejects.toThrow(
      'the disk went away',
    );
  } finally {
    start.mockRestore();
  }
  expect(timers()).toBeLessThanOrEqual(before);
});
