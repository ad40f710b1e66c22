import { join } from 'node:path';
import type { AlarmType } from '../alarm/alarm.ts';
import { MonotonicClock } from '../monitor/clock.ts';
import { createLineMonitor } from '../monitor/line-monitor.ts';
import type { ReplaySettings } from '../monitor/ports/recording.ts';
import { logUnrecordedSignals } from '../monitor/run/unrecorded-signals.ts';
import { Problem } from '../problem/problem.ts';
import type { Source, SourceListener } from '../source/source.ts';
import { UnusableSource } from '../source/unusable-source.ts';
import { openStore, type Store } from '../store/index.ts';

const PROGRESS_EVERY_MS = 250;
const silent = { info: () => {}, warn: () => {}, error: () => {} };

export interface JudgedSource {
  readonly readings: number;
  /** Paths of the archives of the runs found, in order of time. */
  readonly archives: readonly string[];
}

/**
 * Passes a recorded source through the same pipeline as a live line, to its end, but into a separate record. No one is
 * notified, and the line being watched is not affected. The runs are written as archives, to be imported like those of
 * another installation.
 * @param title source title of the runs
 */
export async function replaySource(
  source: Source,
  title: string,
  { folder, settings, alarmSettings, startMs, timeZone }: ReplaySettings,
  progress: (readings: number) => void,
  stop: AbortSignal,
): Promise<JudgedSource> {
  const store: Store = openStore({
    folder: join(folder, 'record'),
    readers: 'sameThread',
    leftOut: (what) => logUnrecordedSignals(what, { writer: store.writer, log: silent, nowMs: startMs }),
  });
  let timer: NodeJS.Timeout | undefined;
  try {
    for (const [type, setting] of Object.entries(alarmSettings)) {
      store.writer.saveAlarmSetting(type as AlarmType, setting as object, 'service', startMs);
    }
    const { noticed, ended } = noticingEnd(source);
    const monitor = createLineMonitor({
      clock: new MonotonicClock(),
      log: silent,
      writer: store.writer,
      reader: store.reader,
      samples: store.samples,
      flushSamples: (nowMs) => store.tick(nowMs),
      openSource: () => ({ ...noticed, title }),
      unusableSource: (problem, isFixed) => new UnusableSource(problem, isFixed),
      settings,
      fixedSource: title,
      timeZone,
    });
    let readings = 0;
    monitor.subscribe({ reading: () => void readings++ });
    const failed = new Promise<never>((_, reject) => {
      timer = setInterval(() => {
        const { recordTrouble } = monitor.snapshot();
        if (recordTrouble === null) progress(readings);
        else reject(recordFailed(recordTrouble));
      }, PROGRESS_EVERY_MS);
      stop.addEventListener('abort', () => reject(cancelled()), { once: true });
      if (stop.aborted) reject(cancelled());
    });
    // Handled even if starting the monitor throws before the race below.
    failed.catch(() => {});
    try {
      monitor.start();
      await Promise.race([ended, failed]);
    } finally {
      clearInterval(timer);
      await monitor.stop();
    }
    const { recordTrouble } = monitor.snapshot();
    if (recordTrouble !== null) throw recordFailed(recordTrouble);
    const archives: string[] = [];
    for (const run of store.reader.runs().toReversed()) {
      const archive = join(folder, `run-${run.id}.sqlite`);
      await store.maintenance.writeArchive(run.id, archive);
      archives.push(archive);
    }
    return { readings, archives };
  } finally {
    await store.close();
  }
}

/** The same source, and a promise of its end. */
function noticingEnd(source: Source): { readonly noticed: Source; readonly ended: Promise<void> } {
  let end: () => void = () => {};
  const ended = new Promise<void>((resolve) => {
    end = resolve;
  });
  const noticed = listeningTo(source, (listener) => ({
    opened: () => listener.opened(),
    bytes: (chunk, arrivalMs) => listener.bytes(chunk, arrivalMs),
    status(status) {
      listener.status(status);
      if (status.phase === 'ended') end();
    },
  }));
  return { noticed, ended };
}

/** A source that passes everything through another listener; as a plain object, because spreading does not copy methods. */
export function listeningTo(source: Source, through: (listener: SourceListener) => SourceListener): Source {
  const { title, timing, resumable, recorded } = source;
  return {
    title,
    timing,
    resumable,
    ...(recorded === undefined ? {} : { recorded }),
    start: (listener) => source.start(through(listener)),
    stop: () => source.stop(),
  };
}

function cancelled(): Error {
  return new DOMException('The import was cancelled.', 'AbortError');
}

function recordFailed(trouble: string): Problem {
  return new Problem(
    'record-failing',
    `The log could not be imported: ${trouble}`,
    'Free some space on the disk, then try again.',
  );
}
