import { createReadStream, statSync, symlinkSync } from 'node:fs';
import { basename, resolve } from 'node:path';
import { RecordingService } from '../monitor/recording-service.ts';
import { messageOf, Problem } from '../problem/problem.ts';
import { recoverLineSettings } from '../settings/check-line-settings.ts';
import { openStore } from '../store/index.ts';
import { recordingReplayer } from './recording-replayer.ts';

export interface ImportRequest {
  readonly dataFolder: string;
  readonly file: string;
  /** When the recording started, UTC ms; null = derive it from the file. */
  readonly startMs: number | null;
  /** Lines per second, if the lines have no times; null = they have. */
  readonly rateHz: number | null;
}

const silent = { info: () => {}, warn: () => {}, error: () => {} };
const PROGRESS_EVERY_MS = 1000;
const LINE_FEED = 10;

/**
 * The command that imports a recorded log as runs while the service is stopped.
 * @param timeZone of the runs
 * @param report prints a line about the progress
 * @returns numbers of the runs
 * @throws Problem `bad-log`, `bad-setting`, or any problem of the record
 */
export async function importRecording(
  request: ImportRequest,
  timeZone: string,
  report: (line: string) => void,
): Promise<readonly number[]> {
  const { dataFolder, file, rateHz } = request;
  const { size, mtimeMs } = fileStat(file);
  const store = openStore({ folder: dataFolder });
  const service = new RecordingService({
    replayer: recordingReplayer(),
    maintenance: store.maintenance,
    writer: store.writer,
    clock: () => Date.now(),
    log: silent,
    settings: () => recoverLineSettings(store.writer.loadLineSettings().settings).settings,
    timeZone,
  });
  const timer = setInterval(() => {
    const { share, readings } = service.state?.progress ?? { share: 0, readings: 0 };
    report(`${Math.floor(share * 100)} %, ${readings} readings`);
  }, PROGRESS_EVERY_MS);
  try {
    // The service removes the path it gets, so give it a link to the file.
    const path = store.maintenance.scratchPath('log');
    symlinkSync(resolve(file), path);
    const lines = await linesIn(file);
    const { survey } = await service.examine({ path, name: basename(file), bytes: size, lines, changedMs: mtimeMs });
    if (survey.clock === null && rateHz === null) {
      throw new Problem(
        'bad-setting',
        `The lines of ${file} have no times.`,
        'Give the number of lines per second: --rate 50',
      );
    }
    const spanMs = survey.spanMs ?? (lines / (rateHz ?? 1)) * 1000;
    const startMs = request.startMs ?? survey.startMs ?? mtimeMs - spanMs;
    if (request.startMs === null && survey.startFrom !== 'stamps') {
      const from =
        survey.startFrom === 'note' ? 'from a date in its first # lines' : 'from when the file was last changed';
      report(`Assumed start: ${new Date(startMs).toISOString()}, ${from}. If that is wrong, give it with --started.`);
    }
    service.startImport(startMs, rateHz, 'the command');
    await service.settled();
    const { problem = null, runs = [] } = service.state ?? {};
    if (problem !== null) throw new Problem('bad-log', problem.title, problem.detail);
    return runs;
  } finally {
    clearInterval(timer);
    await service.stop();
    await store.close();
  }
}

function fileStat(file: string) {
  try {
    const stat = statSync(file);
    if (stat.isFile()) return stat;
  } catch (thrown) {
    throw new Problem('bad-log', `${file} cannot be read: ${messageOf(thrown)}.`, 'Give the path of a recorded log.', {
      cause: thrown,
    });
  }
  throw new Problem('bad-log', `${file} is not a file.`, 'Give the path of a recorded log.');
}

async function linesIn(file: string): Promise<number> {
  let lines = 0;
  for await (const chunk of createReadStream(file)) {
    for (let at = chunk.indexOf(LINE_FEED); at >= 0; at = chunk.indexOf(LINE_FEED, at + 1)) lines++;
  }
  return lines;
}
