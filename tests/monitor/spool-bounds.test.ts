import { afterEach, describe, expect, it } from 'vitest';
import type { Spool } from '../../server/entities/spool.ts';
import { SpoolAnalyst } from '../../server/monitor/analysis/spool-analyst.ts';
import type { RecordWriter } from '../../server/monitor/ports/record.ts';
import { SpoolBoundsService } from '../../server/monitor/spool/spool-bounds-service.ts';
import { SpoolRepository } from '../../server/monitor/spool/spool-repository.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { ClockAhead, type WatchedLine, watchLine } from './watched-line.ts';

const PATH_MM = 1200;
const MS_PER_MM = 50;

let line: WatchedLine;
let analyst: SpoolAnalyst;
let clock: ClockAhead;
afterEach(async () => {
  await analyst.stop();
  await line.remove();
});

/** The service on the record that is open now. */
function serviceOf(): SpoolBoundsService {
  const { monitor, store } = line;
  const { reader, writer, columns: samples, spoolStatements: statements } = store;
  analyst = new SpoolAnalyst(samples);
  const spools = new SpoolRepository({
    reader,
    statements,
    settings: () => monitor.settings,
    endGaugeMm: (spool) => monitor.endGaugeMm(spool),
    measuredSections: (runId) => monitor.measuredSections(runId),
  });
  return new SpoolBoundsService({ monitor, spools, analyst, writer, reader, samples, clock: () => clock.nowMs() });
}

/** One reading per millimetre after `fromMm` up to `toMm`, with a blob 5 mm long at each of these places. */
function feed(
  fromMm: number,
  toMm: number,
  blobs: readonly number[] = [],
  offMm: (mm: number) => number = () => 0,
): void {
  for (let mm = fromMm + 1; mm <= toMm; mm++) {
    const blob = blobs.some((at) => mm >= at && mm < at + 5);
    const d = blob ? 2.2 : 1.75 + offMm(mm) + 0.004 * Math.sin(mm * 12.9898);
    line.feed(`ms=${mm * MS_PER_MM} n=${mm} d=${d.toFixed(3)} v=20 len=${mm}\n`);
  }
}

/** Winding starts after 5 m, so the spool starts at 3.8 m. */
function windFrom5m(blobs: readonly number[] = [], offMm?: (mm: number) => number): void {
  clock = new ClockAhead();
  const live = { timing: 'live', resumable: true } as const;
  line = watchLine({ gaugeToWinderMm: PATH_MM, settleLengthMm: 50_000, stopAfterMin: 600 }, live, clock);
  line.monitor.setStage('purging', 'test');
  feed(-1, 5000, blobs, offMm);
  line.monitor.setStage('winding', 'test');
}

/** @throws if there is no such spool */
function spool(ordinal: number): Spool {
  const found = line.store.reader.spools(1).find((one) => one.ordinal === ordinal);
  if (found === undefined) throw new Error(`There is no spool ${ordinal}.`);
  return found;
}
/** Moves the start of a spool by this length; negative = earlier. */
const moveStart = (service: SpoolBoundsService, spoolId: number, byMm: number) =>
  service.moveStart(spoolId, spool(spoolId).startGaugeMm + byMm, 'test');
const split = (service: SpoolBoundsService, spoolId: number, atMm: number) =>
  service.split(spoolId, spool(spoolId).startGaugeMm + atMm, 'test');

const spools = () => line.store.reader.spools(1);
const blobsAt = () =>
  line.monitor
    .measuredSections(1)
    .filter(({ kind }) => kind === 'blob')
    .map(({ fromMm }) => Math.round(fromMm / 100) * 100);
const lastLogged = () => line.store.reader.logEntries({ runId: 1, limit: 1 })[0]?.what;
/** When this gauge length passed, by the time of the readings. */
async function passedMs(gaugeMm: number): Promise<number> {
  const { timeMs } = await line.store.columns.readings(1, gaugeMm, gaugeMm + 2, ['d']);
  return timeMs[0] ?? Number.NaN;
}

