import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { LineMonitor } from '../../server/monitor/line-monitor.ts';
import type { SampleColumnsReader } from '../../server/monitor/ports/samples.ts';
import { SteadyClock } from '../../server/monitor/steady-clock.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import type { Source, SourceListener } from '../../server/source/source.ts';
import { openStore, type Store } from '../../server/store/index.ts';

/** A clock that a test puts ahead, so that readings fed faster than they come are of the past. */
export class ClockAhead extends SteadyClock {
  aheadMs = 0;
  override nowMs(): number {
    return super.nowMs() + this.aheadMs;
  }
  override behindWallMs(): number {
    return 0;
  }
}

/** A monitor in this process, with a real record, that is fed by hand. */
export interface WatchedLine {
  readonly monitor: LineMonitor;
  readonly store: Store;
  /** Of the record. */
  readonly folder: string;
  /** What was logged of what happened. */
  readonly told: readonly string[];
  feed(text: string): void;
  /** Ends it in order and begins anew with the same record, as after a restart of the service. */
  restart(): Promise<void>;
  remove(): Promise<void>;
}

export function watchLine(
  settings: Partial<LineSettings> = {},
  source: Partial<Pick<Source, 'timing' | 'resumable' | 'recorded'>> = {},
  clock: SteadyClock = new SteadyClock(),
  columnsOf: (store: Store) => SampleColumnsReader = (store) => store.columns,
): WatchedLine {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-line-'));
  const told: string[] = [];
  const log = {
    info: (what: string) => void told.push(what),
    warn: () => {},
    error: (what: string) => void told.push(what),
  };
  let listener: SourceListener | null = null;
  const open = () => {
    const store = openStore({ folder, readers: 'sameThread' });
    const monitor = new LineMonitor({
      clock,
      log,
      writer: store.writer,
      reader: store.reader,
      samples: store.samples,
      columns: columnsOf(store),
      flushSamples: (nowMs) => store.tick(nowMs),
      openSource: () => ({
        title: 'fed by hand',
        timing: 'recorded',
        resumable: false,
        ...source,
        start(given) {
          listener = given;
          listener.opened();
        },
        stop: async () => {},
      }),
      unusableSource: (problem) => {
        throw problem;
      },
      settings: { ...defaultLineSettings(), ...settings },
      fixedSource: 'hand',
      timeZone: 'UTC',
    });
    monitor.start();
    return { store, monitor };
  };
  const line = {
    folder,
    ...open(),
    told,
    feed: (text: string) => listener!.bytes(Buffer.from(text, 'latin1'), null),
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
