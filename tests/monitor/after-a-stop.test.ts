import { afterEach, describe, expect, it } from 'vitest';
import { liveView } from '../../server/api/live-view.ts';
import { casesOf, IS_LONG_CHECK } from '../long-check.ts';
import { spoolParts } from './spool-parts.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

const PATH_MM = 500;
const HZ = 20;

let line: WatchedLine;
let lines = 0;
let len = 0;
afterEach(() => line.remove());

function watch(): void {
  lines = 0;
  len = 0;
  line = watchLine({ settleLengthMm: 1000, gaugeToWinderMm: PATH_MM, stopAfterMin: 60 });
}

interface Fed {
  readonly speedMmPerS: number;
  /** NaN = no value. */
  readonly diameterMm?: (lenMm: number) => number;
  readonly turns?: (lenMm: number) => number;
}

function feed(seconds: number, { speedMmPerS, diameterMm = () => 1.75, turns }: Fed): void {
  for (let i = 0; i < seconds * HZ; i++) {
    lines += 1;
    len += speedMmPerS / HZ;
    const d = diameterMm(len) + 0.004 * Math.sin(lines * 12.9898);
    const also = turns === undefined ? '' : ` turns=${turns(len)}`;
    line.feed(`ms=${lines * (1000 / HZ)} n=${lines} d=${d.toFixed(3)} v=${speedMmPerS} len=${len.toFixed(2)}${also}\n`);
  }
}

const standing = () => line.monitor.alarms.standing();
const stage = () => line.monitor.snapshot().stage.stage;

/** A blob of 2.2 mm, 6 mm long. */
const blobAt = (mm: number) => (lenMm: number) => (lenMm >= mm && lenMm < mm + 6 ? 2.2 : 1.75);

describe('a line that stands still for minutes', () => {
  it.each(casesOf([61, 90, 600], 1))('winds the same strand on the same spool again (%d s)', (stopS) => {
    watch();
    feed(300, { speedMmPerS: 20 });
    const before = line.monitor.snapshot().spool;
    if (before === null) throw new Error('No spool is being wound.');
    feed(stopS, { speedMmPerS: 0 });
    expect(line.monitor.snapshot().spool).toBeNull();
    const stoppedAt = len;
    feed(60, { speedMmPerS: 20, diameterMm: blobAt(stoppedAt + 500) });
    const { spool, sections } = line.monitor.snapshot();
    expect(stage()).toBe('winding');
    expect(spool).toEqual(before);
    expect(line.store.reader.spools(before.runId)).toEqual([before]);
    const [blob] = sections.filter(({ kind }) => kind === 'blob');
    expect(Math.abs((blob?.fromMm ?? 0) - (stoppedAt + 500))).toBeLessThan(5);
    expect(standing().map(({ type }) => type)).toEqual(['blob']);
  });

  it('winds the same strand again after moments without a value, and with the heaters off meanwhile', () => {
    watch();
    feed(300, { speedMmPerS: 20 });
    const before = line.monitor.snapshot().spool;
    feed(100, { speedMmPerS: 0 });
    feed(25, { speedMmPerS: 0, diameterMm: () => Number.NaN });
    feed(100, { speedMmPerS: 0 });
    expect(stage()).toBe('stopped');
    feed(10, { speedMmPerS: 20 });
    expect(line.monitor.snapshot().spool).toEqual(before);
  });

  it('finds a blob in the first metre after the stop, before the stage has followed', () => {
    watch();
    feed(300, { speedMmPerS: 20 });
    feed(120, { speedMmPerS: 0 });
    feed(60, { speedMmPerS: 20, diameterMm: blobAt(len + 10) });
    expect(line.monitor.snapshot().sections.map(({ kind }) => kind)).toEqual(['blob']);
    expect(standing().map(({ type }) => type)).toEqual(['blob']);
  });

  it('counts every metre of the spool once, and continues its mean diameter', () => {
    watch();
    feed(300, { speedMmPerS: 20 });
    const spool = line.monitor.snapshot().spool;
    if (spool === null) throw new Error('No spool is being wound.');
    const woundMm = line.monitor.woundMm(spool);
    feed(120, { speedMmPerS: 0 });
    feed(100, { speedMmPerS: 20, diameterMm: () => 1.79 });
    expect(line.monitor.woundMm(spool)).toBeCloseTo(woundMm + 2000, 0);
    const { meanDiameterMm } = line.monitor.snapshot();
    expect(meanDiameterMm).toBeGreaterThan(1.755);
    expect(meanDiameterMm).toBeLessThan(1.775);
  });
});

