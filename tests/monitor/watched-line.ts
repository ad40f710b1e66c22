import { rmSync } from 'node:fs';
import { MonotonicClock } from '../../server/monitor/clock.ts';
import { createLineMonitor, type LineMonitor } from '../../server/monitor/line-monitor.ts';
import type { SampleColumnsReader } from '../../server/monitor/ports/samples.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import type { Source, SourceListener } from '../../server/source/source.ts';
import { openStore, type Store } from '../../server/store/index.ts';
import { newRecord } from '../store/new-record.ts';

/** A clock that a test moves ahead, so that readings fed faster than real time are in the past. */
export class ClockAhead extends MonotonicClock {
  aheadMs = 0;
  override nowMs(): number {
    return super.nowMs() + this.aheadMs;
  }
  override steadyMs(): number {
    return super.steadyMs() + this.aheadMs;
  }
  override wallClockAheadMs(): number {
    return 0;
  }
}

/** A monitor in this process with a real record, fed by a test. */
export interface WatchedLine {
  readonly monitor: LineMonitor;
  readonly store: Store;
  /** The folder of the record. */
  readonly folder: string;
  /** Messages logged as information or errors. */
  readonly logged: readonly string[];
  feed(text: string): void;
  /** The same, as it arrives at that time. */
  feedAt(text: string, arrivalMs: number): void;
  /** How often pending readings were written, which happens once a second of the clock. */
  ticks(): number;
  /** Stops it in order and starts it again with the same record, like a restart of the service. */
  restart(): Promise<void>;
  remove(): Promise<void>;
}

export function watchLine(
  settings: Partial<LineSettings> = {},
  source: Partial<Omit<Source, 'start' | 'stop'>> = {},
  clock: MonotonicClock = new MonotonicClock(),
  columnsOf: (store: Store) => SampleColumnsReader = (store) => store.columns,
  undoStopForMs = 0,
): WatchedLine {
  const folder = newRecord('strandward-line-');
  const logged: string[] = [];
  const log = {
    info: (what: string) => void logged.push(what),
    warn: () => {},
    error: (what: string) => void logged.push(what),
  };
  let listener: SourceListener | null = null;
  let ticks = 0;
  const open = () => {
    const store = openStore({ folder, readers: 'sameThread' });
    const monitor = createLineMonitor({
      clock,
      log,
      writer: store.writer,
      reader: store.reader,
      samples: store.samples,
      columns: columnsOf(store),
      flushSamples: (nowMs) => {
        ticks++;
        store.tick(nowMs);
      },
      openSource: () => ({
        title: 'fed by hand',
        timing: 'recorded',
        resumable: false,
        ...source,
        start(sourceListener) {
          listener = sourceListener;
          sourceListener.status({ phase: 'open', text: 'Fed by hand.' });
          sourceListener.opened();
        },
        stop: async () => {},
      }),
      unusableSource: (problem) => {
        throw problem;
      },
      settings: { ...defaultLineSettings(), ...settings },
      fixedSource: 'hand',
      timeZone: 'UTC',
      undoStopForMs,
    });
    monitor.start();
    return { store, monitor };
  };
  const line = {
    folder,
    ...open(),
    logged,
    feed: (text: string) => listener?.bytes(Buffer.from(text, 'latin1'), null),
    feedAt: (text: string, arrivalMs: number) => listener?.bytes(Buffer.from(text, 'latin1'), arrivalMs),
    ticks: () => ticks,
    async restart() {
      await line.monitor.stop();
      await line.store.close();
      Object.assign(line, open());
    },
    async remove() {
      await line.monitor.stop();
      await line.store.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
  return line;
}
