import { open } from 'node:fs/promises';
import type {
  NightSimulator,
  RecordingProgress,
  RecordingReplayer,
  ReplayRequest,
  ReplaySettings,
} from '../monitor/ports/recording.ts';
import { type LogSurvey, surveyLog, type UnusableLog } from '../reading/log-survey.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import { type OpenWorker, openWorker, workerCode } from '../worker/open-worker.ts';
import { exampleNights, simulateNight } from './example-nights.ts';
import { replayRecording } from './replay-recording.ts';

/** A worker that has not stopped by then is terminated. */
const STOP_WITHIN_MS = 5000;

/** Functions of the worker that replays one recorded log or simulated night, and reports its progress. */
export function createRecordingReplay(_: null, notify: (now: RecordingProgress) => void) {
  const stop = new AbortController();
  return {
    replay: (request: ReplayRequest) => replayRecording(request, notify, stop.signal),
    simulate: (name: string, settings: ReplaySettings) => simulateNight(name, settings, stop.signal),
    stop: () => stop.abort(),
  };
}

/** Replaying a night takes about ten seconds, so it runs on a separate worker. */
export function recordingReplayer(): RecordingReplayer {
  return { survey: surveyFile, replay };
}

/** Simulating a night takes seconds, so it runs on such a worker too. */
export function nightSimulator(): NightSimulator {
  return {
    nights: exampleNights,
    simulate: (name, settings, stop) =>
      onWorker(
        'simulates a night',
        (worker) => worker.call('simulate', [name, settings]),
        () => {},
        stop,
      ),
  };
}

const replay: RecordingReplayer['replay'] = (request, progress, stop) =>
  onWorker('replays the log', (worker) => worker.call('replay', [request]), progress, stop);

async function onWorker<Result>(
  task: string,
  ask: (worker: OpenWorker<ReturnType<typeof createRecordingReplay>>) => Promise<Result>,
  progress: (now: RecordingProgress) => void,
  stop: AbortSignal,
): Promise<Result> {
  const code = workerCode(import.meta.url, 'recording-worker');
  const worker = openWorker({ task, code, create: createRecordingReplay, start: null, notify: progress });
  let terminateTimer: NodeJS.Timeout | undefined;
  const cancel = () => {
    terminateTimer = setTimeout(() => worker.terminate(), STOP_WITHIN_MS);
    // If the worker ends first, the call reports that.
    worker.call('stop', []).catch(() => {});
  };
  stop.addEventListener('abort', cancel, { once: true });
  try {
    const answer = ask(worker);
    if (stop.aborted) cancel();
    return await answer;
  } finally {
    stop.removeEventListener('abort', cancel);
    // Only then are its files closed, so that they can be removed.
    await worker.close();
    clearTimeout(terminateTimer);
  }
}

const HEAD_BYTES = 262_144;
const TAIL_BYTES = 65_536;

/** Examines the beginning and the end of a file that may be a log of reading lines. */
export async function surveyFile(
  path: string,
  settings: LineSettings,
  changedMs: number | null,
): Promise<LogSurvey | UnusableLog> {
  const file = await open(path, 'r');
  try {
    const { size } = await file.stat();
    const piece = async (from: number, length: number) => {
      const { buffer, bytesRead } = await file.read(Buffer.alloc(length), 0, length, from);
      return buffer.subarray(0, bytesRead);
    };
    const head = await piece(0, Math.min(HEAD_BYTES, size));
    const tailFrom = Math.max(head.length, size - TAIL_BYTES);
    return surveyLog(head, await piece(tailFrom, size - tailFrom), settings, changedMs);
  } finally {
    await file.close();
  }
}
