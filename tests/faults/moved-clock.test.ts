/** A machine without a battery for its clock: the run starts with a wrong date, and then the network sets the clock. */
import { existsSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, expect, it } from 'vitest';
import type { Message } from '../../server/escalation/message.ts';
import { BinService } from '../../server/monitor/bin-service.ts';
import { MaintenanceService } from '../../server/monitor/maintenance-service.ts';
import type { SpoolRepository } from '../../server/monitor/spool/spool-repository.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import type { Store } from '../../server/store/index.ts';
import { ClockAhead, type WatchedLine, watchLine } from '../monitor/watched-line.ts';
import { beginRun, layoutOf, readingOf, withStore } from '../store/readings.ts';

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

/** A machine that is switched on and off, with something of every kind that is deleted for good by its age. */
class Machine {
  readonly #store: Store;
  readonly #backups: string;
  #updateBackup = '';
  #runId = 0;
  #service: MaintenanceService;
  #steadyMs = 0;
  #wallMs = Date.UTC(2026, 5, 1, 18);

  constructor(store: Store, folder: string) {
    this.#store = store;
    this.#backups = join(folder, 'backups');
    mkdirSync(this.#backups);
    this.#service = this.#started();
  }

  #started(): MaintenanceService {
    const { maintenance, writer } = this.#store;
    return new MaintenanceService({
      maintenance,
      writer,
      clock: () => this.#wallMs,
      steadyClock: () => this.#steadyMs,
      correctBinDates: () => {},
      log: { info: () => {}, warn: () => {}, error: () => {} },
      settings: () => ({ ...defaultLineSettings(), keepReadingsDays: 30, freeSpaceAlarmGb: 0 }),
      backupFolder: this.#backups,
      scheduled: false,
    });
  }

  /** @param setMs by how much the clock moves while it is off */
  restart(setMs: number): void {
    this.#wallMs += setMs;
    this.#steadyMs = 0;
    this.#service = this.#started();
  }

  passes(ms: number): void {
    for (const end = this.#steadyMs + ms; this.#steadyMs < end; ) {
      const stepMs = Math.min(900_000, end - this.#steadyMs);
      this.#steadyMs += stepMs;
      this.#wallMs += stepMs;
      this.#service.runOnce();
    }
  }

  /** A deleted run, readings, a backup from before an update, and a message that could not be sent. */
  makeOld(): void {
    const { writer, samples, people } = this.#store;
    const deleted = beginRun(this.#store);
    this.#runId = beginRun(this.#store);
    samples.append(this.#runId, readingOf(layoutOf(['d']), this.#wallMs, [1.75]), 0);
    samples.flush();
    for (const id of [deleted, this.#runId]) writer.endRun(id, this.#wallMs);
    writer.bin('run', deleted, this.#wallMs, 'Ada');
    const stamp = new Date(this.#wallMs).toISOString().slice(0, 19).replaceAll(':', '-');
    this.#updateBackup = join(this.#backups, `strandward-${stamp}Z-before-update-to-0.0.9.sqlite`);
    writeFileSync(this.#updateBackup, '');
    const endedMs = this.#wallMs;
    const message = { key: 'drill-1', kind: 'drill', priority: 'high' } as Message;
    const dates = { createdMs: endedMs, expiresMs: endedMs, nextMs: endedMs, endedMs };
    const failed = { state: 'refused', attempts: 1, why: 'no such address', drillId: null, to: 'Ada' } as const;
    people.saveEscalations([], [{ ...failed, ...dates, seq: 1, channelId: 1, message }], []);
  }

  /** What is still there. */
  async kept(): Promise<string[]> {
    const { reader, people, maintenance, columns } = this.#store;
    await maintenance.backup(this.#backups, this.#wallMs, 1);
    people.forgetBefore(people.olderThan(30, this.#wallMs));
    const kept = {
      bin: reader.binned().length > 0,
      readings: await columns.readings(this.#runId, 0, 1, ['d']).then(
        () => true,
        () => false,
      ),
      update: existsSync(this.#updateBackup),
      message: people.ended({ dead: true, limit: 9 }).length > 0,
    };
    return Object.entries(kept).flatMap(([name, isKept]) => (isKept ? [name] : []));
  }
}

const ALL = ['bin', 'readings', 'update', 'message'];

it('deletes nothing for good by a clock that is months ahead, until as many days have passed', async () => {
  await withStore(async (store, folder) => {
    const machine = new Machine(store, folder);
    machine.passes(40 * DAY_MS);
    machine.makeOld();
    machine.passes(DAY_MS);
    machine.restart(180 * DAY_MS);
    machine.passes(28 * DAY_MS);
    expect(await machine.kept()).toStrictEqual(ALL);
    machine.passes(3 * DAY_MS);
    expect(await machine.kept()).toStrictEqual([]);
  });
});

it('deletes what is old on the day on which it is, while the clock is right', async () => {
  await withStore(async (store, folder) => {
    const machine = new Machine(store, folder);
    machine.passes(DAY_MS);
    machine.makeOld();
    machine.passes(29 * DAY_MS);
    expect(await machine.kept()).toStrictEqual(ALL);
    machine.passes(2 * DAY_MS);
    expect(await machine.kept()).toStrictEqual([]);
  });
});

it('deletes it in the end on a machine that is on for half an hour a week', async () => {
  await withStore(async (store, folder) => {
    const machine = new Machine(store, folder);
    machine.passes(1_800_000);
    machine.makeOld();
    const week = () => {
      machine.restart(7 * DAY_MS);
      machine.passes(1_800_000);
    };
    for (let i = 0; i < 29; i++) week();
    expect(await machine.kept()).toStrictEqual(ALL);
    for (let i = 0; i < 2; i++) week();
    expect(await machine.kept()).toStrictEqual([]);
  });
});

it('counts no day on which a clock that is ahead for the second time had been before', async () => {
  await withStore(async (store, folder) => {
    const machine = new Machine(store, folder);
    machine.passes(DAY_MS);
    machine.restart(180 * DAY_MS);
    machine.passes(40 * DAY_MS);
    machine.restart(-180 * DAY_MS);
    machine.passes(DAY_MS);
    machine.makeOld();
    machine.restart(180 * DAY_MS);
    machine.passes(DAY_MS);
    expect(await machine.kept()).toStrictEqual(ALL);
  });
});

it('keeps what was deleted in the first minutes of a start with a clock that is months behind', async () => {
  await withStore(async (store, folder) => {
    const machine = new Machine(store, folder);
    machine.passes(40 * DAY_MS);
    machine.restart(-60 * DAY_MS);
    machine.makeOld();
    machine.restart(60 * DAY_MS);
    machine.passes(DAY_MS);
    expect(await machine.kept()).toContain('bin');
  });
});

it('keeps what was dated by a clock that was months behind, when it is right after the next start', async () => {
  await withStore(async (store, folder) => {
    const machine = new Machine(store, folder);
    machine.passes(40 * DAY_MS);
    machine.restart(-60 * DAY_MS);
    machine.makeOld();
    machine.passes(3_600_000);
    machine.restart(60 * DAY_MS);
    machine.passes(DAY_MS);
    expect(await machine.kept()).toStrictEqual(ALL);
  });
});
