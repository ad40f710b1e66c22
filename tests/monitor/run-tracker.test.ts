import { describe, expect, it } from 'vitest';
import type { Run } from '../../server/entities/run.ts';
import type { Spool } from '../../server/entities/spool.ts';
import type { RecordWriter } from '../../server/monitor/ports/record.ts';
import { type LinePosition, RunTracker } from '../../server/monitor/run/run-tracker.ts';

const PATH_MM = 1000;
const SOURCE = { startMs: 0, title: 'fed by hand', timeZone: 'UTC' };

/** A record in memory with a disk that can refuse to write. */
function record() {
  /** A spool that has been cut, named or used cannot be continued. */
  const disk = { refuses: false, isUsed: false };
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
    endRun: (id, endedMs) =>
      written(() => {
        runs[id - 1] = { ...runs[id - 1]!, endedMs };
      }),
    moveSpoolStart: (id, startGaugeMm, startedMs) => change(id, { startGaugeMm, startedMs }),
    moveSpoolChange: (beforeId, id, atGaugeMm, atMs) => {
      change(beforeId, { endGaugeMm: atGaugeMm, endedMs: atMs });
      return change(id, { startGaugeMm: atGaugeMm, startedMs: atMs });
    },
    splitSpool: (id, atGaugeMm, atMs) => {
      const { endGaugeMm, endedMs } = spools.find((one) => one.id === id)!;
      change(id, { endGaugeMm: atGaugeMm, endedMs: atMs });
      const next = writer.beginSpool!({ runId: 1, startGaugeMm: atGaugeMm, startedMs: atMs });
      return change(next.id, { endGaugeMm, endedMs });
    },
    reopenSpool: (id) => (disk.isUsed ? null : change(id, { endGaugeMm: null, endedMs: null })),
  };
  const currentRun = () => {
    const [run] = runs;
    if (run === undefined) throw new Error('No run has started.');
    return run;
  };
  return { disk, runs, spools, currentRun, writer: writer as RecordWriter };
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
const STOPPED = { ...WINDING, stage: 'stopped' } as const;
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