describe('a spool whose start is moved earlier', () => {
  it('includes sections of the added strand, even after a restart', async () => {
    windFrom5m([3000]);
    feed(5000, 7000);
    expect(blobsAt()).toEqual([]);
    // After a restart, strand that passed while purging is known only from stored readings.
    clock.aheadMs = 7000 * MS_PER_MM + 1000;
    await line.restart();
    feed(7020, 8000, [7500]);
    await moveStart(serviceOf(), 1, -1000);
    expect(spools()[0]).toMatchObject({ startGaugeMm: 2800, endGaugeMm: null });
    expect(line.monitor.woundMm(spool(1))).toBeCloseTo(8000 - PATH_MM - 2800, 6);
    expect(Math.abs(spool(1).startedMs - (await passedMs(2800 + PATH_MM)))).toBeLessThanOrEqual(2 * MS_PER_MM);
    expect(blobsAt().sort()).toEqual([3000, 7500]);
    // No section overwrites another, not even later ones.
    feed(8000, 9000, [8500]);
    line.monitor.setStage('stopped', 'test');
    expect(
      line.store.reader
        .measuredSections(1)
        .filter(({ kind }) => kind === 'blob')
        .map(({ fromMm }) => Math.round(fromMm / 100))
        .sort((a, b) => a - b),
    ).toEqual([30, 75, 85]);
  });

  it.skipIf(!IS_LONG_CHECK)('adds the same sections only once, however often the start is moved', async () => {
    windFrom5m([3000]);
    feed(5000, 7000);
    const service = serviceOf();
    await moveStart(service, 1, -1000);
    expect(lastLogged()).toBe('Moved the start of spool 1: 1.00 m earlier.');
    await moveStart(service, 1, 1000);
    await moveStart(service, 1, -1000);
    expect(blobsAt()).toEqual([3000]);
    expect(spool(1).startGaugeMm).toBe(2800);
  });

  it('has the added strand judged even after its run has ended', async () => {
    windFrom5m([3000]);
    feed(5000, 7000);
    line.monitor.setStage('stopped', 'test');
    expect(line.monitor.snapshot().run).toBeNull();
    await line.restart();
    await moveStart(serviceOf(), 1, -1000);
    expect(blobsAt()).toEqual([3000]);
    expect(spools()[0]).toMatchObject({ startGaugeMm: 2800 });
  });

  it('joins added strand into one section, even if it is added in parts', async () => {
    // Out of tolerance until 3.7 m, like strand that is settling.
    windFrom5m([], (mm) => 0.08 * Math.max(0, Math.min(1, (3700 - mm) / 40)));
    feed(5000, 7000);
    line.monitor.setStage('stopped', 'test');
    await line.restart();
    const service = serviceOf();
    for (const startGaugeMm of [3300, 3800, 1800, 3500, -1000, -1200]) await service.moveStart(1, startGaugeMm, 'test');
    const off = line.monitor.measuredSections(1).filter(({ kind }) => kind === 'offTolerance');
    expect(off.map(({ fromMm, toMm }) => fromMm < 400 && toMm > 3500)).toEqual([true]);
    const unknown = line.monitor.measuredSections(1).filter(({ kind }) => kind === 'unknown');
    // Added in two parts before the first reading, they touch.
    expect(unknown.map(({ fromMm, toMm }) => [fromMm, toMm])).toEqual([
      [-1000, 0],
      [-1200, -1000],
    ]);
  });

  it.skipIf(!IS_LONG_CHECK)('counts a section that is still open only once', async () => {
    windFrom5m([], () => 0.08);
    feed(5000, 7000, [], () => 0.08);
    // It is on the spool from its start, not only after it has ended.
    expect(line.monitor.measuredSections(1)).toMatchObject([{ kind: 'offTolerance', open: true }]);
    await moveStart(serviceOf(), 1, -1000);
    feed(7000, 7500, [], (mm) => 0.08 * Math.max(0, (7040 - mm) / 40));
    expect(line.monitor.measuredSections(1)).toMatchObject([{ kind: 'offTolerance', open: false }]);
  });

  it('is moved together with its sections or not at all if the disk refuses', async () => {
    windFrom5m([3000]);
    feed(5000, 7000);
    line.monitor.setStage('stopped', 'test');
    await line.restart();
    const writer = line.store.writer as { saveMeasuredSections: RecordWriter['saveMeasuredSections'] };
    const save = writer.saveMeasuredSections;
    writer.saveMeasuredSections = () => {
      throw new Error('no space left on the disk');
    };
    const service = serviceOf();
    await expect(service.moveStart(1, 2800, 'test')).rejects.toThrow('no space left');
    expect(spool(1).startGaugeMm).toBe(3800);
    writer.saveMeasuredSections = save;
    await service.moveStart(1, 2800, 'test');
    // Repeating a request whose answer was lost moves nothing.
    await service.moveStart(1, 2800, 'test');
    expect(spool(1).startGaugeMm).toBe(2800);
    expect(blobsAt()).toEqual([3000]);
  });

  it.skipIf(!IS_LONG_CHECK)('does not reuse the ordinal of a section that is not yet saved', async () => {
    windFrom5m([3000]);
    const writer = line.store.writer as { saveMeasuredSections: RecordWriter['saveMeasuredSections'] };
    const save = writer.saveMeasuredSections;
    writer.saveMeasuredSections = () => {
      throw new Error('no space left on the disk');
    };
    feed(5000, 7000, [6500]);
    line.monitor.setStage('stopped', 'test');
    expect(line.store.reader.measuredSections(1)).toEqual([]);
    writer.saveMeasuredSections = save;
    await moveStart(serviceOf(), 1, -1000);
    expect(blobsAt().sort()).toEqual([3000, 6500]);
  });

  it.skipIf(!IS_LONG_CHECK)('is refused in both directions if single readings were deleted', async () => {
    windFrom5m();
    feed(5000, 7000);
    line.monitor.setStage('stopped', 'test');
    const { maintenance } = line.store;
    while (maintenance.thinStep(Date.now() * 2, Date.now()) !== null);
    const service = serviceOf();
    // Moving later could not be undone, so it is refused too.
    for (const mm of [-100, 100])
      await expect(moveStart(service, 1, mm)).rejects.toMatchObject({ code: 'readings-thinned' });
    await expect(split(service, 1, 1000)).rejects.toMatchObject({ code: 'readings-thinned' });
    expect(spools()).toMatchObject([{ startGaugeMm: 3800 }]);
  });

  it('does not include sections after its end, although its run continues', async () => {
    windFrom5m();
    feed(5000, 7000);
    line.monitor.setStage('purging', 'test');
    feed(7000, 9000, [8000]);
    await moveStart(serviceOf(), 1, -100);
    expect(blobsAt()).toEqual([]);
  });

  it('is refused if a cut is recorded while the strand is being judged', async () => {
    windFrom5m();
    feed(5000, 7000);
    line.monitor.setStage('stopped', 'test');
    const moving = moveStart(serviceOf(), 1, -100);
    const cut = { action: 'discard', countedMm: 100, landmarkCountedMm: null, reachedEnd: false, place: null } as const;
    line.store.spoolStatements.addCuts(1, [{ ...cut, atMs: 1e12, who: 'test' }], false);
    await expect(moving).rejects.toMatchObject({ code: 'wrong-state' });
    expect(spool(1).startGaugeMm).toBe(3800);
  });

  it('cannot start before measuring started', async () => {
    windFrom5m();
    feed(5000, 7000);
    const refused = expect(moveStart(serviceOf(), 1, -5100)).rejects;
    await refused.toMatchObject({
      code: 'bad-place',
      message: 'Spool 1 cannot start 5.10 m earlier: measuring started 5.00 m before it.',
    });
    expect(spools()[0]).toMatchObject({ startGaugeMm: 3800 });
    // Strand between gauge and winder when measuring started was not measured.
    await moveStart(serviceOf(), 1, -5000);
    expect(line.monitor.measuredSections(1)).toMatchObject([{ kind: 'unknown', fromMm: -1200, toMm: 0 }]);
  });
});

