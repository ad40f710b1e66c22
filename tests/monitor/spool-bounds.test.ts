import { afterEach, describe, expect, it } from 'vitest';
import { SpoolAnalyst } from '../../server/monitor/analysis/spool-analyst.ts';
import type { RecordWriter } from '../../server/monitor/ports/record.ts';
import { SpoolBoundsService } from '../../server/monitor/spool/spool-bounds-service.ts';
import { SpoolRepository } from '../../server/monitor/spool/spool-repository.ts';
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

/** The desk as the service has it, on the record as it is open now. */
function serviceOf(): SpoolBoundsService {
  const { monitor, store } = line;
  const { reader, writer, columns: samples, spoolStatements: statements } = store;
  analyst = new SpoolAnalyst(samples);
  const spools = new SpoolRepository({
    reader,
    statements,
    settings: () => monitor.settings,
    woundMm: (spool) => monitor.woundMm(spool),
    measured: (runId) => monitor.measuredSections(runId),
  });
  return new SpoolBoundsService({ monitor, spools, analyst, writer, reader, samples, clock: () => clock.nowMs() });
}

/** A reading a millimetre, behind the first place up to the second, with a blob of 5 mm at each of these places. */
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

/** Winding begins when 5 m have passed: the spool begins 3.8 m into the strand. */
function windFrom5m(blobs: readonly number[] = [], offMm?: (mm: number) => number): void {
  clock = new ClockAhead();
  const live = { timing: 'live', resumable: true } as const;
  line = watchLine({ gaugeToWinderMm: PATH_MM, settleLengthMm: 50_000, stopAfterMin: 600 }, live, clock);
  line.monitor.setStage('purging', 'test');
  feed(-1, 5000, blobs, offMm);
  line.monitor.setStage('winding', 'test');
}

/** So much later than it begins now; below 0 = earlier. */
const later = (service: SpoolBoundsService, spoolId: number, mm: number) =>
  service.begins(spoolId, line.store.reader.spool(spoolId)!.startGaugeMm + mm, 'test');
const changedAt = (service: SpoolBoundsService, spoolId: number, mm: number) =>
  service.wasChanged(spoolId, line.store.reader.spool(spoolId)!.startGaugeMm + mm, 'test');

const spools = () => line.store.reader.spools(1);
const blobsAt = () =>
  line.monitor
    .measuredSections(1)
    .filter(({ kind }) => kind === 'blob')
    .map(({ fromMm }) => Math.round(fromMm / 100) * 100);
const told = () => line.store.reader.logEntries({ runId: 1, limit: 1 })[0]!.what;
/** When so much strand had passed the gauge, by the clock of the readings. */
async function passedMs(gaugeMm: number): Promise<number> {
  const { timeMs } = await line.store.columns.readings(1, gaugeMm, gaugeMm + 2, ['d']);
  return timeMs[0]!;
}

