import { describe, expect, it } from 'vitest';
import type { Run } from '../../server/entities/run.ts';
import type { Spool } from '../../server/entities/spool.ts';
import type { RecordWriter } from '../../server/monitor/ports/record.ts';
import { type LinePosition, RunTracker } from '../../server/monitor/run/run-tracker.ts';

const PATH_MM = 1000;
const SOURCE = { startMs: 0, title: 'fed by hand', timeZone: 'UTC' };

/** A record in memory with a disk that can refuse to write. */
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
      const spool = spools.find((one) => one.id === id);
      if (spool === undefined) throw new Error(`There is no spool ${id}.`);
      const changed = { ...spool, ...more };
      spools[spools.indexOf(spool)] = changed;
      return changed;
    });
  const writer: Partial<RecordWriter> = {
    beginRun: (run) =>
      written(() => {
        const started: Run = {
          ...run,
          id: runs.length + 1,
          endedMs: null,
          note: '',
          title: '',
          isTest: false,
          lot: null,
        };
        runs.push(started);
        return started;
      }),
    beginSpool: (spool) =>
      written(() => {
        const number = spools.length + 1;
        const unused = { endedMs: null, endGaugeMm: null, note: '', title: '' };
        const started: Spool = { ...spool, ...unused, id: number, ordinal: number };
        spools.push(started);
        return started;
      }),
    endSpool: (id, endGaugeMm, endedMs) => void change(id, { endGaugeMm, endedMs }),
    moveSpoolStart: (id, startGaugeMm, startedMs) => change(id, { startGaugeMm, startedMs }),
  };
  const currentRun = () => {
    const [run] = runs;
    if (run === undefined) throw new Error('No run has started.');
    return run;
  };
  return { disk, spools, currentRun, writer: writer as RecordWriter };
}

const trackerOf = (writer: RecordWriter) => new RunTracker(writer, { stopAfterMin: 5, gaugeToWinderMm: PATH_MM }, 0);
const at = (gaugeMm: number): LinePosition => ({
  timeMs: gaugeMm * 50,
  gaugeMm,
  lostAtGaugeMm: null,
  windingStart: null,
});
const WINDING = { stage: 'winding', setByUser: false, sameStrand: false } as const;
const PURGING = { ...WINDING, stage: 'purging' } as const;
const turnsFrom = (gaugeMm: number) => ({ gaugeMm, timeMs: gaugeMm * 50, restarted: false });

describe('RunTracker', () => {
  it('retries to correct the start of a spool after the disk refused it', () => {
    const { disk, spools, writer } = record();
    const tracker = trackerOf(writer);
    tracker.followStage(WINDING, at(8000), SOURCE);
    disk.refuses = true;
    expect(() => tracker.useWindingStart(turnsFrom(6000))).toThrow('no space left');
    expect(tracker.spool).toMatchObject({ startGaugeMm: 7000 });
    disk.refuses = false;
    expect(tracker.useWindingStart(turnsFrom(6000))).toBe(
      "Moved the start of spool 1 to where the winder's turns started: 2.00 m earlier.",
    );
    expect(spools[0]).toMatchObject({ startGaugeMm: 5000 });
    expect(tracker.useWindingStart(turnsFrom(9000))).toBeNull();
  });

  it('knows after a restart between two spools which strand is on the first', () => {
    const { spools, writer, currentRun } = record();
    const before = trackerOf(writer);
    before.followStage(WINDING, at(8000), SOURCE);
    before.followStage(PURGING, at(20_000), SOURCE);
    expect(spools[0]).toMatchObject({ startGaugeMm: 7000, endGaugeMm: 19_000 });
    const after = trackerOf(writer);
    after.resume(currentRun(), spools);
    expect(after.spool).toBeNull();
    after.followStage(WINDING, { ...at(22_000), windingStart: turnsFrom(18_000) }, SOURCE);
    // Strand at 17 000 mm is on the first spool.
    expect(spools[1]).toMatchObject({ ordinal: 2, startGaugeMm: 21_000 });
  });

  it('continues the spool being wound after a restart', () => {
    const { spools, writer, currentRun } = record();
    const before = trackerOf(writer);
    before.followStage(WINDING, at(8000), SOURCE);
    before.changeSpool(at(20_000));
    const after = trackerOf(writer);
    after.resume(currentRun(), spools);
    expect(after.spool).toMatchObject({ ordinal: 2, startGaugeMm: 19_000, endGaugeMm: null });
    after.changeSpool(at(30_000));
    expect(spools.map(({ ordinal }) => ordinal)).toEqual([1, 2, 3]);
  });
});