describe('a spool whose start is moved later', () => {
  it('becomes shorter, and its mean diameter is that of the remaining strand', async () => {
    windFrom5m();
    // The first metre is thick, and on the last one dust is in the gauge.
    feed(5000, 9000, [], (mm) => (mm < 6050 ? 0.03 : mm < 8000 ? 0 : 0.06));
    await moveStart(serviceOf(), 1, 2300);
    expect(spools()[0]).toMatchObject({ startGaugeMm: 6100 });
    expect(lastLogged()).toBe('Moved the start of spool 1: 2.30 m later.');
    await expect.poll(() => line.monitor.snapshot().meanDiameterMm).toBeCloseTo(1.75, 3);
  });

  it('cannot start after the strand wound so far', async () => {
    windFrom5m();
    feed(5000, 6000);
    const service = serviceOf();
    await expect(moveStart(service, 1, 999)).rejects.toMatchObject({
      code: 'bad-place',
      message: 'Spool 1 cannot start 1.00 m later: it holds only 1.00 m.',
    });
    await expect(service.moveStart(7, 1, 'test')).rejects.toMatchObject({ code: 'unknown-spool' });
  });
});

describe('a spool that is split', () => {
  it('continues as the next spool, which ends with the winding', async () => {
    windFrom5m();
    feed(5000, 9000, [8000]);
    const next = await split(serviceOf(), 1, 1500);
    expect(lastLogged()).toBe('Divided spool 1 at 1.50 m. The strand after that is spool 2.');
    expect(next).toMatchObject({ ordinal: 2, startGaugeMm: 5300, endGaugeMm: null });
    expect(line.monitor.snapshot().spool).toEqual(next);
    expect(spools()[0]).toMatchObject({ startGaugeMm: 3800, endGaugeMm: 5300, endedMs: next.startedMs });
    expect(Math.abs(next.startedMs - (await passedMs(5300 + PATH_MM)))).toBeLessThanOrEqual(2 * MS_PER_MM);
    feed(9000, 10_000);
    line.monitor.setStage('purging', 'test');
    expect(spool(2).endGaugeMm).toBeCloseTo(10_000 - PATH_MM, 6);
    // The spool after that has the next number.
    line.monitor.setStage('winding', 'test');
    expect(line.monitor.snapshot().spool).toMatchObject({ ordinal: 3 });
    expect(blobsAt()).toEqual([8000]);
  });

  it('keeps its end on the new spool after its run has ended', async () => {
    windFrom5m();
    feed(5000, 9000);
    line.monitor.setStage('stopped', 'test');
    const whole = spool(1);
    await split(serviceOf(), 1, 1500);
    expect(spools()).toMatchObject([
      { ordinal: 1, startGaugeMm: 3800, endGaugeMm: 5300 },
      { ordinal: 2, startGaugeMm: 5300, endGaugeMm: whole.endGaugeMm, endedMs: whole.endedMs },
    ]);
  });

  it('moves its end with the start of the next spool', async () => {
    windFrom5m();
    feed(5000, 8000);
    line.monitor.changeSpool('test');
    const changedMm = 8000 - PATH_MM;
    feed(8000, 9000);
    const service = serviceOf();
    await moveStart(service, 2, -800);
    expect(lastLogged()).toBe('Moved the start of spool 2, and the end of spool 1 with it: 0.80 m earlier.');
    expect(spools()).toMatchObject([{ endGaugeMm: changedMm - 800 }, { startGaugeMm: changedMm - 800 }]);
    await moveStart(service, 2, 900);
    expect(spools()).toMatchObject([{ endGaugeMm: changedMm + 100 }, { startGaugeMm: changedMm + 100 }]);
    await expect(moveStart(service, 2, -3100)).rejects.toMatchObject({
      message: 'Spool 2 cannot start 3.10 m earlier: nothing would be left of spool 1.',
    });
    // All strand is on exactly one of the two.
    expect(spool(1).endGaugeMm).toBe(spool(2).startGaugeMm);
  });

  it('leaves the end of a spool that ended with a stop', async () => {
    windFrom5m();
    feed(5000, 7000);
    line.monitor.setStage('purging', 'test');
    feed(7000, 9000);
    line.monitor.setStage('winding', 'test');
    feed(9000, 11_000);
    const [first, second] = [spool(1), spool(2)];
    const firstEndMm = first.endGaugeMm ?? Number.NaN;
    const apartM = ((second.startGaugeMm - firstEndMm) / 1000).toFixed(2);
    await expect(moveStart(serviceOf(), 2, -2500)).rejects.toMatchObject({
      message: `Spool 2 cannot start 2.50 m earlier: spool 1 ended ${apartM} m before it.`,
    });
    // At the limit the two stay apart, so that later corrections of one do not move the other.
    await serviceOf().moveStart(2, firstEndMm + 1, 'test');
    expect(spools()).toMatchObject([first, { startGaugeMm: firstEndMm + 1 }]);
    await serviceOf().moveStart(2, second.startGaugeMm, 'test');
    expect(spools()).toMatchObject([first, { startGaugeMm: second.startGaugeMm }]);
  });

  it('is refused if a later spool, a cut, a measurement or a coil name depends on it', async () => {
    windFrom5m();
    feed(5000, 8000);
    line.monitor.changeSpool('test');
    feed(8000, 10_000);
    line.monitor.setStage('stopped', 'test');
    const service = serviceOf();
    const { spoolStatements: statements } = line.store;
    const refusal = (spoolId: number) =>
      split(service, spoolId, 1000).then(
        () => 'not refused',
        (thrown) => (thrown as Error).message,
      );
    expect(await refusal(1)).toContain('not the last one of its run');
    const place = { fromGaugeMm: 7000, toGaugeMm: 8000 };
    statements.nameCoil(2, { coil: 1, name: 'grey B', place }, 1e12, 'test');
    expect(await refusal(2)).toContain('Coils of spool 2 have names');
    statements.nameCoil(2, { coil: 1, name: '', place }, 1e12, 'test');
    statements.correctLength(2, { measuredMm: 1010, indicatedMm: 1000, uncertaintyMm: 1 }, 1e12, 'test');
    expect(await refusal(2)).toContain('corrected by tape');
    statements.correctLength(2, null, 1e12, 'test');
    statements.weigh(2, { grossG: 200, tareG: 180, uncertaintyG: 1 }, 1e12, 'test');
    expect(await refusal(2)).toContain('Spool 2 was weighed as it is');
    statements.weigh(2, null, 1e12, 'test');
    const cut = { action: 'discard', countedMm: 100, landmarkCountedMm: null, reachedEnd: false, place: null } as const;
    statements.addCuts(2, [{ ...cut, atMs: 1e12, who: 'test' }], false);
    expect(await refusal(2)).toContain('a cut is ticked off');
    await expect(moveStart(service, 2, 100)).rejects.toMatchObject({ code: 'wrong-state' });
    statements.takeBackLastCut(2, 1e12, 'test');
    // Without cuts, names or a measurement it is possible.
    expect(await refusal(2)).toBe('not refused');
    statements.addCuts(2, [{ ...cut, atMs: 1e12, who: 'test' }], false);
    await expect(moveStart(service, 3, 100)).rejects.toMatchObject({ code: 'wrong-state' });
  });
});
