/** A run that was dated by a wrong clock is moved as a whole, and back. */
import { dirname, join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { afterEach, describe, expect, it } from 'vitest';
import { AlarmEngine } from '../../server/alarm/alarm-engine.ts';
import type { MovedTimes } from '../../server/alarm/moved-alarm-times.ts';
import { ARCHIVE_TYPE } from '../../server/api/contract/record.ts';
import type { RunDetail } from '../../server/api/contract/runs-and-spools.ts';
import { exportJournal } from '../../server/api/export/export-journal.ts';
import { exportRun } from '../../server/api/export/export-run.ts';
import { exportSpool } from '../../server/api/export/export-spool.ts';
import type { LogEntry } from '../../server/monitor/ports/record.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { openStore, type Store } from '../../server/store/index.ts';
import { type TestService, woundFromLines } from '../api/test-service.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { beginRun, inNewRecord, layoutOf, readingOf, withStore } from '../store/readings.ts';

const DAY_MS = 86_400_000;
const CHANGED_ON_PURPOSE = new Set(['moved_by_s', 'moved_rows', 'date_settled']);

let service: TestService | null = null;
afterEach(() => service?.stop());

/** @returns what the last step returned */
function finishMove({ writer }: Store, runId: number): MovedTimes {
  for (;;) {
    const moved = writer.moveAlarms(runId);
    if (moved !== null) return moved;
  }
}

/** Every time in an answer, moved: as a number in UTC ms or as text. */
function movedBy(byMs: number, answer: unknown): unknown {
  const text = JSON.stringify(answer)
    .replace(/(?<=[:[,])1[67]\d{11}(\.\d+)?(?=[,\]}])/g, (ms) => String(Number(ms) + byMs))
    .replace(/(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3})(?=\d*Z)/g, (iso) =>
      new Date(Date.parse(`${iso}Z`) + byMs).toISOString().slice(0, -1),
    );
  return JSON.parse(text);
}

