import { dirname, join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { afterEach, beforeEach, expect, it } from 'vitest';
import type { BinnedView } from '../../server/api/contract/bin.ts';
import type { RunDetail, RunView } from '../../server/api/contract/runs-and-spools.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { runTables } from '../../server/store/maintenance/run-tables.ts';
import { SAMPLE_TABLES } from '../../server/store/samples/sample-ids.ts';
import { type TestService, woundFromLines } from '../api/test-service.ts';

let service: TestService;
beforeEach(async () => {
  service = await woundFromLines(
    Array.from({ length: 1000 }, (_, i) => {
      const d = i > 600 && i < 630 ? 2.1 : 1.75 + (i % 7) / 1000;
      return `ms=${i * 20} len=${(i * 0.7).toFixed(1)} v=35 d=${d.toFixed(3)}`;
    }),
  );
});
afterEach(() => service.stop());

const status = async (method: string, path: string) => (await service.send(method, path)).status;
const journal = async () => (await service.get<unknown[]>('/api/alarm-journal?from=0&to=9e15&format=json')).length;
const bin = () => service.get<BinnedView[]>('/api/bin');

/** Rows of the tables that belong to runs, by table. */
function rowsLeft(): { readonly [table in 'run' | 'spool' | 'coil_name' | 'sample_block']?: number } {
  const db = new Sqlite(join(dirname(service.store.maintenance.scratchPath()), DATABASE_FILE), { readonly: true });
  const names = ['run', ...runTables(db).map(({ name }) => name), ...SAMPLE_TABLES.map(({ name }) => name)];
  const counted = names.map(
    (name) => [name, Number(db.prepare(`SELECT count(*) FROM ${name}`).pluck().get())] as const,
  );
  db.close();
  return Object.fromEntries(counted.filter(([, rows]) => rows > 0));
}

it('deletes a run from every list and restores it as it was', async () => {
  const before = await service.get<RunDetail>('/api/runs/1');
  const spoolId = before.spools[0]!.id;
  const steps = await journal();
  expect(steps).toBeGreaterThan(0);
  const { status: done } = await service.send('DELETE', '/api/runs/1', undefined, { 'x-person': 'Ada' });
  expect(done).toBe(204);
  expect(await service.get<RunView[]>('/api/runs')).toStrictEqual([]);
  expect(await journal()).toBe(0);
  for (const path of [
    '/api/runs/1',
    '/api/runs/1/archive',
    '/api/runs/1/alarm-journal',
    '/api/runs/1/export?format=csv',
  ])
    expect([path, await status('GET', path)]).toStrictEqual([path, 404]);
  for (const path of ['', '/judgement', '/cut-plan'])
    expect(await status('GET', `/api/spools/${spoolId}${path}`)).toBe(404);
  expect(await status('DELETE', '/api/runs/1')).toBe(404);
  const [entry, ...more] = await bin();
  expect(more).toStrictEqual([]);
  expect(entry).toMatchObject({ kind: 'run', id: 1, removedMs: entry!.deletedMs + 30 * 86_400_000 });
  expect(entry!.deletedBy).not.toBe('');
  expect(await status('POST', '/api/runs/1/restore')).toBe(204);
  expect(await status('POST', '/api/runs/1/restore')).toBe(404);
  expect(await service.get<RunDetail>('/api/runs/1')).toStrictEqual(before);
  expect(await journal()).toBe(steps);
  const said = service.store.reader.logEntries({ runId: null, limit: 2 });
  expect(said.map(({ what }) => what)).toStrictEqual(['Restored run 1.', 'Deleted run 1.']);
  expect(said[1]!.who).toBe(entry!.deletedBy);
});

it('deletes a spool without its run, also from an archive', async () => {
  const { spools } = await service.get<RunDetail>('/api/runs/1');
  const { id } = spools[0]!;
  expect(await status('DELETE', `/api/spools/${id}`)).toBe(204);
  expect(await status('GET', `/api/spools/${id}`)).toBe(404);
  expect((await service.get<RunDetail>('/api/runs/1')).spools).toStrictEqual([]);
  expect((await service.get<RunView[]>('/api/runs'))[0]!.spools).toBe(0);
  expect((await bin()).map(({ kind, ordinal }) => [kind, ordinal])).toStrictEqual([['spool', 1]]);
  const path = service.store.maintenance.scratchPath();
  await service.store.maintenance.writeArchive(1, path);
  const archive = new Sqlite(path);
  expect(archive.prepare('SELECT count(*) FROM spool').pluck().get()).toBe(0);
  archive.close();
  expect(await status('POST', `/api/spools/${id}/restore`)).toBe(204);
  expect((await service.get<RunDetail>('/api/runs/1')).spools).toStrictEqual(spools);
});

it('refuses to delete the run in progress and its spools', async () => {
  const { writer } = service.store;
  const run = writer.beginRun({ startedMs: Date.now(), timeZone: 'UTC', sourceTitle: 'x' });
  const spool = writer.beginSpool({ runId: run.id, startGaugeMm: 0, startedMs: Date.now() });
  const refused = await service.send('DELETE', `/api/runs/${run.id}`);
  expect(refused).toMatchObject({ status: 409, body: { title: `Run ${run.id} is still in progress.` } });
  expect(await status('DELETE', `/api/spools/${spool.id}`)).toBe(409);
  expect(await bin()).toStrictEqual([]);
});

it('removes everything about a run when its time in the bin is over, and nothing before', async () => {
  const { maintenance } = service.store;
  const { id } = (await service.get<RunDetail>('/api/runs/1')).spools[0]!;
  service.store.spoolStatements.nameCoil(id, { coil: 1, name: 'the good coil', place: null }, Date.now(), 'Ada');
  const empty = (beforeMs: number) => {
    while (maintenance.emptyBinStep(beforeMs));
  };
  empty(8e15);
  await service.send('DELETE', '/api/runs/1');
  const [{ deletedMs }] = (await bin()) as [BinnedView];
  empty(deletedMs);
  const before = rowsLeft();
  expect(before).toMatchObject({ run: 1, spool: 1, coil_name: 1, sample_block: 1 });
  empty(deletedMs + 1);
  // The log keeps who deleted it.
  expect(Object.keys(rowsLeft())).toStrictEqual(['operator_log']);
  expect(service.store.reader.logEntries({ limit: 1 })[0]!.what).toBe('Deleted run 1.');
  expect(await bin()).toStrictEqual([]);
  expect(await maintenance.check()).toStrictEqual([]);
});

it('removes a spool and what was stated about it when its time in the bin is over', async () => {
  const { id } = (await service.get<RunDetail>('/api/runs/1')).spools[0]!;
  service.store.spoolStatements.nameCoil(id, { coil: 1, name: 'the good coil', place: null }, Date.now(), 'Ada');
  await service.send('DELETE', `/api/spools/${id}`);
  while (service.store.maintenance.emptyBinStep(8e15));
  const left = rowsLeft();
  expect([left.run, left.spool, left.coil_name, left.sample_block]).toStrictEqual([1, undefined, undefined, 1]);
});