describe('a run', () => {
  it('starts when the line leaves “stopped”, and ends five minutes after it stopped for good', () => {
    const { runs, writer } = record();
    const tracker = trackerOf(writer);
    const follow = (stage: Parameters<RunTracker['followStage']>[0], minutes: number) =>
      tracker.followStage(stage, { ...at(0), timeMs: minutes * 60_000 }, { ...SOURCE, startMs: 7 });
    expect([follow(STOPPED, 0), tracker.isDue('stopped'), tracker.isDue('purging')]).toEqual([[], false, true]);
    expect(follow(PURGING, 1)).toEqual(['The run started.']);
    expect(runs).toMatchObject([{ startedMs: 7, timeZone: 'UTC', sourceTitle: 'fed by hand', endedMs: null }]);
    expect([tracker.isDue('stopped'), tracker.isDue('purging'), tracker.isDue('winding')]).toEqual([true, false, true]);
    expect([follow(STOPPED, 2), follow(STOPPED, 6.9), follow(PURGING, 7), follow(STOPPED, 8)]).toEqual([
      [],
      [],
      [],
      [],
    ]);
    expect([follow(STOPPED, 12.9), follow(STOPPED, 13)]).toEqual([[], ['The run ended.']]);
    expect(runs).toMatchObject([{ endedMs: 13 * 60_000 }]);
    expect([tracker.run, tracker.isDue('stopped'), follow(STOPPED, 30)]).toEqual([null, false, []]);
    // The next one waits for five minutes of its own.
    expect([follow(PURGING, 31), follow(STOPPED, 32), follow(STOPPED, 36)]).toEqual([['The run started.'], [], []]);
  });

  it('ends as soon as the stop that a user set can no longer be undone', () => {
    const { writer } = record();
    const tracker = new RunTracker(writer, { stopAfterMin: 5, gaugeToWinderMm: PATH_MM }, 10_000);
    tracker.followStage(PURGING, at(0), SOURCE);
    const stop = (timeMs: number) => tracker.followStage({ ...STOPPED, setByUser: true }, { ...at(0), timeMs }, SOURCE);
    expect([stop(1000), stop(10_999), stop(11_000)]).toEqual([[], [], ['The run ended.']]);
  });

  it('ends with the spool on the winder when a user ends it', () => {
    const { spools, writer } = record();
    const tracker = trackerOf(writer);
    expect(tracker.endRun(at(1))).toBeNull();
    tracker.followStage(WINDING, at(8000), SOURCE);
    expect(tracker.endRun(at(9000))).toBe('The run ended.');
    expect([spools[0]!.endGaugeMm, tracker.spool, tracker.endRun(at(9000))]).toEqual([8000, null, null]);
    // A spool of the next one may start anywhere, and nothing of the last one continues.
    tracker.followStage({ ...WINDING, sameStrand: true }, { ...at(3000), windingStart: turnsFrom(2000) }, SOURCE);
    expect(spools).toMatchObject([{}, { startGaugeMm: 1000, startedMs: 100_000 }]);
  });

  it('is closed at its last reading if it cannot be resumed, and with it the spool', () => {
    const { runs, spools, writer } = record();
    trackerOf(writer).followStage(WINDING, at(8000), { ...SOURCE, startMs: 5 });
    const close = (last: Parameters<RunTracker['closeUnfinished']>[2], spool = true) =>
      trackerOf(writer).closeUnfinished(runs[0]!, spool ? { ...spools[0]!, startedMs: 9 } : null, last);
    close({ timeMs: 77, gaugeMm: 12_000, values: {} });
    expect([runs[0]!.endedMs, spools[0]!.endGaugeMm, spools[0]!.endedMs]).toEqual([77, 11_000, 77]);
    // Nothing was read, so it has no length.
    close(null);
    expect([runs[0]!.endedMs, spools[0]!.endGaugeMm, spools[0]!.endedMs]).toEqual([5, 7000, 9]);
    close({ timeMs: 88, gaugeMm: 12_000, values: {} }, false);
    expect([runs[0]!.endedMs, spools[0]!.endedMs]).toEqual([88, 9]);
  });
});

