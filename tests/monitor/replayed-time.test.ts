import { afterEach, describe, expect, it } from 'vitest';
import { openSource } from '../../server/source/open-source.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine | null = null;
afterEach(async () => {
  await line?.remove();
  line = null;
});

describe('a replay that runs faster than the clock', () => {
  it('dates start, spools, log entries and end of its run by its readings', () => {
    line = watchLine({ settleLengthMm: 1000, stopAfterMin: 1 });
    const { monitor, store, feed: feedText } = line;
    const run = () => {
      const found = store.reader.run(1);
      if (found === null) throw new Error('There is no run.');
      return found;
    };
    const loggedAtMs = (wanted: string) =>
      store.reader.logEntries({ runId: 1, limit: 50 }).find(({ what }) => what === wanted)?.timeMs;
    // Ten minutes at 20 mm/s, then five minutes at rest, replayed in less than a second.
    let ms = 0;
    const feed = (seconds: number, d: number, v: number) => {
      for (const end = ms + seconds * 1000; ms < end; ms += 100) feedText(`ms=${ms} d=${d} v=${v}\n`);
    };
    feed(600, 1.75, 20);
    const { spool } = monitor.snapshot();
    expect(spool?.startedMs).toBeGreaterThan(run().startedMs + 40_000);
    expect(loggedAtMs('Spool 1 started.')).toBe(spool?.startedMs);
    feed(300, 0, 0);
    const { startedMs, endedMs } = run();
    expect(endedMs).toBeGreaterThan(startedMs + 600_000);
    expect(loggedAtMs('The run ended.')).toBe(endedMs);
  });

  it('states its kind and pace, as does a simulation', () => {
    const playback = (address: string) => openSource(address, () => 0).playback;
    expect(playback('simulator:evening?pace=10')).toEqual({ what: 'simulation', pace: 10 });
    expect(playback('simulator:evening')).toEqual({ what: 'simulation', pace: 1 });
    expect(playback(`file:${import.meta.filename}?pace=max`)).toEqual({ what: 'replay', pace: 'max' });
    expect(playback('tcp:127.0.0.1:9')).toBeUndefined();
  });
});