describe('a run that a wrong clock dated', () => {
  it('is the same after its date is corrected, but for the date, and exactly as before when moved back', async () => {
    const lines = Array.from({ length: 900 }, (_, i) => {
      const d = i > 600 && i < 630 ? 2.1 : 1.75 + (i % 7) / 1000;
      return `ms=${i * 20} len=${(i * 0.7).toFixed(1)} v=35 t1=${200 + (i % 3)} s1=200 d=${d.toFixed(3)}`;
    });
    const own = await woundFromLines(lines);
    service = own;
    const { spools, run } = await own.get<RunDetail>('/api/runs/1');
    const spool = spools[0]!.id;
    await own.send('PUT', '/api/runs/1/lot', { name: 'Lot 7', preparation: 'dried' });
    await own.send('POST', `/api/spools/${spool}/sections`, { fromSpoolMm: 10, toSpoolMm: 30, verdict: 'doubtful' });
    const span = `axis=time&columns=50&signals=d,t1&spread=true`;
    const seen = async (id: number, startMs: number) => ({
      detail: { ...(await own.get<RunDetail>(`/api/runs/${id}`)), log: [], dates: null },
      log: (await own.get<RunDetail>(`/api/runs/${id}`)).log,
      runs: (await own.get<{ id: number }[]>('/api/runs')).filter((one) => one.id === id),
      window: await own.get(`/api/runs/${id}/window?from=${startMs}&to=${startMs + 30_000}&${span}`),
      journal: await own.get(`/api/runs/${id}/alarm-journal?format=json`),
      csv: Buffer.from((await own.bytes(`/api/runs/${id}/export?format=csv`)).bytes).toString(),
      judgement: await own.get(`/api/spools/${spool}/judgement`),
      plan: await own.get(`/api/spools/${spool}/cut-plan`),
    });
    const rows = () => {
      const db = new Sqlite(join(dirname(own.store.maintenance.scratchPath()), DATABASE_FILE), { readonly: true });
      const names = db.prepare<[], string>("SELECT name FROM sqlite_schema WHERE type = 'table'").pluck().all();
      const content = names
        .filter((name) => !/^(sqlite|row_group|operator_log)/.test(name))
        .map((name) => [name, db.prepare<[], Record<string, unknown>>(`SELECT * FROM ${name}`).all()] as const)
        .map(([name, all]) => [
          name,
          all.map((row) =>
            Object.fromEntries(Object.entries(row).filter(([column]) => !CHANGED_ON_PURPOSE.has(column))),
          ),
        ]);
      db.close();
      return content;
    };
    const date = (use: string) => own.send('PUT', '/api/runs/1/date', { use }, { 'x-person': 'Ada' });

    expect((await own.get<RunDetail>('/api/runs/1')).dates).toStrictEqual({
      correctedStartMs: null,
      originalStartMs: null,
      isKept: false,
    });
    expect((await date('corrected')).status).toBe(409);
    own.store.writer.setClockAhead(1, DAY_MS);
    const before = await seen(1, run.startedMs);
    const stored = rows();
    expect(before.detail.sections.map(({ kind }) => kind)).toContain('blob');
    expect(before.detail.alarms.length).toBeGreaterThan(0);
    expect(before.csv.split('\n').length).toBeGreaterThan(900);

    const moved = { correctedStartMs: null, originalStartMs: run.startedMs, isKept: false };
    expect(await date('corrected')).toStrictEqual({ status: 200, body: moved });
    const after = await seen(1, run.startedMs + DAY_MS);
    const { log: logBefore, ...same } = before;
    const { log: logAfter, ...sameAfter } = after;
    expect(sameAfter).toStrictEqual(movedBy(DAY_MS, same));
    expect(logAfter.slice(1)).toStrictEqual(movedBy(DAY_MS, logBefore));
    expect(logAfter[0]).toMatchObject({ what: expect.stringMatching(/^Moved run 1 from .+ to .+, with its spools/) });
    expect((await date('corrected')).status).toBe(409);

    expect((await date('original')).body).toStrictEqual({
      correctedStartMs: run.startedMs + DAY_MS,
      originalStartMs: null,
      isKept: true,
    });
    const { log: logBack, ...sameBack } = await seen(1, run.startedMs);
    expect(sameBack).toStrictEqual(same);
    expect(logBack.slice(2)).toStrictEqual(logBefore);
    expect(rows()).toStrictEqual(stored);

    await date('corrected');
    // Another installation gets it with the corrected date.
    const archive = await own.bytes('/api/runs/1/archive');
    const imported = await fetch(`${own.address}/api/runs/import?again=true`, {
      method: 'POST',
      headers: { 'content-type': ARCHIVE_TYPE },
      body: archive.bytes as Uint8Array<ArrayBuffer>,
    });
    expect(imported.status).toBe(201);
    const { id } = (await imported.json()) as { id: number };
    const copy = await own.get<RunDetail>(`/api/runs/${id}`);
    expect(copy).toMatchObject({
      run: { startedMs: run.startedMs + DAY_MS },
      extent: after.detail.extent,
      dates: { correctedStartMs: null, originalStartMs: null, isKept: false },
    });
    expect(await own.store.maintenance.check()).toStrictEqual([]);
  });

  it.each([
    ['early', DAY_MS],
    ['late', -DAY_MS],
  ])('dated too %s leaves what was stated after the clock was right', async (_, byMs) => {
    await withStore(async (store) => {
      const START_MS = 1_750_000_000_000;
      const { writer, reader } = store;
      const run = writer.beginRun({ startedMs: START_MS, timeZone: 'UTC', sourceTitle: 'x' });
      const log = (timeMs: number, what: string) => writer.log({ timeMs, runId: run.id, who: 'Ada', what });
      const endedMs = START_MS + 3_600_000;
      log(START_MS, 'Started.');
      log(endedMs + 20, 'Ended.');
      writer.endRun(run.id, endedMs);
      // The clock is right from here on.
      writer.setLot(run.id, { name: 'Lot 7', preparation: '', values: {} }, endedMs + byMs + 5000, 'Ada');
      log(endedMs + byMs + 5000, 'Entered the material.');
      writer.setClockAhead(run.id, byMs);
      expect(reader.datedWrong()).toStrictEqual({ runId: run.id, clockAheadMs: byMs });
      const entry: Omit<LogEntry, 'id'> = { timeMs: endedMs + byMs + 9000, runId: run.id, who: 'Ada', what: 'Moved.' };
      const times = () => reader.logEntries({ runId: run.id, limit: 9 }).map(({ timeMs }) => timeMs);
      const before = times();
      writer.moveRun(run.id, byMs, entry);
      finishMove(store, run.id);
      expect(times()).toStrictEqual([9000, 5000, 20, -3_600_000].map((ms) => endedMs + byMs + ms));
      expect(reader.datedWrong()).toBeNull();
      writer.moveRunBack(run.id, -byMs, entry);
      finishMove(store, run.id);
      expect(times().slice(2)).toStrictEqual(before);
      expect(reader.run(run.id)).toMatchObject({ startedMs: START_MS, endedMs });
    });
  });

  it('breaks off exports that began with its old date', async () => {
    await withStore(async (store) => {
      const runId = beginRun(store);
      const layout = layoutOf(['d']);
      const [startMs, count] = [1_750_000_000_000, 45_000];
      for (let i = 0; i < count; i++) store.samples.append(runId, readingOf(layout, startMs + i * 20, [1.75]), i);
      store.tick(count);
      store.writer.endRun(runId, startMs + count * 20);
      const strand = { name: 'R1-1', runId, startGaugeMm: 0, endGaugeMm: count, lengthFactor: 1, cutOuts: [] };
      const begun = [await exportRun(store.columns, runId, 'csv'), await exportSpool(store.columns, strand, 'csv')].map(
        ({ bytes }) => bytes[Symbol.asyncIterator](),
      );
      for (const pieces of begun) expect((await pieces.next()).done).toBe(false);
      const entry = { timeMs: startMs, runId, who: 'Ada', what: 'Moved.' };
      store.writer.moveRun(runId, DAY_MS, entry);
      const rest = async (pieces: AsyncIterator<Uint8Array>) => {
        while (!(await pieces.next()).done);
      };
      for (const pieces of begun) await expect(rest(pieces)).rejects.toMatchObject({ code: 'wrong-state' });
      await rest((await exportRun(store.columns, runId, 'csv')).bytes[Symbol.asyncIterator]());
    });
  });

  it('breaks off an export of its alarms that would miss some', async () => {
    await withStore(async (store) => {
      const runId = beginRun(store);
      const { writer, reader } = store;
      const [startMs, raised] = [1_750_000_000_000, 600];
      const engine = new AlarmEngine({ standing: [], lastId: 0 });
      for (let i = 0; i < raised; i++) {
        const atMs = startMs + i * 1000;
        const blob = { type: 'blob', subject: `${i}`, active: true, facts: { diameterMm: 2 }, occurrence: 1 } as const;
        writer.saveAlarmChanges(runId, engine.observe(blob, atMs));
      }
      writer.endRun(runId, startMs + raised * 1000);
      const began = exportJournal(reader, { runId, fromMs: 0, toMs: 9e15 }, 'csv');
      await began.next();
      expect((await began.next()).value.split('\r\n').length).toBeLessThan(raised);
      writer.moveRun(runId, -DAY_MS, { timeMs: startMs, runId, who: 'Ada', what: 'Moved.' });
      finishMove(store, runId);
      await expect(began.next()).rejects.toMatchObject({ code: 'wrong-state' });
    });
  });

  it('moves an alarm that still stands, but not the answer that was given by the right clock', async () => {
    await withStore(async (store) => {
      const START_MS = 1_750_000_000_000;
      const { writer, reader } = store;
      const run = writer.beginRun({ startedMs: START_MS, timeZone: 'UTC', sourceTitle: 'x' });
      const engine = new AlarmEngine({ standing: [], lastId: 0 });
      const record = (changes: ReturnType<AlarmEngine['tick']>) => writer.saveAlarmChanges(run.id, changes);
      const blob = { type: 'blob', subject: '', active: true, facts: { diameterMm: 2 }, occurrence: 1 } as const;
      record(engine.observe(blob, START_MS + 1000.25));
      record(engine.tick(START_MS + 60_000));
      writer.endRun(run.id, START_MS + 90_000);
      const nowMs = START_MS + DAY_MS + 100_000;
      const [raised] = engine.standing();
      record([engine.acknowledge(raised!.id, { name: 'Ada', from: null }, nowMs)]);
      expect(engine.standing()).toHaveLength(1);
      const entry: Omit<LogEntry, 'id'> = { timeMs: nowMs, runId: run.id, who: 'Ada', what: 'Moved.' };
      writer.moveRun(run.id, DAY_MS, entry);
      engine.moveTimes(finishMove(store, run.id));
      const expected = {
        raisedMs: raised!.raisedMs + DAY_MS,
        lastOccurredMs: raised!.lastOccurredMs + DAY_MS,
        acknowledgedMs: nowMs,
      };
      expect(engine.standing()).toMatchObject([expected]);
      expect(writer.standingAlarms()).toMatchObject([expected]);
      expect(reader.alarmJournal(run.id).map(({ timeMs }) => timeMs)).toStrictEqual([raised!.raisedMs + DAY_MS, nowMs]);
    });
  });

  it.skipIf(!IS_LONG_CHECK)('goes on where it was killed, and ends as if it had not been', async () => {
    const START_MS = 1_750_000_000_000;
    /** Times that are no whole milliseconds, as those of readings. @returns the journal at the end */
    const moved = async (killAfter: number): Promise<unknown> => {
      let journal: unknown;
      await inNewRecord(async (folder) => {
        let store = openStore({ folder, readers: 'sameThread' });
        const run = store.writer.beginRun({ startedMs: START_MS, timeZone: 'UTC', sourceTitle: 'x' });
        const engine = new AlarmEngine({ standing: [], lastId: 0 });
        const blob = { type: 'blob', subject: '', active: true, facts: { diameterMm: 2 } } as const;
        for (let i = 1; i <= 250; i++)
          store.writer.saveAlarmChanges(run.id, engine.observe({ ...blob, occurrence: i }, START_MS + i * 977.31));
        store.writer.endRun(run.id, START_MS + 300_000);
        const nowMs = START_MS + DAY_MS + 400_000;
        const [raised] = engine.standing();
        store.writer.saveAlarmChanges(run.id, [engine.acknowledge(raised!.id, { name: 'Ada', from: null }, nowMs)]);
        store.writer.moveRun(run.id, DAY_MS, { timeMs: nowMs, runId: run.id, who: 'Ada', what: 'Moved.' });
        for (let i = 0; i < killAfter; i++) expect(store.writer.moveAlarms(run.id)).toBeNull();
        await store.close();
        store = openStore({ folder, readers: 'sameThread' });
        expect(store.reader.movingRuns()).toStrictEqual([run.id]);
        finishMove(store, run.id);
        expect(store.reader.movingRuns()).toStrictEqual([]);
        const steps = store.reader.alarmJournal(run.id);
        expect(steps.length).toBeGreaterThan(250);
        expect(steps.every(({ alarm }) => alarm.raisedMs === START_MS + 977.31 + DAY_MS)).toBe(true);
        expect(steps.at(-1)!.alarm.acknowledgedMs).toBe(nowMs);
        await store.close();
        journal = steps;
      });
      return journal;
    };
    const atOnce = await moved(0);
    for (const killAfter of [1, 2, 3]) expect(await moved(killAfter)).toStrictEqual(atOnce);
  });
});
