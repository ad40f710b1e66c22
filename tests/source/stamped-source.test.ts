import { describe, expect, test } from 'vitest';
import { ReadingIntake } from '../../server/reading/intake.ts';
import type { Source, SourceListener } from '../../server/source/source.ts';
import { stampedSource } from '../../server/source/stamped-source.ts';

const START_MS = Date.UTC(2021, 1, 3, 20, 15);

/** A log that is read in chunks of this size. */
function log(bytes: Buffer, chunkBytes: number): Source {
  return {
    title: 'a log',
    timing: 'recorded',
    resumable: false,
    start(listener) {
      listener.opened();
      for (let at = 0; at < bytes.length; at += chunkBytes) listener.bytes(bytes.subarray(at, at + chunkBytes), null);
      listener.status({ phase: 'ended', text: 'Over.' });
    },
    stop: async () => {},
  };
}

/** Times of the readings, ms after the start. */
function dated(bytes: Buffer, chunkBytes: number, rateHz: number) {
  const intake = new ReadingIntake({
    shape: 'auto',
    checksum: 'auto',
    columnNames: [],
    roles: [],
    recordedStartMs: START_MS,
    recordedRateHz: rateHz,
  });
  const timesMs: number[] = [];
  const sink = { reading: ({ timeMs }: { timeMs: number }) => void timesMs.push(timeMs - START_MS), note: () => {} };
  const passed: number[] = [];
  const listener: SourceListener = {
    opened: () => intake.opened(),
    status: () => {},
    bytes(chunk, arrivalMs) {
      passed.push(chunk.length);
      intake.push(chunk, arrivalMs, sink);
    },
  };
  stampedSource(log(bytes, chunkBytes), START_MS).start(listener);
  return { timesMs, passed, counters: intake.counters() };
}

const clock = (ms: number) => new Date(START_MS + ms).toISOString().slice(11, 19);
const stampedLog = (count: number, rateHz: number) =>
  Buffer.from(
    Array.from({ length: count }, (_, i) => `${clock((i * 1000) / rateHz)} d=1.75 t1=${200 + (i % 7) / 10}\n`).join(''),
  );

describe('lines with time stamps in whole seconds', () => {
  test.each([4, 10, 25, 100])('are dated evenly at %i lines per second, wherever a chunk ends', (rateHz) => {
    const bytes = stampedLog(rateHz * 60, rateHz);
    for (const chunkBytes of [bytes.length, 997, 65_536]) {
      const { timesMs } = dated(bytes, chunkBytes, rateHz);
      expect(timesMs).toHaveLength(rateHz * 60);
      // The lines of the first second have no earlier stamp to be spread from.
      const steps = timesMs.slice(1).map((timeMs, i) => timeMs - (timesMs[i] ?? Number.NaN));
      for (const step of steps.slice(2 * rateHz)) expect(step).toBeCloseTo(1000 / rateHz, 3);
      expect(timesMs.at(-1)).toBeCloseTo(59_000, 3);
    }
  });

  test('are not held back without limit if the clock stopped', () => {
    const bytes = Buffer.from('20:15:03 d=1.75\n'.repeat(100_000));
    const { timesMs, passed } = dated(bytes, 65_536, 50);
    expect(timesMs).toHaveLength(100_000);
    expect(Math.max(...passed)).toBeLessThan(150_000);
  });
});

test('a long stretch without a line end is passed on as garbage, and the lines after it are read', () => {
  const good = stampedLog(500, 10);
  const bytes = Buffer.concat([good, Buffer.alloc(30_000_000), Buffer.from('\n'), good]);
  const before = process.cpuUsage();
  const { timesMs, passed, counters } = dated(bytes, 65_536, 10);
  const { user, system } = process.cpuUsage(before);
  expect(timesMs).toHaveLength(1000);
  expect(counters.received).toBe(1001);
  expect(Math.max(...passed)).toBeLessThan(300_000);
  // With quadratic time it took over half a minute.
  expect((user + system) / 1e6).toBeLessThan(15);
});
