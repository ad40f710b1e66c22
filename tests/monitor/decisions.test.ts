import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { exportSpool } from '../../server/api/export/export-spool.ts';
import { liveView } from '../../server/api/live-view.ts';
import { SpoolSignals } from '../../server/api/spool-signals.ts';
import { DecisionService } from '../../server/monitor/spool/decision-service.ts';
import { SectionService } from '../../server/monitor/spool/section-service.ts';
import { strandOn, woundMm } from '../../server/monitor/spool/wound-spool.ts';
import { spoolParts } from './spool-parts.ts';
import { ClockAhead, type WatchedLine, watchLine } from './watched-line.ts';

const PATH_MM = 1200;
const MS_PER_MM = 25;
const KIM = { name: 'Kim', from: 'phone' };
const ADA = { name: 'Ada', from: null };
/** Two blobs: the first is on its way to the winder at 8 m. */
const BLOBS = [3300, 7000];

let line: WatchedLine;
let clock: ClockAhead;
const stops: (() => Promise<void>)[] = [];

function feed(fromMm: number, toMm: number): void {
  for (let mm = fromMm + 1; mm <= toMm; mm += 2) {
    const isBlob = BLOBS.some((at) => mm >= at && mm < at + 10);
    const d = (isBlob ? 2.2 : 1.75 + 0.004 * Math.sin(mm * 12.9898)).toFixed(3);
    // The winder stands while the 300 mm around the first blob are missing, then goes on; a turn takes 200 mm.
    const atWinderMm = mm - PATH_MM;
    const turnedMm = atWinderMm - Math.min(300, Math.max(0, atWinderMm - 3155));
    line.feed(`ms=${mm * MS_PER_MM} n=${mm} d=${d} v=40 len=${mm} turns=${Math.max(0, Math.floor(turnedMm / 200))}\n`);
  }
}

beforeEach(() => {
  clock = new ClockAhead();
  line = watchLine(
    { gaugeToWinderMm: PATH_MM, settleLengthMm: 50_000, stopAfterMin: 600 },
    { timing: 'live', resumable: true },
    clock,
  );
  line.monitor.setStage('purging', 'test');
  feed(-1, 1300);
  line.monitor.setStage('winding', 'test');
  feed(1300, 4300);
});
afterEach(async () => {
  for (const stop of stops.splice(0)) await stop();
  await line.remove();
});

function services() {
  const parts = spoolParts(line);
  stops.push(() => parts.analyst.stop());
  const { writer, reader } = line.store;
  const changed = (runId: number) => line.monitor.sectionsChanged(runId);
  const shared = { writer, clock: () => clock.nowMs(), changed };
  return {
    ...parts,
    decisions: new DecisionService({ ...shared, spools: parts.spools, alarms: line.monitor.alarms }),
    sections: new SectionService({ ...shared, reader, judge: parts.judge }),
  };
}
const live = () => liveView(line.monitor, 'boot', []);
const blobId = (near: number) =>
  live().sections.find((s) => s.kind === 'blob' && Math.abs(s.fromGaugeMm - near) < 20)!.id;
const blobAlarm = () => line.monitor.alarms.standing().find(({ type }) => type === 'blob');
const logged = () => line.store.reader.logEntries({ runId: 1, limit: 1 })[0]!;

