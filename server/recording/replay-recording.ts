import { statSync } from 'node:fs';
import { join } from 'node:path';
import type { AlarmType } from '../alarm/alarm.ts';
import { RECORDED_LOG } from '../entities/run.ts';
import { MonotonicClock } from '../monitor/clock.ts';
import { createLineMonitor } from '../monitor/line-monitor.ts';
import type { RecordingProgress, ReplayedRecording, ReplayRequest } from '../monitor/ports/recording.ts';
import { logUnrecordedSignals } from '../monitor/run/unrecorded-signals.ts';
import { Problem } from '../problem/problem.ts';
import { fileSource } from '../source/file-source.ts';
import type { Source, SourceListener } from '../source/source.ts';
import { stampedSource } from '../source/stamped-source.ts';
import { UnusableSource } from '../source/unusable-source.ts';
import { openStore, type Store } from '../store/index.ts';

const PROGRESS_EVERY_MS = 250;
const silent = { info: () => {}, warn: () => {}, error: () => {} };

/**
 * Passes a recorded log through the same pipeline as a live line, but into a separate record. No one is notified, and the
 * line being watched is not affected. The runs are written as archives, to be imported like those of another installation.
 */
export async function replayRecording(
  request: ReplayRequest,
  progress: (now: RecordingProgress) => void,
  stop: AbortSignal,
): Promise<ReplayedRecording> {
  const { path, folder, settings, startMs, timeZone } = request;
  const bytes = statSync(path).size;
  const store: Store = openStore({
    folder: join(folder, 'record'),
    readers: 'sameThread',
    leftOut: (what) => logUnrecordedSignals(what, { writer: store.writer, log: silent, nowMs: startMs }),
  });
  let timer: NodeJS.Timeout | undefined;
  try {
    for (const [type, setting] of Object.entries(request.alarmSettings)) {
      store.writer.saveAlarmSetting(type as AlarmType, setting as object, 'service', startMs);
    }
    const log = fileSource({ path, pace: 'max', startMs, rateHz: request.rateHz });
    const counted = countingSource({ ...sourceObject(log), title: `${RECORDED_LOG}${request.name}` });
    const monitor = createLineMonitor({
      clock: new MonotonicClock(),
      log: silent,
      writer: store.writer,
      reader: store.reader,
      samples: store.samples,
      flushSamples: (nowMs) => store.tick(nowMs),
      openSource: () => (request.stamped ? stampedSource(counted.source, startMs) : counted.source),
      unusableSource: (problem) => new UnusableSource(problem),
      settings,
      fixedSource: request.name,
      timeZone,
    });
    let readings = 0;
    monitor.subscribe({ reading: () => void readings++ });
    const progressNow = () => ({ share: bytes === 0 ? 1 : counted.bytes() / bytes, readings });
    const failed = new Promise<never>((_, reject) => {
      timer = setInterval(() => {
        const { recordTrouble } = monitor.snapshot();
        if (recordTrouble === null) progress(progressNow());
        else reject(recordFailed(recordTrouble));
      }, PROGRESS_EVERY_MS);
      stop.addEventListener('abort', () => reject(cancelled()), { once: true });
      if (stop.aborted) reject(cancelled());
    });
    // Handled even if starting the monitor throws before the race below.
    failed.catch(() => {});
    try {
      monitor.start();
      await Promise.race([counted.ended, failed]);
    } finally {
      clearInterval(timer);
      await monitor.stop();
    }
    const { recordTrouble } = monitor.snapshot();
    if (recordTrouble !== null) throw recordFailed(recordTrouble);
    // Bytes that did not arrive could not be read from the file.
    if (counted.bytes() < bytes)
      throw new Problem('bad-log', counted.lastText(), 'Try again with a complete copy of the log.');
    const archives: string[] = [];
    for (const run of store.reader.runs().toReversed()) {
      const archive = join(folder, `run-${run.id}.sqlite`);
      await store.maintenance.writeArchive(run.id, archive);
      archives.push(archive);
    }
    return { ...progressNow(), archives };
  } finally {
    await store.close();
  }
}

/** A copy as a plain object, because spreading does not copy the methods of a class. */
function sourceObject(source: Source): Source {
  const { title, timing, resumable, recorded } = source;
  return {
    title,
    timing,
    resumable,
    ...(recorded === undefined ? {} : { recorded }),
    start: (listener) => source.start(listener),
    stop: () => source.stop(),
  };
}

/** Counts the bytes of a source and notices its end. */
function countingSource(source: Source) {
  let bytes = 0;
  let lastText = '';
  let resolveEnded: () => void = () => {};
  const ended = new Promise<void>((resolve) => {
    resolveEnded = resolve;
  });
  const counted: Source = {
    ...source,
    start: (listener: SourceListener) =>
      source.start({
        opened: () => listener.opened(),
        bytes(chunk, arrivalMs) {
          bytes += chunk.length;
          listener.bytes(chunk, arrivalMs);
        },
        status(status) {
          listener.status(status);
          lastText = status.text;
          if (status.phase === 'ended') resolveEnded();
        },
      }),
  };
  return { source: counted, ended, bytes: () => bytes, lastText: () => lastText };
}

function cancelled(): Error {
  return new DOMException('The import was cancelled.', 'AbortError');
}

function recordFailed(trouble: string): Problem {
  return new Problem(
    'wrong-state',
    `The log could not be imported: ${trouble}`,
    'Free some space on the disk, then try again.',
  );
}
