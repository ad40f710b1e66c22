import { createReadStream, statSync, symlinkSync } from 'node:fs';
import { basename, resolve } from 'node:path';
import { RecordingService } from '../monitor/recording-service.ts';
import { messageOf, Problem } from '../problem/problem.ts';
import { recoverLineSettings } from '../settings/check-line-settings.ts';
import { openStore } from '../store/index.ts';
import { recordingReplayer } from './recording-replayer.ts';

export interface ImportOrder {
  readonly dataFolder: string;
  readonly file: string;
  /** When it began, UTC ms; null = as the file tells. */
  readonly startMs: number | null;
  /** Lines a second, where they tell nothing of time; null = they do. */
  readonly rateHz: number | null;
}

const silent = { info: () => {}, warn: () => {}, error: () => {} };
const TELL_EVERY_MS = 1000;
const LF = 10;

/**
 * The command that makes runs of a recorded log, while the service is stopped.
 * @param tell one line of how far it is
 * @returns numbers of the runs
 * @throws Problem `bad-log`, `bad-setting`, or what the record refuses
 */
export async function importRecording(request: ImportOrder, tell: (line: string) => void): Promise<readonly number[]> {
  const { dataFolder, file, rateHz } = request;
  const { size, mtimeMs } = sizeOf(file);
  const store = openStore({ folder: dataFolder });
  const service = new RecordingService({
    replayer: recordingReplayer(),
    maintenance: store.maintenance,
    writer: store.writer,
    clock: () => Date.now(),
    log: silent,
    settings: () => recoverLineSettings(store.writer.loadLineSettings()).settings,
    timeZone: Intl.DateTimeFormat().resolvedOptions().timeZone,
  });
  const told = setInterval(() => {
    const { share, readings } = service.state?.progress ?? { share: 0, readings: 0 };
    tell(`${Math.floor(share * 100)} %, ${readings} readings`);
  }, TELL_EVERY_MS);
  try {
    // The desk removes what it is given: that is only a name of the file.
    const path = store.maintenance.scratchPath('log');
    symlinkSync(resolve(file), path);
    const lines = await linesIn(file);
    const given = await service.give({ path, name: basename(file), bytes: size, lines, changedMs: mtimeMs });
    const { survey } = given;
    if (survey.clock === null && rateHz === null) {
      throw new Problem(
        'bad-setting',
        `The lines of ${file} tell nothing of time.`,
        'Say how many came a second: --rate 50',
      );
    }
    const spanMs = survey.spanMs ?? (lines / (rateHz ?? 1)) * 1000;
    const startMs = request.startMs ?? survey.startMs ?? mtimeMs - spanMs;
    if (request.startMs === null && survey.startFrom !== 'stamps') {
      const from = survey.startFrom === 'note' ? 'by a date in its first notes' : 'by when the file was last changed';
      tell(`It is guessed to have begun at ${new Date(startMs).toISOString()}, ${from}; --started says it for sure.`);
    }
    service.begin(startMs, rateHz, 'the command');
    await service.settled();
    const { problem, runs } = service.state!;
    if (problem !== null) throw new Problem('bad-log', problem.title, problem.detail);
    return runs;
  } finally {
    clearInterval(told);
    await service.stop();
    await store.close();
  }
}

function sizeOf(file: string) {
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
    for (let at = chunk.indexOf(LF); at >= 0; at = chunk.indexOf(LF, at + 1)) lines++;
  }
  return lines;
}