describe('a line that stood still, with other strand possible since', () => {
  const EMPTY: Fed = { speedMmPerS: 0, diameterMm: () => 0.02 };
  const NO_VALUE: Fed = { speedMmPerS: 0, diameterMm: () => Number.NaN };

  it.each([
    ['the gauge was empty', EMPTY],
    ['the gauge had no value', NO_VALUE],
  ])('purges if %s, and offers to continue the spool', async (_what, meanwhile) => {
    watch();
    feed(300, { speedMmPerS: 20 });
    const spool = line.monitor.snapshot().spool;
    if (spool === null) throw new Error('No spool is being wound.');
    feed(90, { speedMmPerS: 0 });
    feed(60, meanwhile);
    const stoppedAt = len;
    feed(20, { speedMmPerS: 20, diameterMm: blobAt(stoppedAt + 100) });
    expect(stage()).toBe('purging');
    expect(liveView(line.monitor, 'test', []).spoolToContinue).toMatchObject({ id: spool.id, ordinal: 1 });
    line.monitor.continueSpool('Ada');
    expect(stage()).toBe('winding');
    expect(line.monitor.snapshot().spool).toEqual(spool);
    expect(liveView(line.monitor, 'test', []).spoolToContinue).toBeNull();
    feed(60, { speedMmPerS: 20 });
    expect(line.monitor.snapshot().sections.filter(({ kind }) => kind === 'blob')).toHaveLength(1);
    expect(line.store.reader.spools(spool.runId)).toHaveLength(1);
    const said = line.store.reader.logEntries({ runId: spool.runId, limit: 5 });
    expect(said).toContainEqual(expect.objectContaining({ who: 'Ada', what: 'Spool 1 continues.' }));
    // The judged spool has the blob, and no unjudged stretch.
    line.store.samples.flush();
    const judgement = await spoolParts(line).judge.judge(spool.id);
    expect(judgement.sections.map(({ kind }) => kind)).toContain('blob');
    expect(judgement.woundSpool.endGaugeMm - judgement.woundSpool.startGaugeMm).toBeCloseTo(
      line.monitor.woundMm(spool),
      0,
    );
  });

  it.skipIf(!IS_LONG_CHECK)('starts a new spool unless a user continues the old one', () => {
    watch();
    feed(300, { speedMmPerS: 20 });
    feed(90, { speedMmPerS: 0 });
    feed(60, EMPTY);
    feed(120, { speedMmPerS: 20 });
    expect(line.monitor.snapshot().spool?.ordinal).toBe(2);
    feed(1200, { speedMmPerS: 20 });
    expect(liveView(line.monitor, 'test', []).spoolToContinue).toBeNull();
  });

  it('joins a new spool that has started since, with all strand in between', () => {
    watch();
    feed(300, { speedMmPerS: 20 });
    const first = line.monitor.snapshot().spool;
    if (first === null) throw new Error('No spool is being wound.');
    feed(90, { speedMmPerS: 0 });
    feed(60, EMPTY);
    const stoppedAt = len;
    feed(200, { speedMmPerS: 20, diameterMm: blobAt(stoppedAt + 100) });
    const second = line.monitor.snapshot().spool;
    expect(second?.ordinal).toBe(2);
    line.store.writer.setSpoolNote(second?.id ?? 0, 'Threaded again.');
    // The blob passed before the second spool started.
    expect(line.store.reader.measuredSections(1).map(({ kind }) => kind)).not.toContain('blob');
    expect(liveView(line.monitor, 'test', []).spoolToContinue).toMatchObject({ ordinal: 1 });
    line.monitor.continueSpool('Ada');
    line.monitor.notesChanged(1);
    expect(line.store.reader.spools(1)).toEqual([{ ...first, note: 'Threaded again.' }]);
    expect(line.monitor.woundMm(first)).toBeCloseTo(len - PATH_MM - first.startGaugeMm, -1);
    expect(line.monitor.snapshot().sections.map(({ kind }) => kind)).toContain('blob');
    line.monitor.changeSpool('Ada');
    expect(line.monitor.snapshot().spool?.ordinal).toBe(2);
    expect(liveView(line.monitor, 'test', []).spoolToContinue).toBeNull();
  });

  it('does not continue a spool that has been cut since', () => {
    watch();
    feed(300, { speedMmPerS: 20 });
    const spool = line.monitor.snapshot().spool;
    if (spool === null) throw new Error('No spool is being wound.');
    feed(90, { speedMmPerS: 0 });
    line.store.spoolStatements.addCuts(
      spool.id,
      [
        {
          action: 'keep',
          countedMm: 1000,
          landmarkCountedMm: null,
          reachedEnd: false,
          atMs: 1,
          who: 'Ada',
          place: null,
        },
      ],
      false,
    );
    feed(60, { speedMmPerS: 20 });
    expect(line.store.reader.spools(spool.runId).map(({ endedMs }) => endedMs !== null)).toEqual([true, false]);
  });
});