describe('a spool that is said to begin earlier', () => {
  it('takes along what was found of that strand, also where the service forgot it', async () => {
    windFrom5m([3000]);
    feed(5000, 7000);
    expect(blobsAt()).toEqual([]);
    // After a restart, what passed while purging is known from the stored readings only.
    clock.aheadMs = 7000 * MS_PER_MM + 1000;
    await line.restart();
    feed(7020, 8000, [7500]);
    await later(serviceOf(), 1, -1000);
    expect(spools()[0]).toMatchObject({ startGaugeMm: 2800, endGaugeMm: null });
    expect(line.monitor.woundMm(spools()[0]!)).toBeCloseTo(8000 - PATH_MM - 2800, 6);
    expect(Math.abs(spools()[0]!.startedMs - (await passedMs(2800 + PATH_MM)))).toBeLessThanOrEqual(2 * MS_PER_MM);
    expect(blobsAt().sort()).toEqual([3000, 7500]);
    // None is written over by another: also not by what comes after.
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

  it('finds the same strand only once, however often it is said', async () => {
    windFrom5m([3000]);
    feed(5000, 7000);
    const service = serviceOf();
    await later(service, 1, -1000);
    expect(told()).toBe('Said that spool 1 begins 1.00 m earlier than it was taken to.');
    await later(service, 1, 1000);
    await later(service, 1, -1000);
    expect(blobsAt()).toEqual([3000]);
    expect(spools()[0]!.startGaugeMm).toBe(2800);
  });

  it('is judged anew there also when its run is over', async () => {
    windFrom5m([3000]);
    feed(5000, 7000);
    line.monitor.setStage('stopped', 'test');
    expect(line.monitor.snapshot().run).toBeNull();
    await line.restart();
    await later(serviceOf(), 1, -1000);
    expect(blobsAt()).toEqual([3000]);
    expect(spools()[0]).toMatchObject({ startGaugeMm: 2800 });
  });

  it('is judged anew in one piece, however many times it is said in parts', async () => {
    // Off tolerance from 1 m on, as strand is that settles.
    windFrom5m([], (mm) => (mm < 3700 ? 0.08 : 0));
    feed(5000, 7000);
    line.monitor.setStage('stopped', 'test');
    await line.restart();
    const service = serviceOf();
    for (const startGaugeMm of [3300, 3800, 1800, 3500, -1000, -1200]) await service.begins(1, startGaugeMm, 'test');
    const off = line.monitor.measuredSections(1).filter(({ kind }) => kind === 'offTolerance');
    expect(off).toHaveLength(1);
    expect(off[0]!.fromMm).toBeLessThan(400);
    expect(off[0]!.toMm).toBeGreaterThan(3500);
    const unknown = line.monitor.measuredSections(1).filter(({ kind }) => kind === 'unknown');
    // Said in two parts beyond the first reading, they touch.
    expect(unknown.map(({ fromMm, toMm }) => [fromMm, toMm])).toEqual([
      [-1000, 0],
      [-1200, -1000],
    ]);
  });

  it('counts a stretch that is open since then once', async () => {
    windFrom5m([], () => 0.08);
    feed(5000, 7000, [], () => 0.08);
    // It is on the spool from the beginning, and not only once it is over.
    expect(line.monitor.measuredSections(1)).toMatchObject([{ kind: 'offTolerance', open: true }]);
    await later(serviceOf(), 1, -1000);
    feed(7000, 7500);
    expect(line.monitor.measuredSections(1)).toMatchObject([{ kind: 'offTolerance', open: false }]);
  });

  it('is there with its sections or not at all, where the disk refuses in between', async () => {
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
    await expect(service.begins(1, 2800, 'test')).rejects.toThrow('no space left');
    expect(spools()[0]!.startGaugeMm).toBe(3800);
    writer.saveMeasuredSections = save;
    await service.begins(1, 2800, 'test');
    // An answer that was lost on its way is asked for again: nothing moves twice.
    await service.begins(1, 2800, 'test');
    expect(spools()[0]!.startGaugeMm).toBe(2800);
    expect(blobsAt()).toEqual([3000]);
  });

  it('takes no number that a section has which still waits for the disk', async () => {
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
    await later(serviceOf(), 1, -1000);
    expect(blobsAt().sort()).toEqual([3000, 6500]);
  });

  it('stays as it is where single readings are gone, and later as little as earlier', async () => {
    windFrom5m();
    feed(5000, 7000);
    line.monitor.setStage('stopped', 'test');
    const { maintenance } = line.store;
    while (maintenance.thinStep(Date.now() * 2, Date.now()) !== null);
    const service = serviceOf();
    // What could not be taken back is not taken at all.
    for (const mm of [-100, 100])
      await expect(later(service, 1, mm)).rejects.toMatchObject({ code: 'readings-thinned' });
    await expect(changedAt(service, 1, 1000)).rejects.toMatchObject({ code: 'readings-thinned' });
    expect(spools()).toMatchObject([{ startGaugeMm: 3800 }]);
  });

  it('takes nothing along that passed behind it, though its run goes on', async () => {
    windFrom5m();
    feed(5000, 7000);
    line.monitor.setStage('purging', 'test');
    feed(7000, 9000, [8000]);
    await later(serviceOf(), 1, -100);
    expect(blobsAt()).toEqual([]);
  });

  it('stays as it is where something was said of it while the strand was judged', async () => {
    windFrom5m();
    feed(5000, 7000);
    line.monitor.setStage('stopped', 'test');
    const moving = later(serviceOf(), 1, -100);
    const cut = { action: 'discard', countedMm: 100, landmarkCountedMm: null, reachedEnd: false, place: null } as const;
    line.store.spoolStatements.addCut(1, { ...cut, atMs: 1e12, who: 'test' });
    await expect(moving).rejects.toMatchObject({ code: 'wrong-state' });
    expect(spools()[0]!.startGaugeMm).toBe(3800);
  });

  it('cannot begin before anything was measured at all', async () => {
    windFrom5m();
    feed(5000, 7000);
    const refused = expect(later(serviceOf(), 1, -5100)).rejects;
    await refused.toMatchObject({
      code: 'bad-place',
      message: 'Spool 1 cannot begin 5.10 m earlier: measuring began 5.00 m before it.',
    });
    expect(spools()[0]).toMatchObject({ startGaugeMm: 3800 });
    // What lay between gauge and winder when measuring began passed unmeasured.
    await later(serviceOf(), 1, -5000);
    expect(line.monitor.measuredSections(1)).toMatchObject([{ kind: 'unknown', fromMm: -1200, toMm: 0 }]);
  });
});

describe('a spool that is said to begin later', () => {
  it('is shorter from then on, and its mean is that of what is on it', async () => {
    windFrom5m();
    // 1 m of thick strand first.
    for (let mm = 5001; mm <= 9000; mm++) {
      line.feed(`ms=${mm * MS_PER_MM} n=${mm} d=${mm < 6050 ? '1.780' : '1.750'} v=20 len=${mm}\n`);
    }
    await later(serviceOf(), 1, 2300);
    expect(spools()[0]).toMatchObject({ startGaugeMm: 6100 });
    expect(told()).toBe('Said that spool 1 begins 2.30 m later than it was taken to.');
    await expect.poll(() => line.monitor.snapshot().meanDiameterMm).toBeCloseTo(1.75, 5);
  });

  it('cannot begin behind what is wound', async () => {
    windFrom5m();
    feed(5000, 6000);
    const service = serviceOf();
    await expect(later(service, 1, 999)).rejects.toMatchObject({
      code: 'bad-place',
      message: 'Spool 1 cannot begin 1.00 m later: it holds only 1.00 m.',
    });
    await expect(service.begins(7, 1, 'test')).rejects.toMatchObject({ code: 'unknown-spool' });
  });
});

describe('a spool that is said to have been changed', () => {
  it('is two: the next one is being wound, and ends with the winding', async () => {
    windFrom5m();
    feed(5000, 9000, [8000]);
    const begun = await changedAt(serviceOf(), 1, 1500);
    expect(told()).toBe('Said that spool 1 was changed at 1.50 m: what was wound behind that is spool 2.');
    expect(begun).toMatchObject({ ordinal: 2, startGaugeMm: 5300, endGaugeMm: null });
    expect(line.monitor.snapshot().spool).toEqual(begun);
    expect(spools()[0]).toMatchObject({ startGaugeMm: 3800, endGaugeMm: 5300, endedMs: begun.startedMs });
    expect(Math.abs(begun.startedMs - (await passedMs(5300 + PATH_MM)))).toBeLessThanOrEqual(2 * MS_PER_MM);
    feed(9000, 10_000);
    line.monitor.setStage('purging', 'test');
    expect(spools()[1]!.endGaugeMm).toBeCloseTo(10_000 - PATH_MM, 6);
    // The next one has the next number.
    line.monitor.setStage('winding', 'test');
    expect(line.monitor.snapshot().spool).toMatchObject({ ordinal: 3 });
    expect(blobsAt()).toEqual([8000]);
  });

  it('was so also when its run is over, and ends where it did', async () => {
    windFrom5m();
    feed(5000, 9000);
    line.monitor.setStage('stopped', 'test');
    const whole = spools()[0]!;
    await changedAt(serviceOf(), 1, 1500);
    expect(spools()).toMatchObject([
      { ordinal: 1, startGaugeMm: 3800, endGaugeMm: 5300 },
      { ordinal: 2, startGaugeMm: 5300, endGaugeMm: whole.endGaugeMm, endedMs: whole.endedMs },
    ]);
  });

  it('was changed elsewhere, where the next one is said to begin earlier or later', async () => {
    windFrom5m();
    feed(5000, 8000);
    line.monitor.changeSpool('test');
    const changedMm = 8000 - PATH_MM;
    feed(8000, 9000);
    const service = serviceOf();
    await later(service, 2, -800);
    expect(told()).toBe('Said that spool 2 begins 0.80 m earlier than it was changed from spool 1.');
    expect(spools()).toMatchObject([{ endGaugeMm: changedMm - 800 }, { startGaugeMm: changedMm - 800 }]);
    await later(service, 2, 900);
    expect(spools()).toMatchObject([{ endGaugeMm: changedMm + 100 }, { startGaugeMm: changedMm + 100 }]);
    await expect(later(service, 2, -3100)).rejects.toMatchObject({
      message: 'Spool 2 cannot begin 3.10 m earlier: nothing would be left of spool 1.',
    });
    // All of it is on one of the two, once.
    expect(spools()[0]!.endGaugeMm).toBe(spools()[1]!.startGaugeMm);
  });

  it('takes nothing from a spool that ended when the line stopped', async () => {
    windFrom5m();
    feed(5000, 7000);
    line.monitor.setStage('purging', 'test');
    feed(7000, 9000);
    line.monitor.setStage('winding', 'test');
    feed(9000, 11_000);
    const [first, second] = spools();
    const apartM = ((second!.startGaugeMm - first!.endGaugeMm!) / 1000).toFixed(2);
    await expect(later(serviceOf(), 2, -2500)).rejects.toMatchObject({
      message: `Spool 2 cannot begin 2.50 m earlier: spool 1 ended ${apartM} m before it.`,
    });
    // As far as it may: the two stay apart, so that what is said of one later moves the other no more than it did now.
    await serviceOf().begins(2, first!.endGaugeMm! + 1, 'test');
    expect(spools()).toMatchObject([first!, { startGaugeMm: first!.endGaugeMm! + 1 }]);
    await serviceOf().begins(2, second!.startGaugeMm, 'test');
    expect(spools()).toMatchObject([first!, { startGaugeMm: second!.startGaugeMm }]);
  });

  it('is refused where a number, a cut, a measurement or a name speaks of it as it is', async () => {
    windFrom5m();
    feed(5000, 8000);
    line.monitor.changeSpool('test');
    feed(8000, 10_000);
    line.monitor.setStage('stopped', 'test');
    const service = serviceOf();
    const { spoolStatements: statements } = line.store;
    const refusal = (spoolId: number) =>
      changedAt(service, spoolId, 1000).then(
        () => 'not refused',
        (thrown) => (thrown as Error).message,
      );
    expect(await refusal(1)).toContain('not the last one of its run');
    const place = { fromGaugeMm: 7000, toGaugeMm: 8000 };
    statements.nameCoil(2, { coil: 1, name: 'grey B', place }, 1e12, 'test');
    expect(await refusal(2)).toContain('Coils of spool 2 have names');
    statements.nameCoil(2, { coil: 1, name: '', place }, 1e12, 'test');
    statements.correctLength(2, { measuredMm: 1010, indicatedMm: 1000, uncertaintyMm: 1 }, 1e12, 'test');
    expect(await refusal(2)).toContain('put right by tape');
    statements.correctLength(2, null, 1e12, 'test');
    const cut = { action: 'discard', countedMm: 100, landmarkCountedMm: null, reachedEnd: false, place: null } as const;
    statements.addCut(2, { ...cut, atMs: 1e12, who: 'test' });
    expect(await refusal(2)).toContain('a cut is ticked off');
    await expect(later(service, 2, 100)).rejects.toMatchObject({ code: 'wrong-state' });
    statements.takeBackLastCut(2, 1e12, 'test');
    // A place on the spool is in true lengths; it was changed where the tape says.
    expect(await refusal(2)).toBe('not refused');
    statements.addCut(2, { ...cut, atMs: 1e12, who: 'test' });
    await expect(later(service, 3, 100)).rejects.toMatchObject({ code: 'wrong-state' });
  });
});
