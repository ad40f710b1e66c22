import { afterEach, describe, expect, it } from 'vitest';
import { openSource } from '../../server/source/open-source.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine | null = null;
afterEach(async () => {
  await line?.remove();
  line = null;
});

describe('a replay that runs faster than the clock', () => {
  it("tells all of its run's times by its readings: beginning, spools, what happened, end", () => {
    line = watchLine({ settleLengthMm: 1000, stopAfterMin: 1 });
    const told = (wanted: string) => {
      const { timeMs } = line!.store.reader.logEntries({ runId: 1, limit: 50 }).find(({ what }) => what === wanted)!;
      return (timeMs - line!.store.reader.run(1)!.startedMs) / 1000;
    };
    // Ten minutes at 20 mm/s, then two minutes of standstill; read in less than a second.
    let ms = 0;
    const feed = (seconds: number, d: number, v: number) => {
      for (const end = ms + seconds * 1000; ms < end; ms += 100) line!.feed(`ms=${ms} d=${d} v=${v}\n`);
    };
    feed(600, 1.75, 20);
    const { spool } = line.monitor.snapshot();
    expect(told('Spool 1 began.')).toBe((spool!.startedMs - line.store.reader.run(1)!.startedMs) / 1000);
    expect(told('Spool 1 began.')).toBeGreaterThan(40);
    feed(300, 0, 0);
    const { startedMs, endedMs } = line.store.reader.run(1)!;
    expect(told('Run 1 ended.')).toBe((endedMs! - startedMs) / 1000);
    expect(endedMs! - startedMs).toBeGreaterThan(600_000);
  });

  it('says what it is and how fast it runs, also where it is a simulation', () => {
    const playback = (address: string) => openSource(address, () => 0).playback;
    expect(playback('simulator:evening?pace=10')).toEqual({ what: 'simulation', pace: 10 });
    expect(playback('simulator:evening')).toEqual({ what: 'simulation', pace: 1 });
    expect(playback(`file:${import.meta.filename}?pace=max`)).toEqual({ what: 'replay', pace: 'max' });
    expect(playback('tcp:127.0.0.1:9')).toBeUndefined();
  });
});
