import { describe, expect, it } from 'vitest';
import type { Alarm } from '../../server/alarm/alarm.ts';
import { Problem } from '../../server/problem/problem.ts';
import { openStore, type Store } from '../../server/store/index.ts';
import type { MeasuredSection, StatedSection } from '../../server/strand/section.ts';
import { USUAL_LIMITS } from '../strand/usual-limits.ts';
import { beginRun, inNewRecord, withStore } from './readings.ts';

const alarm: Alarm = {
  id: 1,
  type: 'blob',
  subject: '',
  priority: 'high',
  state: 'unacknowledged',
  sentence: 'A blob of 1.98 mm passed at 12.3 m.',
  consequence: 'It jams.',
  firstCheck: 'Look at the filter.',
  caution: '',
  occurrences: 1,
  raisedMs: 1000.5,
  lastOccurredMs: 1000.5,
  returnedMs: null,
  ceasedMs: null,
  acknowledgedMs: null,
  acknowledgedBy: null,
  suppression: null,
  facts: { diameterMm: 1.98, spoolMm: 12_300 },
};
const measured: MeasuredSection = {
  ordinal: 1,
  kind: 'blob',
  fromMm: 12_290.25,
  toMm: 12_310.5,
  fromTimeMs: 1000.4,
  toTimeMs: 1000.9,
  peakMm: 1.98,
  peakAtMm: 12_300,
  volumeBeyondMm3: null,
  certainty: 'sure',
  verdict: 'discard',
  open: true,
};
const word: Omit<StatedSection, 'id'> = {
  measuredOrdinal: null,
  fromMm: 100,
  toMm: 200,
  verdict: 'doubtful',
  note: 'scratched “here”',
  removed: false,
  atTimeMs: 5000.25,
  about: null,
};

/** Writes, closes, opens again, and checks. */
async function overRestart(act: (store: Store) => void, look: (store: Store) => void): Promise<void> {
  await inNewRecord(async (folder) => {
    const before = openStore({ folder });
    act(before);
    await before.close();
    const after = openStore({ folder });
    look(after);
    await after.close();
  });
}

