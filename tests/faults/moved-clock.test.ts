/** A machine without a battery for its clock: the run starts with a wrong date, and then the network sets the clock. */
import { afterEach, expect, it } from 'vitest';
import { BinService } from '../../server/monitor/bin-service.ts';
import type { SpoolRepository } from '../../server/monitor/spool/spool-repository.ts';
import { ClockAhead, type WatchedLine, watchLine } from '../monitor/watched-line.ts';
import { withStore } from '../store/readings.ts';

class MovedClock extends ClockAhead {
  movedByMs = 0;
  override wallClockAheadMs(): number {
    return this.movedByMs;
  }
  override followWallClock(): void {
    this.movedByMs = 0;
  }
}

let line: WatchedLine;
afterEach(() => line.remove());

const DAY_MS = 86_400_000;

it('raises an alarm that outlasts the run until its date is moved or kept, and moves no reading', async () => {
  const clock = new MovedClock();
  line = watchLine({ settleLengthMm: 100, gaugeToWinderMm: 100 }, { timing: 'live', resumable: true }, clock);
  const alarms = () => line.monitor.snapshot().alarms.filter(({ type }) => type === 'runDatedWrong');
  const feed = (from: number, to: number) => {
    for (let i = from; i < to; i++) line.feed(`ms=${i * 20} n=${i} d=1.75${i % 5} v=50\n`);
  };
  feed(0, 500);
  line.monitor.setStage('winding', 'Maker');
  feed(500, 600);
  const { run, last } = line.monitor.snapshot();
  expect(run).not.toBeNull();
  expect(alarms()).toEqual([]);

  clock.movedByMs = DAY_MS;
  await expect.poll(alarms).toMatchObject([{ state: 'unacknowledged', sentence: expect.stringMatching(/24 h/) }]);
  feed(600, 700);
  const after = line.monitor.snapshot();
  expect(after.last!.reading.timeMs - last!.reading.timeMs).toBeLessThan(3000);
  expect(after.sections.filter(({ kind, fromMm }) => kind === 'unknown' && fromMm > last!.gaugeMm)).toEqual([]);

  // The run ends and the clock is followed: the alarm still waits for its answer.
  line.monitor.setStage('stopped', 'Maker');
  await expect.poll(() => line.monitor.snapshot().run).toBeNull();
  await expect.poll(() => clock.movedByMs).toBe(0);
  expect(alarms()).toHaveLength(1);
  const runId = run!.id;
  clock.aheadMs += 120_000;
  await expect
    .poll(alarms)
    .toMatchObject([{ sentence: expect.stringContaining(`run ${runId} is dated 24 h 0 min too early`) }]);
  expect(line.store.reader.runDate(runId)).toMatchObject({ clockAheadMs: DAY_MS, movedByMs: 0 });
  expect(alarms()).toMatchObject([{ state: 'unacknowledged' }]);
  const entry = { timeMs: clock.nowMs(), runId, who: 'Maker', what: 'Moved.' };
  line.store.writer.moveRun(runId, DAY_MS, entry);
  expect(line.store.reader.run(runId)!.startedMs).toBe(run!.startedMs + DAY_MS);
  const ticks = line.ticks();
  await expect.poll(() => line.ticks()).toBeGreaterThan(ticks + 1);
  clock.aheadMs += 120_000;
  await expect.poll(alarms).toMatchObject([{ state: 'returnedUnacknowledged' }]);
  line.monitor.alarms.acknowledge(alarms()[0]!.id, { name: 'Maker', from: null });
  expect(alarms()).toEqual([]);
});

it('keeps what was deleted by a wrong clock for as long as anything else', async () => {
  await withStore(async ({ reader, writer }) => {
    const run = writer.beginRun({ startedMs: 1, timeZone: 'UTC', sourceTitle: 'x' });
    writer.endRun(run.id, 2);
    let [wallMs, steadyMs] = [Date.UTC(2026, 8, 1), 5000];
    const spools = { run: (id: number) => reader.run(id) } as SpoolRepository;
    const clocks = { clock: () => wallMs, steadyClock: () => steadyMs };
    const bin = new BinService({ reader, writer, spools, ...clocks, changed: () => {} });
    bin.deleteRun(run.id, 'Ada');
    // The machine had been off for two months, and nothing had told it.
    steadyMs += 600_000;
    wallMs += 600_000 + 61 * DAY_MS;
    bin.correctDates();
    expect(bin.all()).toMatchObject([{ deletedMs: wallMs - 600_000, deletedBy: 'Ada' }]);
    bin.restore('run', run.id, 'Ada');
    wallMs += DAY_MS;
    bin.correctDates();
    expect(bin.all()).toStrictEqual([]);
    expect(reader.run(run.id)).not.toBeNull();
  });
});

it.each([
  ['is behind', 61 * DAY_MS],
  ['is ahead', -400 * DAY_MS],
])('does so also if the service starts again while the clock %s', async (_, correctionMs) => {
  await withStore(async ({ reader, writer }) => {
    const ids = [1, 2].map(() => {
      const { id } = writer.beginRun({ startedMs: 1, timeZone: 'UTC', sourceTitle: 'x' });
      writer.endRun(id, 2);
      return id;
    });
    let [wallMs, steadyMs] = [Date.UTC(2026, 8, 1), 9_000_000];
    const spools = { run: (id: number) => reader.run(id) } as SpoolRepository;
    const started = () => {
      const clocks = { clock: () => wallMs, steadyClock: () => steadyMs };
      return new BinService({ reader, writer, spools, ...clocks, changed: () => {} });
    };
    const longAgoMs = wallMs - 9 * DAY_MS;
    writer.bin('run', ids[0]!, longAgoMs, 'Ada');
    started().deleteRun(ids[1]!, 'Ada');
    const deletedMs = wallMs;
    wallMs += 600_000;
    // The steady clock begins anew.
    steadyMs = 0;
    const bin = started();
    bin.correctDates();
    const dates = () => new Map(bin.all().map((one) => [one.id, one.deletedMs]));
    expect(dates()).toStrictEqual(
      new Map([
        [ids[1], deletedMs],
        [ids[0], longAgoMs],
      ]),
    );
    steadyMs += 600_000;
    wallMs += 600_000 + correctionMs;
    bin.correctDates();
    expect(dates().get(ids[1]!)).toBe(deletedMs + correctionMs);
    expect(dates().get(ids[0]!)).toBe(longAgoMs);
  });
});

it('empties the bin in time although the clock was corrected while the service was stopped', async () => {
  await withStore(async ({ reader, writer }) => {
    const { id } = writer.beginRun({ startedMs: 1, timeZone: 'UTC', sourceTitle: 'x' });
    writer.endRun(id, 2);
    const wallMs = Date.UTC(2026, 8, 1);
    writer.bin('run', id, wallMs + 400 * DAY_MS, 'Ada');
    const spools = { run: (run: number) => reader.run(run) } as SpoolRepository;
    const bin = new BinService({
      reader,
      writer,
      spools,
      clock: () => wallMs,
      steadyClock: () => 0,
      changed: () => {},
    });
    bin.correctDates();
    expect(bin.all()).toMatchObject([{ deletedMs: wallMs }]);
  });
});