describe('a blob that was cut out before the winder', () => {
  it('is gone from spool, plan and verdict; later strand moves inwards, and the joint is a mark', async () => {
    const { decisions } = services();
    const blob = live().sections.find(({ id }) => id === blobId(3300))!;
    const { section } = decisions.cutOut(1, blob.id, 300, KIM);
    expect(section).toMatchObject({ kind: 'joint', decision: 'cutOut', origin: 'user', verdict: 'good' });
    expect(logged()).toMatchObject({
      who: 'Kim',
      what: expect.stringMatching(/^Cut out 300 mm around the blob at 3\.20 m of spool 1/),
    });
    expect(live().sections.map(({ kind }) => kind)).toEqual(['joint']);
    expect(blobAlarm()).toMatchObject({ state: 'acknowledged', acknowledgedBy: 'Kim' });
    // It returns to normal a minute later, although that place has not passed the winder for a minute.
    feed(4300, 4300 + 61 * 40);
    expect(blobAlarm()).toBeUndefined();
    feed(4300 + 61 * 40, 8300);
    line.monitor.setStage('stopped', 'test');

    const { judge, spools } = services();
    const judged = await judge.judge(1);
    const { startGaugeMm, endGaugeMm } = line.store.reader.spools(1)[0]!;
    const wholeMm = endGaugeMm! - startGaugeMm;
    expect(woundMm(spools.wound(1))).toBeCloseTo(wholeMm - 300, 6);
    const totals = judged.totals;
    expect(totals.goodMm + totals.discardMm + totals.doubtfulMm + totals.unknownMm).toBeCloseTo(wholeMm - 300, 6);
    expect(judged.sections.map(({ kind }) => kind)).toEqual(['joint', 'blob']);
    // The second blob is 300 mm nearer to the inner end, for the plan too.
    const secondMm = 7000 - startGaugeMm - 300;
    const [coil] = judged.plan!.coils;
    expect(judged.verdict!.fitness).not.toBe('fit');
    expect(coil!.toMm).toBeLessThan(secondMm);
    expect(coil!.toMm).toBeGreaterThan(secondMm - 60);
    expect(judged.warnings.join()).toContain('joint');

    const woundSpool = spools.wound(1);
    const range = { ...strandOn(woundSpool), name: woundSpool.name, runId: 1, endGaugeMm: woundSpool.endGaugeMm };
    let csv = '';
    for await (const bytes of (await exportSpool(line.store.columns, range, 'csv')).bytes)
      csv += Buffer.from(bytes).toString();
    const rows = csv.trim().split('\n');
    expect(rows.length - 1).toBeCloseTo((wholeMm - 300) / 2, -1);
    const last = rows.at(-1)!.split(',');
    const at = rows[0]!.split(',').findIndex((name) => name.includes('position'));
    expect(Number(last[at])).toBeCloseTo(wholeMm - 300, 0);

    // The winder's turns are at the same places as its count says.
    const counter = (await new SpoolSignals(line.store.columns, woundSpool).counter('turns'))!;
    const firstTurn = counter.count[0]!;
    for (const [i, turns] of counter.count.entries()) {
      const turnedMm = ((turns ?? 0) - (firstTurn ?? 0)) * 200;
      expect(Math.abs(counter.positionMm[i]! - turnedMm)).toBeLessThan(220);
    }
  });

  it('makes a spool with one blob fit, and not fit again once it is undone', async () => {
    feed(4300, 5300);
    const { decisions, judge } = services();
    const whole = woundMm((await judge.judge(1)).woundSpool);
    const { section } = decisions.cutOut(1, blobId(3300), 120, KIM);
    const grams = live().spool!.woundG;
    expect((await judge.judge(1)).verdict!.fitness).toBe('fit');
    expect(live().spool!.woundMm).toBeCloseTo(whole - 120, 6);
    decisions.undo(1, section.id, 'Ada');
    expect(logged()).toMatchObject({ who: 'Ada', what: expect.stringContaining('120 mm is on the spool again') });
    expect(live().spool!.woundG).toBeGreaterThan(grams);
    const again = await judge.judge(1);
    expect(again.verdict!.fitness).not.toBe('fit');
    expect(woundMm(again.woundSpool)).toBeCloseTo(whole, 6);
    expect(() => decisions.undo(1, section.id, 'Kim')).toThrow('someone undid it on another page');
  });

  it('stays so after a restart and in an archive', async () => {
    const { decisions } = services();
    decisions.cutOut(1, blobId(3300), 300, KIM);
    const before = live();
    clock.aheadMs = 4300 * MS_PER_MM + 1000;
    await line.restart();
    expect(live().spool!.woundMm).toBe(before.spool!.woundMm);
    expect(live().sections).toMatchObject([{ kind: 'joint', decision: 'cutOut' }]);
    feed(4320, 5300);
    line.monitor.setStage('stopped', 'test');
    const file = join(line.folder, 'archive.sqlite');
    await line.store.maintenance.writeArchive(1, file);
    const runId = await line.store.maintenance.readArchive(file);
    const { spools } = services();
    const copy = spools.ofRun(spools.run(runId))[0]!;
    expect(copy.cutOuts).toEqual(spools.wound(1).cutOuts);
    expect(woundMm(copy)).toBe(woundMm(spools.wound(1)));
    expect(copy.stated).toMatchObject([{ decision: 'cutOut', who: 'Kim', removed: false }]);
  });

  it('is refused with a clear sentence where it is impossible', async () => {
    const { decisions, sections } = services();
    const blob = blobId(3300);
    expect(() => decisions.cutOut(1, blob, 0, KIM)).toThrow('0 mm cannot have been cut out');
    expect(() => decisions.cutOut(1, blob, 9000, KIM)).toThrow('starts less than 9000 mm before');
    expect(() => decisions.cutOut(1, 'm99', 100, KIM)).toThrow('has no section “m99”');
    const { section } = decisions.cutOut(1, blob, 300, KIM);
    expect(() => decisions.leave(1, blob, ADA)).toThrow('has no section');
    expect(() => decisions.cutOut(1, section.id, 100, ADA)).toThrow('cut out on another page');
    // A joint is no section to adjust, or to remove by itself.
    await expect(sections.remove(1, section.id, 'Ada')).rejects.toThrow('This is a joint');
    const stated = { fromSpoolMm: 1, toSpoolMm: 2, verdict: 'good', note: '' } as const;
    await expect(sections.adjust(1, section.id, stated, 'Ada')).rejects.toThrow('This is a joint');
    line.monitor.setStage('stopped', 'test');
    line.store.spoolStatements.correctLength(1, { measuredMm: 100, indicatedMm: 101, uncertaintyMm: 1 }, 0, 'Kim');
    expect(() => decisions.undo(1, section.id, 'Kim')).toThrow('corrected by tape');
  });

  it('takes strand that has passed the gauge only', () => {
    // The gauge is 15 mm past the second blob.
    feed(4300, 7025);
    const { decisions } = services();
    const { section } = decisions.cutOut(1, blobId(7000), 200, KIM);
    expect(section.toMm).toBeLessThanOrEqual(7025);
    expect(section.toMm - section.fromMm).toBeCloseTo(200, 6);
  });
});