describe('a spool', () => {
  /** Winding since 8 m, with 1 m between gauge and winder. */
  const wound = (more: Partial<LinePosition> = {}) => {
    const all = record();
    const tracker = trackerOf(all.writer);
    tracker.followStage(WINDING, { ...at(8000), ...more }, SOURCE);
    return {
      ...all,
      tracker,
      follow: (stage: typeof WINDING | typeof PURGING, gaugeMm: number) =>
        tracker.followStage(stage, at(gaugeMm), SOURCE),
    };
  };
  const restart = (gaugeMm: number) => ({ ...turnsFrom(gaugeMm), restarted: true });

  it('starts and ends with the strand at the winder, or where it was lost', () => {
    const { tracker, spools, follow } = wound();
    expect([tracker.isDue('winding'), tracker.isDue('purging')]).toEqual([false, true]);
    expect(follow(PURGING, 20_000)).toEqual(['Spool 1 ended at 12.00 m.']);
    expect(follow(WINDING, 30_000)).toEqual(['Spool 2 started.']);
    tracker.followStage(PURGING, { ...at(40_000), lostAtGaugeMm: 39_500 }, SOURCE);
    expect(spools).toMatchObject([
      { startGaugeMm: 7000, startedMs: 400_000, endGaugeMm: 19_000, endedMs: 1_000_000 },
      { startGaugeMm: 29_000, endGaugeMm: 39_500 },
    ]);
    // It is never shorter than nothing.
    follow(WINDING, 50_000);
    tracker.followStage(PURGING, { ...at(50_000), lostAtGaugeMm: 48_000 }, SOURCE);
    expect(spools[2]).toMatchObject({ startGaugeMm: 49_000, endGaugeMm: 49_000 });
  });

  it('keeps the path from gauge to winder with which it started', () => {
    const { tracker, spools, follow } = wound();
    tracker.setOptions({ stopAfterMin: 5, gaugeToWinderMm: 3000 });
    expect(tracker.gaugeToWinderMm).toBe(PATH_MM);
    follow(PURGING, 20_000);
    expect([spools[0]!.endGaugeMm, tracker.gaugeToWinderMm]).toEqual([19_000, 3000]);
  });

  it('starts where the winder’s turns do, if they show it at once', () => {
    const { tracker, spools } = wound({ windingStart: turnsFrom(6000) });
    expect(spools).toMatchObject([{ startGaugeMm: 5000, startedMs: 300_000 }]);
    expect(tracker.useWindingStart(turnsFrom(9000))).toBeNull();
    expect(spools[0]!.startGaugeMm).toBe(5000);
  });

  it('is moved once to where the winder’s turns started, if they show it later', () => {
    const { tracker, spools } = wound();
    expect(tracker.useWindingStart(turnsFrom(8500))).toBe(
      "Moved the start of spool 1 to where the winder's turns started: 0.50 m later.",
    );
    expect([spools[0]!.startGaugeMm, tracker.spool?.startGaugeMm]).toEqual([7500, 7500]);
    expect(tracker.useWindingStart(turnsFrom(9000))).toBeNull();
    // Turns that cannot be recognised, or strand that is on the one before, change nothing for good.
    for (const start of [null, turnsFrom(18_000)]) {
      const { tracker: next, spools: all, follow } = wound();
      follow(PURGING, 20_000);
      follow(WINDING, 30_000);
      expect([next.useWindingStart(start), next.useWindingStart(turnsFrom(31_000))]).toEqual([null, null]);
      expect(all[1]!.startGaugeMm).toBe(29_000);
    }
  });

  it('was probably changed if the turns start again at 0 after a metre, which a user then answers', () => {
    const { tracker, spools, follow } = wound({ windingStart: turnsFrom(8000) });
    expect(tracker.useWindingStart(turnsFrom(20_000))).toBeNull();
    expect(tracker.useWindingStart(restart(8999))).toBeNull();
    expect(tracker.proposedChange).toBeNull();
    expect(tracker.useWindingStart(restart(9000))).toBe("The winder's turns started again at 0 at 1.00 m of spool 1.");
    expect(tracker.proposedChange).toMatchObject({ spool: { id: 1 }, atGaugeMm: 8000 });
    tracker.dismissProposedChange();
    expect(tracker.proposedChange).toBeNull();
    tracker.useWindingStart(restart(12_000));
    expect(tracker.splitSpool(spools[0]!, 11_000, 77)).toMatchObject({ ordinal: 2, startGaugeMm: 11_000 });
    expect([tracker.proposedChange, tracker.spool?.ordinal]).toEqual([null, 2]);
    tracker.useWindingStart(restart(15_000));
    follow(PURGING, 20_000);
    expect([tracker.proposedChange, spools[1]!.endGaugeMm]).toEqual([null, 19_000]);
    expect(tracker.useWindingStart(restart(30_000))).toBeNull();
  });

  it('continues with the same strand, unless it has been cut, named or used since', () => {
    const { tracker, spools, disk, follow } = wound();
    expect(tracker.continueSpool()).toBeNull();
    follow(PURGING, 20_000);
    expect(tracker.endedSpool).toMatchObject({ ordinal: 1, endGaugeMm: 19_000, endedMs: 1_000_000 });
    expect(tracker.followStage({ ...WINDING, sameStrand: true }, at(21_000), SOURCE)).toEqual(['Spool 1 continues.']);
    expect([spools.length, tracker.spool?.endGaugeMm, tracker.endedSpool]).toEqual([1, null, null]);
    follow(PURGING, 30_000);
    disk.isUsed = true;
    expect(tracker.followStage({ ...WINDING, sameStrand: true }, at(31_000), SOURCE)).toEqual(['Spool 2 started.']);
    // Without a sign of the same strand it is another one.
    disk.isUsed = false;
    follow(PURGING, 40_000);
    expect(follow(WINDING, 41_000)).toEqual(['Spool 3 started.']);
  });

  it('that was changed during winding does not continue', () => {
    const { tracker, spools } = wound();
    expect(tracker.changeSpool(at(20_000))).toEqual(['Spool 1 ended at 12.00 m.', 'Spool 2 started.']);
    expect([tracker.endedSpool, tracker.continueSpool(), spools.length]).toEqual([null, null, 2]);
    const none = trackerOf(record().writer);
    expect(none.changeSpool(at(20_000))).toBeNull();
    none.followStage(PURGING, at(20_000), SOURCE);
    expect(none.changeSpool(at(20_000))).toBeNull();
  });

  it('starts where a user says, whatever the turns show later', () => {
    const { tracker, spools } = wound();
    expect(tracker.moveSpoolStart(spools[0]!, null, 6500, 11)).toMatchObject({ startGaugeMm: 6500, startedMs: 11 });
    expect([tracker.spool?.startGaugeMm, tracker.useWindingStart(turnsFrom(6000))]).toEqual([6500, null]);
    // One that was changed ends where the next one starts, and strand before that is on it.
    tracker.changeSpool(at(20_000));
    tracker.moveSpoolStart(spools[1]!, spools[0]!, 15_000, 22);
    expect(spools).toMatchObject([{ endGaugeMm: 15_000 }, { startGaugeMm: 15_000, startedMs: 22 }]);
  });

  it('that has ended is moved and divided, too', () => {
    const { tracker, spools, follow } = wound();
    follow(PURGING, 20_000);
    tracker.moveSpoolStart(spools[0]!, null, 6000, 11);
    expect(tracker.endedSpool).toMatchObject({ startGaugeMm: 6000 });
    tracker.splitSpool(spools[0]!, 12_000, 33);
    expect(tracker.endedSpool).toMatchObject({ ordinal: 2, startGaugeMm: 12_000, endGaugeMm: 19_000 });
    expect(tracker.continueSpool()).toBe('Spool 2 continues.');
    // The one before it no longer continues.
    tracker.splitSpool(spools[0]!, 8000, 44);
    expect(tracker.endedSpool).toBeNull();
  });

  it('takes over what was saved for it, and nothing of another', () => {
    const { tracker, runs, spools } = wound();
    tracker.refresh({ ...runs[0]!, note: 'grey' }, { ...spools[0]!, note: 'dusty' });
    expect([tracker.run?.note, tracker.spool?.note]).toEqual(['grey', 'dusty']);
    tracker.refresh({ ...runs[0]!, id: 9 }, { ...spools[0]!, id: 9 });
    expect([tracker.run?.id, tracker.spool?.id]).toEqual([1, 1]);
    tracker.refresh(null, null);
    expect([tracker.run?.id, tracker.spool?.id]).toEqual([1, 1]);
  });

  it('that ended last in the run continues after a restart of the service', () => {
    const { spools, writer, currentRun, follow } = wound();
    follow(PURGING, 20_000);
    const resumed = trackerOf(writer);
    resumed.resume(currentRun(), spools);
    expect(resumed.endedSpool).toMatchObject({ ordinal: 1 });
    expect(resumed.continueSpool()).toBe('Spool 1 continues.');
    const winding = trackerOf(writer);
    winding.resume(currentRun(), spools);
    expect([winding.spool?.ordinal, winding.endedSpool]).toEqual([1, null]);
    expect(winding.useWindingStart(turnsFrom(5000))).toBeNull();
    const empty = trackerOf(writer);
    empty.resume(currentRun(), []);
    expect([empty.spool, empty.endedSpool]).toEqual([null, null]);
  });
});