describe('the record', () => {
  it('keeps runs and spools with their ends and notes', async () => {
    await overRestart(
      (store) => {
        expect(store.reader.hasHadRuns()).toBe(false);
        const a = beginRun(store);
        store.writer.endRun(a, 1_750_000_100_000);
        store.writer.setRunNote(a, 'first light');
        const b = beginRun(store);
        const spool = store.writer.beginSpool({ runId: b, startGaugeMm: 5000.25, startedMs: 7 });
        store.writer.endSpool(spool.id, 340_000.5, 8);
        store.writer.setSpoolNote(spool.id, 'grey');
        store.writer.beginSpool({ runId: b, startGaugeMm: 340_000.5, startedMs: 9 });
      },
      ({ reader, writer }) => {
        expect(reader.runs().map((r) => [r.id, r.endedMs, r.note])).toStrictEqual([
          [2, null, ''],
          [1, 1_750_000_100_000, 'first light'],
        ]);
        expect(reader.spools(2).map((s) => [s.ordinal, s.startGaugeMm, s.endGaugeMm, s.endedMs, s.note])).toStrictEqual(
          [
            [1, 5000.25, 340_000.5, 8, 'grey'],
            [2, 340_000.5, null, null, ''],
          ],
        );
        const unfinished = writer.unfinishedRun()!;
        expect([unfinished.run.id, unfinished.spool!.ordinal, unfinished.last]).toStrictEqual([2, 2, null]);
        writer.endRun(2, 1_750_000_200_000);
        expect(writer.unfinishedRun()).toBeNull();
        expect(reader.run(3)).toBeNull();
      },
    );
  });

  it('keeps statements about a lot, of which the last counts, and the settings of a run', async () => {
    const set = {
      fromGaugeMm: 0,
      limits: USUAL_LIMITS,
      gaugeToWinderMm: 1200,
      densityGPerCm3: 1.24,
    };
    await overRestart(
      (store) => {
        const a = beginRun(store);
        const b = beginRun(store);
        store.writer.setLot(a, { name: 'grey', preparation: '', values: { dryingH: 4 } }, 5, 'Ada');
        store.writer.setLot(
          b,
          { name: 'green', preparation: '', values: { dryingH: 6, magnet: false, Shaker: 'on' } },
          6,
          'Ada',
        );
        store.writer.setLot(a, { name: 'grey supports', preparation: 'sieved', values: {} }, 7, 'Ada');
        store.writer.addRunSettings(a, set);
        store.writer.addRunSettings(a, { ...set, fromGaugeMm: 8000.5, gaugeToWinderMm: 900 });
      },
      ({ reader, writer }) => {
        expect(reader.runs().map(({ id, lot }) => [id, lot])).toStrictEqual([
          [2, { name: 'green', preparation: '', values: { dryingH: 6, magnet: false, Shaker: 'on' } }],
          [1, { name: 'grey supports', preparation: 'sieved', values: {} }],
        ]);
        expect(reader.runSettings(1)).toStrictEqual([set, { ...set, fromGaugeMm: 8000.5, gaugeToWinderMm: 900 }]);
        expect(reader.runSettings(2)).toStrictEqual([]);
        writer.setLot(1, null, 8, 'Ada');
        expect(reader.run(1)!.lot).toBeNull();
        expect(() => writer.setLot(99, null, 8, 'Ada')).toThrow(Problem);
        const grey = { name: 'grey', preparation: '', values: {} };
        const stated = [1, 99].map((runId) => ({ runId, lot: grey, what: 'Entered.' }));
        expect(() => writer.setLots(stated, 9, 'Ada')).toThrow(Problem);
        expect([reader.run(1)!.lot, reader.logEntries({ limit: 9 })]).toEqual([null, []]);
        writer.setLots(stated.slice(0, 1), 9, 'Ada');
        expect(reader.run(1)!.lot).toEqual(grey);
        expect(reader.logEntries({ limit: 9 })).toMatchObject([{ runId: 1, what: 'Entered.', who: 'Ada' }]);
      },
    );
  });

  it('replaces measured sections by ordinal and never touches what users stated', async () => {
    await overRestart(
      ({ writer }) => {
        const runId = beginRun({ writer } as Store);
        writer.saveMeasuredSections(runId, [measured]);
        writer.saveStatedSection(runId, { ...word, measuredOrdinal: 1, note: 'mine' }, null);
        writer.saveMeasuredSections(runId, [
          { ...measured, toMm: 12_400, open: false },
          { ...measured, ordinal: 2 },
        ]);
      },
      ({ reader }) => {
        expect(reader.measuredSections(1)).toStrictEqual([
          { ...measured, toMm: 12_400, open: false },
          { ...measured, ordinal: 2 },
        ]);
        expect(reader.statedSections(1).map((s) => s.note)).toStrictEqual(['mine']);
      },
    );
  });

  it('uses the later statement about the same stretch and keeps the earlier one', async () => {
    await withStore(async ({ writer, reader }) => {
      const runId = beginRun({ writer } as Store);
      const first = writer.saveStatedSection(runId, word, null);
      const other = writer.saveStatedSection(runId, { ...word, fromMm: 150 }, null);
      const second = writer.saveStatedSection(runId, { ...word, note: 'worse', verdict: 'discard' }, first.id);
      // Two users worked from the same page: the last statement is still about the same stretch.
      const third = writer.saveStatedSection(runId, { ...word, note: 'gone', removed: true }, first.id);
      const about = writer.saveStatedSection(runId, { ...word, measuredOrdinal: 4 }, null);
      const again = writer.saveStatedSection(runId, { ...word, measuredOrdinal: 4, verdict: 'good' }, null);
      expect(reader.statedSections(runId)).toStrictEqual([other, third, again]);
      expect(third).toStrictEqual({ ...word, note: 'gone', removed: true, id: third.id });
      expect(reader.statedSection(second.id)).toStrictEqual({ section: second, runId, replacedBy: third.id });
      expect(reader.statedSection(about.id)!.replacedBy).toBe(again.id);
      expect(reader.statedSection(again.id)!.replacedBy).toBeNull();
      expect(reader.statedSection(99)).toBeNull();
      expect(() => writer.saveStatedSection(runId, word, 99)).toThrow('no stated section 99');
    });
  });

  it('keeps which section of another printer a statement is about', async () => {
    const about = { kind: 'neck', fromMm: 98.5, toMm: 201.25 } as const;
    await overRestart(
      ({ writer }) => {
        const runId = beginRun({ writer } as Store);
        writer.saveStatedSection(runId, { ...word, about }, null);
        writer.saveStatedSection(runId, word, null);
      },
      ({ reader }) => expect(reader.statedSections(1).map((one) => one.about)).toStrictEqual([about, null]),
    );
  });

  it('keeps the places of cuts and named coils, and the choices for a spool, of which the last count', async () => {
    const place = {
      fromGaugeMm: 9000.5,
      toGaugeMm: 4000.25,
      knownToGaugeMm: 9000,
      lengthFactor: 1.002,
    };
    const cut = { action: 'keep', countedMm: 5000.25, landmarkCountedMm: null, reachedEnd: false } as const;
    const name = { coil: 1, name: 'Blue', place: { fromGaugeMm: 4000.25, toGaugeMm: 9000.5 } };
    const first = {
      printerId: 0,
      objective: 'mostLength',
      prints: [{ amount: 120.5, unit: 'grams' }],
      shortestMm: 2500.5,
      doubtful: 'keep',
      unknown: 'cut',
    } as const;
    const second = {
      printerId: 3,
      objective: 'fewestCuts',
      prints: [],
      shortestMm: null,
      doubtful: 'cut',
      unknown: 'keep',
    } as const;
    await overRestart(
      ({ writer, spoolStatements }) => {
        const runId = beginRun({ writer } as Store);
        for (const startGaugeMm of [9000, 18_000]) writer.beginSpool({ runId, startGaugeMm, startedMs: 7 });
        spoolStatements.addCuts(1, [{ ...cut, atMs: 5, who: 'Ada', place }], false);
        spoolStatements.addCuts(1, [{ ...cut, action: 'discard', atMs: 6, who: 'Ada', place }], false);
        expect(spoolStatements.takeBackLastCut(1, 7, 'Kim')).toMatchObject({ action: 'discard', place });
        spoolStatements.nameCoil(1, name, 8, 'Ada');
        spoolStatements.nameCoil(1, { ...name, name: '' }, 9, 'Kim');
        spoolStatements.choose(1, first, 10, 'Ada');
        spoolStatements.choose(2, first, 11, 'Ada');
        spoolStatements.choose(1, second, 12, 'Kim');
      },
      ({ spoolStatements }) => {
        expect(spoolStatements.cuts(1)).toStrictEqual([{ ...cut, id: 1, atMs: 5, who: 'Ada', place }]);
        expect(spoolStatements.coilNames(1)).toStrictEqual([
          { ...name, id: 1 },
          { ...name, id: 2, name: '' },
        ]);
        expect([1, 2, 3].map((id) => spoolStatements.choices(id))).toStrictEqual([second, first, null]);
        expect([spoolStatements.cuts(2), spoolStatements.coilNames(2)]).toStrictEqual([[], []]);
      },
    );
  });

  it('keeps every step of an alarm, and lists the current ones', async () => {
    await overRestart(
      ({ writer }) => {
        const runId = beginRun({ writer } as Store);
        const acknowledged: Alarm = { ...alarm, state: 'acknowledged', acknowledgedMs: 2000, acknowledgedBy: 'phone' };
        writer.saveAlarmChanges(runId, [
          { alarm, step: 'raised', timeMs: 1000.5, by: null, from: '192.168.1.20', reason: 'seen' },
        ]);
        writer.saveAlarmChanges(runId, [
          {
            alarm: acknowledged,
            step: 'acknowledged',
            timeMs: 2000,
            by: 'phone',
            from: '192.168.1.20',
            reason: 'seen',
          },
          {
            alarm: { ...alarm, id: 2, state: 'normal' },
            step: 'returned',
            timeMs: 1500,
            by: null,
            from: '192.168.1.20',
            reason: 'seen',
          },
        ]);
        writer.saveAlarmChanges(null, [
          {
            alarm: { ...alarm, id: 7, state: 'normal' },
            step: 'raised',
            timeMs: 1,
            by: null,
            from: '192.168.1.20',
            reason: 'seen',
          },
        ]);
      },
      ({ writer, reader }) => {
        expect(writer.lastAlarmId()).toBe(7);
        expect(writer.standingAlarms().map((a) => [a.id, a.state, a.facts.diameterMm])).toStrictEqual([
          [1, 'acknowledged', 1.98],
        ]);
        expect(reader.alarmJournal(1).map((e) => [e.timeMs, e.step, e.by, e.alarm.id, e.alarm.state])).toStrictEqual([
          [1000.5, 'raised', null, 1, 'unacknowledged'],
          [1500, 'returned', null, 2, 'normal'],
          [2000, 'acknowledged', 'phone', 1, 'acknowledged'],
        ]);
        expect(reader.alarmJournal(1).at(-1)).toMatchObject({ from: '192.168.1.20', reason: 'seen' });
        expect(reader.alarmJournal(null).length).toBe(1);
      },
    );
  });

  it('numbers alarms from 1 and has none to notify if all were imported', async () => {
    await withStore(async ({ writer, people }) => {
      const raised = { step: 'raised', timeMs: 1, by: null, from: null, reason: '' } as const;
      writer.saveAlarmChanges(null, [
        { ...raised, alarm: { ...alarm, id: -1 } },
        { ...raised, alarm: { ...alarm, id: -2 } },
      ]);
      expect(writer.lastAlarmId()).toBe(0);
      expect(people.unprocessed()).toEqual([]);
      writer.saveAlarmChanges(null, [{ ...raised, alarm }]);
      expect(writer.lastAlarmId()).toBe(1);
      expect(people.unprocessed().map((change) => change.alarm.id)).toEqual([1]);
    });
  });

  it('keeps the models of the zones by source until they are deleted', async () => {
    const model = {
      rateKPerS: 0.8,
      lossPerS: 0.002,
      exchangePerS: 0.0005,
      warmthKPerS: 0.001,
      deadTimeS: 6,
      lagS: 10,
      secondLagS: 3,
      delayOffS: 3,
      neighboursK: -12,
      fitK: 0.2,
      heatUps: 3,
    };
    await overRestart(
      ({ writer }) => {
        expect(writer.loadZoneModels('bench').size).toBe(0);
        writer.saveZoneModels('bench', new Map([[1, { ...model, heatUps: 2 }]]), 1);
        writer.saveZoneModels('bench', new Map([[1, model]]), 2);
        writer.saveZoneModels('other', new Map([[2, model]]), 3);
        writer.saveZoneModels('gone', new Map([[2, model]]), 4);
        writer.saveZoneModels('gone', new Map(), 5);
      },
      ({ writer }) => {
        expect([...writer.loadZoneModels('bench')]).toStrictEqual([[1, model]]);
        expect([...writer.loadZoneModels('other').keys()]).toStrictEqual([2]);
        expect(writer.loadZoneModels('gone').size).toBe(0);
      },
    );
  });

  it('keeps the log, newest first, and the settings of the line as last saved', async () => {
    await overRestart(
      ({ writer }) => {
        expect(writer.loadLineSettings()).toStrictEqual({ settings: null, olderMs: null });
        const runId = beginRun({ writer } as Store);
        for (let i = 0; i < 5; i++)
          writer.log({ timeMs: i, runId: i % 2 ? runId : null, who: 'phone', what: `did ${i}` });
        writer.saveLineSettings({ nominalMm: 1.75 });
        writer.saveLineSettings({ nominalMm: 2.85, names: ['é'] });
      },
      ({ writer, reader }) => {
        const logged = (filter: { runId?: number | null; limit: number }) =>
          reader.logEntries(filter).map((e) => e.what);
        expect(logged({ limit: 3 })).toStrictEqual(['did 4', 'did 3', 'did 2']);
        expect(logged({ runId: 1, limit: 10 })).toStrictEqual(['did 3', 'did 1']);
        expect(logged({ runId: null, limit: 10 })).toStrictEqual(['did 4', 'did 2', 'did 0']);
        expect(writer.loadLineSettings()).toStrictEqual({ settings: { nominalMm: 2.85, names: ['é'] }, olderMs: null });
      },
    );
  });

  it('refuses an unknown run or spool', async () => {
    await withStore(async ({ writer }) => {
      expect(() => writer.endRun(9, 1)).toThrow('There is no run 9.');
      expect(() => writer.setRunNote(9, '')).toThrow('There is no run 9.');
      expect(() => writer.endSpool(9, 1, 1)).toThrow('There is no spool 9.');
      expect(() => writer.saveMeasuredSections(9, [measured])).toThrow('There is no run 9.');
      expect(() => writer.saveStatedSection(9, word, null)).toThrow('There is no run 9.');
      expect(() => writer.log({ timeMs: 1, runId: 9, who: '', what: '' })).toThrow('There is no run 9.');
      expect(() => writer.beginSpool({ runId: 9, startGaugeMm: 0, startedMs: 0 })).toThrow('There is no run 9.');
    });
  });

  it('gives no number of a spool twice, and keeps nothing of a spool that it refuses', async () => {
    await withStore(async ({ writer, reader }) => {
      const runId = beginRun({ writer } as Store);
      const begin = () => writer.beginSpool({ runId, startGaugeMm: 0, startedMs: 0 });
      const first = begin();
      writer.endSpool(first.id, 1, 1);
      writer.endRun(runId, 1);
      writer.bin('spool', first.id, 2, 'Ada');
      expect(begin().ordinal).toBe(2);
      writer.bin('run', runId, 3, 'Ada');
      expect(begin).toThrow('There is no spool');
      writer.restore('run', runId);
      expect(reader.spools(runId).map(({ ordinal }) => ordinal)).toEqual([2]);
      expect(begin().ordinal).toBe(3);
    });
  });
});
