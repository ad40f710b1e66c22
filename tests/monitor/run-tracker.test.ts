import { describe, expect, it } from 'vitest';
import type { Run } from '../../server/entities/run.ts';
import type { Spool } from '../../server/entities/spool.ts';
import type { RecordWriter } from '../../server/monitor/ports/record.ts';
import { RunTracker, type Whereabouts } from '../../server/monitor/run-tracker.ts';

const PATH_MM = 1000;
const SOURCE = { title: 'fed by hand', timeZone: 'UTC' };

/** A record in memory whose disk may refuse. */
function record() {
  const disk = { refuses: false };
  const runs: Run[] = [];
  const spools: Spool[] = [];
  const written = <T>(write: () => T): T => {
    if (disk.refuses) throw new Error('no space left on the disk');
    return write();
  };
  const change = (id: number, more: Partial<Spool>) =>
    written(() => {
      const spool = { ...spools[id - 1]!, ...more };
      spools[id - 1] = spool;
      return spool;
    });
  const writer: Partial<RecordWriter> = {
    beginRun: (run) =>
      written(() => {
        const begun = { ...run, id: runs.length + 1, endedMs: null, note: '', lot: null } as Run;
        runs.push(begun);
        return begun;
      }),
    beginSpool: (spool) =>
      written(() => {
        const begun: Spool = { ...spool, id: spools.length + 1, endedMs: null, endGaugeMm: null, note: '' };
        spools.push(begun);
        return begun;
      }),
    endSpool: (id, endGaugeMm, endedMs) => void change(id, { endGaugeMm, endedMs }),
    moveSpoolStart: (id, startGaugeMm, startedMs) => change(id, { startGaugeMm, startedMs }),
  };
  return { disk, runs, spools, writer: writer as RecordWriter };
}

const bookOf = (writer: RecordWriter) => new RunTracker(writer, { stopAfterMin: 5, gaugeToWinderMm: PATH_MM });
const at = (gaugeMm: number): Whereabouts => ({
  timeMs: gaugeMm * 50,
  gaugeMm,
  lostAtGaugeMm: null,
  windingBegan: null,
});
const turnsFrom = (gaugeMm: number) => ({ gaugeMm, timeMs: gaugeMm * 50 });

describe('runs and spools', () => {
  it('ask again for the beginning of a spool that the disk refused to put right', () => {
    const { disk, spools, writer } = record();
    const tracker = bookOf(writer);
    tracker.stageIs('winding', false, at(8000), SOURCE);
    disk.refuses = true;
    expect(() => tracker.winds(turnsFrom(6000))).toThrow('no space left');
    expect(tracker.spool).toMatchObject({ startGaugeMm: 7000 });
    disk.refuses = false;
    expect(tracker.winds(turnsFrom(6000))).toBe("By the winder's turns spool 1 began 2.00 m earlier.");
    expect(spools[0]).toMatchObject({ startGaugeMm: 5000 });
    expect(tracker.winds(turnsFrom(9000))).toBeNull();
  });

  it('know after a restart between two spools what lies on the first', () => {
    const { runs, spools, writer } = record();
    const before = bookOf(writer);
    before.stageIs('winding', false, at(8000), SOURCE);
    before.stageIs('purging', false, at(20_000), SOURCE);
    expect(spools[0]).toMatchObject({ startGaugeMm: 7000, endGaugeMm: 19_000 });
    const after = bookOf(writer);
    after.resume(runs[0]!, spools);
    expect(after.spool).toBeNull();
    after.stageIs('winding', false, { ...at(22_000), windingBegan: turnsFrom(18_000) }, SOURCE);
    // Strand at 17 000 mm is on the first spool.
    expect(spools[1]).toMatchObject({ ordinal: 2, startGaugeMm: 21_000 });
  });

  it('go on after a restart with the spool that was being wound', () => {
    const { runs, spools, writer } = record();
    const before = bookOf(writer);
    before.stageIs('winding', false, at(8000), SOURCE);
    before.changeSpool(at(20_000));
    const after = bookOf(writer);
    after.resume(runs[0]!, spools);
    expect(after.spool).toMatchObject({ ordinal: 2, startGaugeMm: 19_000, endGaugeMm: null });
    after.changeSpool(at(30_000));
    expect(spools.map(({ ordinal }) => ordinal)).toEqual([1, 2, 3]);
  });
});
