import type { RecordingOrder, RecordingProgress, RecordingReplayer } from '../monitor/recording.ts';
import { openWorker, workerCode } from '../worker/open-worker.ts';
import { replayRecording } from './replay-recording.ts';
import { surveyFile } from './survey-file.ts';

/** One that does not hear that it should stop is ended. */
const STOP_WITHIN_MS = 5000;

/** Judges one recorded log, and tells how far it is. */
export function createRecordingReplay(_: null, notify: (now: RecordingProgress) => void) {
  const stop = new AbortController();
  return {
    judge: (order: RecordingOrder) => replayRecording(order, notify, stop.signal),
    stop: () => stop.abort(),
  };
}

/** Judging a night takes some ten seconds: it goes to a worker of its own. */
export function recordingReplayer(): RecordingReplayer {
  return { survey: surveyFile, judge };
}

const judge: RecordingReplayer['judge'] = async (order, progress, stop) => {
  const code = workerCode(import.meta.url, 'recording-worker');
  const worker = openWorker({
    task: 'judges the log',
    code,
    create: createRecordingReplay,
    start: null,
    notify: progress,
  });
  let end: NodeJS.Timeout | undefined;
  const halt = () => {
    end = setTimeout(() => worker.terminate(), STOP_WITHIN_MS);
    // Where it ends before it hears this, `judge` has told so.
    worker.call('stop', []).catch(() => {});
  };
  stop.addEventListener('abort', halt, { once: true });
  try {
    const judged = worker.call('judge', [order]);
    if (stop.aborted) halt();
    return await judged;
  } finally {
    stop.removeEventListener('abort', halt);
    // Its files are closed only then, and may be removed.
    await worker.close();
    clearTimeout(end);
  }
};
