import { mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { LineMonitor } from '../../server/monitor/line-monitor.ts';
import type { RecordingReplayer } from '../../server/monitor/recording.ts';
import { RecordingService } from '../../server/monitor/recording-service.ts';
import { replayRecording } from '../../server/recording/replay-recording.ts';
import { surveyFile } from '../../server/recording/survey-file.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';

const START_MS = Date.UTC(2021, 1, 3, 20, 15);
const KEPT_FREE = defaultLineSettings().freeSpaceAlarmGb * 1e9;

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'recording-desk-'));
});
afterEach(() => rmSync(folder, { recursive: true }));

/** A desk over a disk that a test fills, and a room that judges as a test says. */
function serviceWith(
  judge: RecordingReplayer['judge'],
  readArchive: (file: string, stop?: AbortSignal) => Promise<number> = async () => 1,
) {
  const warned: string[] = [];
  const disk = { freeBytes: KEPT_FREE * 2 };
  const service = new RecordingService({
    replayer: { survey: surveyFile, judge },
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

async function give(service: RecordingService): Promise<string> {
  const path = join(folder, 'given.log');
  const text = Array.from({ length: 100 }, (_, i) => `ms=${i * 20} d=1.75\n`).join('');
  writeFileSync(path, text);
  await service.give({ path, name: 'night.log', bytes: text.length, lines: 100, changedMs: null });
  return path;
}

const untilStopped: RecordingReplayer['judge'] = (_order, _progress, stop) =>
  new Promise((_, reject) => {
    stop.addEventListener('abort', () => reject(new Error('stopped')));
  });

test('a copy that cannot be removed is told in the log, and the outcome is there all the same', async () => {
  const { service, warned } = serviceWith(async () => ({ share: 1, readings: 7, archives: [] }));
  const path = await give(service);
  // A folder is not removed as a file is.
  rmSync(path);
  mkdirSync(path);
  service.begin(START_MS, null, 'test');
  await service.settled();
  expect(service.state).toMatchObject({
    phase: 'failed',
    problem: { title: expect.stringMatching(/^No run was found/) },
  });
  expect(warned).toContainEqual(expect.stringMatching(/could not be removed/));
  await service.stop();
});

test('nothing is begun where what is made of the log would fill the disk', async () => {
  const { service, disk } = serviceWith(untilStopped);
  await give(service);
  disk.freeBytes = KEPT_FREE + 10;
  expect(() => service.begin(START_MS, null, 'test')).toThrow(/not enough room/);
  expect(service.state!.phase).toBe('ready');
  disk.freeBytes = KEPT_FREE * 2;
  service.begin(START_MS, null, 'test');
  await service.drop();
  expect(service.state).toBe(null);
  expect(readdirSync(folder)).toStrictEqual([]);
});

test('a disk that fills while a log is judged ends the judging, and is named as the reason', async () => {
  const { service, disk } = serviceWith((order, progress, stop) => {
    const judged = untilStopped(order, progress, stop);
    disk.freeBytes = KEPT_FREE - 1;
    progress({ share: 0.3, readings: 30 });
    return judged;
  });
  await give(service);
  service.begin(START_MS, null, 'test');
  await service.settled();
  expect(service.state).toMatchObject({
    phase: 'failed',
    progress: { share: 0.3, readings: 30 },
    problem: {
      title: 'The disk of the record has not enough room for it: less is left than is to be kept free.',
      detail: expect.stringMatching(/^Make room/),
    },
  });
  expect(readdirSync(folder)).toStrictEqual([]);
});

test('dropping it does not wait for a run that is being taken in to be whole', async () => {
  const archive = join(folder, 'run-1.sqlite');
  writeFileSync(archive, 'a run');
  let takingIn = false;
  const { service } = serviceWith(
    async () => ({ share: 1, readings: 100, archives: [archive] }),
    (_file, stop) => {
      takingIn = true;
      return new Promise((_, reject) => stop!.addEventListener('abort', () => reject(stop!.reason)));
    },
  );
  await give(service);
  service.begin(START_MS, null, 'test');
  await expect.poll(() => takingIn).toBe(true);
  await service.drop();
  expect(service.state).toBe(null);
});

test('judging that cannot even begin leaves no timer that keeps its thread alive', async () => {
  const path = join(folder, 'night.log');
  writeFileSync(path, 'ms=20 d=1.75\n');
  const timers = () => process.getActiveResourcesInfo().filter((kind) => kind === 'Timeout').length;
  const before = timers();
  const start = vi.spyOn(LineMonitor.prototype, 'start').mockImplementation(() => {
    throw new Error('the disk went away');
  });
  try {
    const order = {
      path,
      name: 'night.log',
      folder: join(folder, 'judged'),
      settings: defaultLineSettings(),
      alarmSettings: {},
      timeZone: 'UTC',
      startMs: START_MS,
      rateHz: null,
      stamped: false,
    };
    await expect(replayRecording(order, () => {}, new AbortController().signal)).rejects.toThrow('the disk went away');
  } finally {
    start.mockRestore();
  }
  expect(timers()).toBeLessThanOrEqual(before);
});