describe('a turn counter that starts again at 0', () => {
  const turnsFrom = (fromMm: number) => (lenMm: number) => Math.max(0, Math.floor((lenMm - fromMm) / 250));

  /** Winds 5 m, stops for two minutes, then winds on with the counter at 0. @returns where the line stopped */
  function windAgain(): number {
    watch();
    feed(300, { speedMmPerS: 20, turns: turnsFrom(1000) });
    const stoppedAt = len;
    feed(120, { speedMmPerS: 0, turns: () => 0 });
    feed(120, { speedMmPerS: 20, turns: turnsFrom(stoppedAt) });
    return stoppedAt;
  }
  const proposed = () => liveView(line.monitor, 'test', []).proposedSpoolChange;

  it('proposes a new spool from there, and starts none', () => {
    const stoppedAt = windAgain();
    const { spool } = line.monitor.snapshot();
    if (spool === null) throw new Error('No spool is being wound.');
    expect(spool.ordinal).toBe(1);
    expect(proposed()).toMatchObject({ spoolId: spool.id, ordinal: 1 });
    // To within half a turn.
    expect(Math.abs((proposed()?.atGaugeMm ?? 0) - (stoppedAt - PATH_MM))).toBeLessThan(130);
    line.monitor.splitSpool(spool, proposed()?.atGaugeMm ?? 0, 1);
    expect(line.monitor.snapshot().spool?.ordinal).toBe(2);
    expect(proposed()).toBeNull();
  });

  it('proposes nothing more once a user has said that it is the same spool', () => {
    windAgain();
    line.monitor.dismissSpoolChange('Ada');
    feed(60, { speedMmPerS: 20, turns: turnsFrom(len - 20_000) });
    expect(proposed()).toBeNull();
    expect(line.monitor.snapshot().spool?.ordinal).toBe(1);
  });

  it('proposes nothing if all counters of the board started again', () => {
    watch();
    feed(300, { speedMmPerS: 20, turns: turnsFrom(1000) });
    const restartedAt = len;
    lines = 0;
    len = 0;
    feed(200, { speedMmPerS: 20, turns: turnsFrom(0) });
    expect(line.monitor.snapshot().last?.gaugeMm).toBeGreaterThan(restartedAt + 3000);
    expect(proposed()).toBeNull();
  });
});
