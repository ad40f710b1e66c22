import { statSync } from 'node:fs';
import { join } from 'node:path';
import type { AlarmType } from '../alarm/alarm.ts';
import { tellLeftOut } from '../monitor/channels-left-out.ts';
import { LineMonitor } from '../monitor/line-monitor.ts';
import type { RecordingOrder, RecordingProgress, ReplayedRecording } from '../monitor/recording.ts';
import { SteadyClock } from '../monitor/steady-clock.ts';
import { Problem } from '../problem/problem.ts';
import { fileSource } from '../source/file-source.ts';
import type { Source, SourceListener } from '../source/source.ts';
import { stampedSource } from '../source/stamped-source.ts';
import { UnusableSource } from '../source/unusable-source.ts';
import { openStore, type Store } from '../store/index.ts';

const PROGRESS_EVERY_MS = 250;
const silent = { info: () => {}, warn: () => {}, error: () => {} };

/**
 * Carry a recorded log through the same pipeline as a live line, in a record of its own: nobody is called, and the line
 * that is being watched is not touched. Its runs come out as archives, to be taken in as those of another installation.
 */
export async function replayRecording(
  order: RecordingOrder,
  progress: (now: RecordingProgress) => void,
  stop: AbortSignal,
): Promise<ReplayedRecording> {
  const { path, folder, settings, startMs, timeZone } = order;
  const bytes = statSync(path).size;
  const store: Store = openStore({
    folder: join(folder, 'record'),
    readers: 'sameThread',
    leftOut: (what) => tellLeftOut(what, { writer: store.writer, log: silent, nowMs: startMs }),
  });
  let timer: NodeJS.Timeout | undefined;
  try {
    for (const [type, setting] of Object.entries(order.alarmSettings)) {
      store.writer.saveAlarmSetting(type as AlarmType, setting as object, 'service', startMs);
    }
    const log = fileSource({ path, pace: 'max', startMs, rateHz: order.rateHz });
    const heard = hearing({ ...plain(log), title: `recorded log ${order.name}` });
    const monitor = new LineMonitor({
      clock: new SteadyClock(),
      log: silent,
      writer: store.writer,
      reader: store.reader,
      samples: store.samples,
      flushSamples: (nowMs) => store.tick(nowMs),
      openSource: () => (order.stamped ? stampedSource(heard.source, startMs) : heard.source),
      unusableSource: (problem) => new UnusableSource(problem),
      settings,
      fixedSource: order.name,
      timeZone,
    });
    let readings = 0;
    monitor.subscribe({ reading: () => void readings++ });
    const now = () => ({ share: bytes === 0 ? 1 : heard.bytes() / bytes, readings });
    const refused = new Promise<never>((_, reject) => {
      timer = setInterval(() => {
        const { recordTrouble } = monitor.snapshot();
        if (recordTrouble === null) progress(now());
        else reject(noSpace(recordTrouble));
      }, PROGRESS_EVERY_MS);
      stop.addEventListener('abort', () => reject(stopped()), { once: true });
      if (stop.aborted) reject(stopped());
    });
    // Also where nobody comes to wait for it.
    refused.catch(() => {});
    try {
      monitor.start();
      await Promise.race([heard.ended, refused]);
    } finally {
      clearInterval(timer);
      await monitor.stop();
    }
    const { recordTrouble } = monitor.snapshot();
    if (recordTrouble !== null) throw noSpace(recordTrouble);
    // Its last line may lack its end; anything more is missing because it could not be read.
    if (heard.bytes() < bytes) throw new Problem('bad-log', heard.lastText(), 'Try again with a whole copy of it.');
    const archives: string[] = [];
    for (const run of store.reader.runs().toReversed()) {
      const archive = join(folder, `run-${run.id}.sqlite`);
      await store.maintenance.writeArchive(run.id, archive);
      archives.push(archive);
    }
    return { ...now(), archives };
  } finally {
    await store.close();
  }
}

/** Methods of a class are not copied by spreading. */
function plain(source: Source): Source {
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

/** Counts what a source sends, and hears it end. */
function hearing(source: Source) {
  let bytes = 0;
  let text = '';
  let end: () => void = () => {};
  const ended = new Promise<void>((resolve) => {
    end = resolve;
  });
  const heard: Source = {
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
          text = status.text;
          if (status.phase === 'ended') end();
        },
      }),
  };
  return { source: heard, ended, bytes: () => bytes, lastText: () => text };
}

function stopped(): Error {
  return new DOMException('It was stopped.', 'AbortError');
}

function noSpace(trouble: string): Problem {
  return new Problem(
    'wrong-state',
    `The log could not be judged: ${trouble}`,
    'Make room on the disk, then try again.',
  );
}