describe('the alarm', () => {
  it('is answered by the decision about the last blob that it is about', () => {
    feed(4300, 7200);
    const { decisions } = services();
    expect(blobAlarm()).toMatchObject({ state: 'unacknowledged', occurrences: 2 });
    decisions.leave(1, blobId(7000), KIM);
    expect(blobAlarm()).toMatchObject({ state: 'unacknowledged' });
    decisions.leave(1, blobId(3300), ADA);
    expect(blobAlarm()).toMatchObject({ state: 'acknowledged', acknowledgedBy: 'Ada' });
    decisions.undo(1, blobId(3300), 'Ada');
    expect(blobAlarm()).toMatchObject({ state: 'acknowledged' });
  });
});

describe('a blob that was left on the spool', () => {
  it('stays in the cut list, marked as stated by a person, until that is undone', async () => {
    const { decisions, judge } = services();
    const blob = blobId(3300);
    const { section } = decisions.leave(1, blob, KIM);
    expect(section).toMatchObject({ id: blob, kind: 'blob', decision: 'left', origin: 'adjusted', verdict: 'discard' });
    expect(logged()).toMatchObject({ who: 'Kim', what: 'Left the blob at 3.20 m of spool 1 on the spool.' });
    expect(() => decisions.leave(1, blob, ADA)).toThrow('left on the spool, as stated on another page');
    feed(4300, 5300);
    const judged = await judge.judge(1);
    expect(judged.verdict!.fitness).not.toBe('fit');
    expect(judged.sections).toMatchObject([{ id: blob, decision: 'left' }]);
    decisions.undo(1, blob, 'Kim');
    expect(live().sections[0]).toMatchObject({ id: blob, decision: null, origin: 'measured' });
    expect(() => decisions.undo(1, blob, 'Kim')).toThrow('nothing to undo');
  });
});
