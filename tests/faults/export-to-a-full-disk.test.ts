/** Exports, backups and imported logs on a disk that fills up: a clear error, no partial files, and the service continues. */

import { mkdirSync, readdirSync, rmSync, statfsSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import type { RunDetail } from '../../server/api/contract/runs-and-spools.ts';
import { checkFile } from '../../server/store/maintenance/check-file.ts';
import { type TestService, woundFromLines } from '../api/test-service.ts';
import { randomOf } from '../store/readings.ts';
import { disk, MOUNTS, removeDisks } from './small-disk.ts';

const MB = 2 ** 20;

let service: TestService | null = null;
afterEach(async () => {
  await service?.stop();
  service = null;
  removeDisks();
});

/** An ended run of some megabytes, in a record in `folder`. */
async function recordIn(folder: string): Promise<TestService> {
  const random = randomOf(5);
  const lines = Array.from(
    { length: 40_000 },
    (_, i) => `ms=${i * 20} d=1.75 v=35 len=${i * 0.7} a=${random()} b=${random()} c=${random()}`,
  );
  const before = process.env.TMPDIR;
  process.env.TMPDIR = folder;
  try {
    return await woundFromLines(lines, { freeSpaceAlarmGb: 0 });
  } finally {
    if (before === undefined) delete process.env.TMPDIR;
    else process.env.TMPDIR = before;
  }
}

const folderOf = (one: TestService) => join(one.store.maintenance.scratchPath(), '..');
const left = (one: TestService) => readdirSync(folderOf(one)).filter((name) => name.startsWith('under-way'));

describe.skipIf(!MOUNTS)('a disk that fills', () => {
  it('a backup is refused with a clear error and its partial copy removed; on a larger disk it succeeds', async () => {
    service = await recordIn(tmpdir());
    const { maintenance } = service.store;
    const { extent } = await service.get<RunDetail>('/api/runs/1');
    const full = join(disk(1), 'copies');
    const making = maintenance.backup(full, Date.UTC(2021, 0, 1), 2);
    await expect(making).rejects.toMatchObject({
      code: 'backup-failed',
      remedy: expect.stringMatching(/space for the whole record/),
    });
    expect(readdirSync(full)).toStrictEqual([]);
    const { path } = await maintenance.backup(join(disk(64), 'copies'), Date.UTC(2021, 0, 1), 2);
    expect(checkFile(path)).toStrictEqual([]);
    expect((await service.get<RunDetail>('/api/runs/1')).extent).toStrictEqual(extent);
  }, 120_000);

  it('the download of a run archive fails and its file is removed; the record can be read and written as before', async () => {
    const folder = disk(24);
    service = await recordIn(folder);
    const { maintenance, writer } = service.store;
    const whole = await service.bytes('/api/runs/1/archive');
    expect(whole.status).toBe(200);
    // Another program fills the disk after the check for free space.
    Object.assign(maintenance, { freeBytes: () => 1e12 });
    const { bavail, bsize } = statfsSync(folder);
    mkdirSync(join(folder, 'others'));
    writeFileSync(join(folder, 'others', 'films'), Buffer.alloc(bavail * bsize - 1 * MB));
    expect((await service.bytes('/api/runs/1/archive')).status).toBe(500);
    expect(left(service)).toStrictEqual([]);
    const response = await fetch(`${service.address}/api/runs/import?again=true`, {
      method: 'POST',
      headers: { 'content-type': 'application/vnd.strandward.run' },
      body: whole.bytes as BodyInit,
    });
    expect(response.status).toBe(500);
    expect(left(service)).toStrictEqual([]);
    // What needs no space still works: readings as a stream, windows, a note.
    expect((await service.bytes('/api/runs/1/export?format=parquet')).status).toBe(200);
    writer.setRunNote(1, 'written on the last megabyte');
    expect(service.store.reader.run(1)!.note).toBe('written on the last megabyte');
    rmSync(join(folder, 'others'), { recursive: true });
    expect(await maintenance.check()).toStrictEqual([]);
  }, 120_000);

  it('a log that is being imported is refused with a clear error, and nothing of it is left', async () => {
    const folder = disk(16);
    service = await recordIn(folder);
    const { maintenance } = service.store;
    Object.assign(maintenance, { freeBytes: () => 1e12 });
    const { bavail, bsize } = statfsSync(folder);
    const random = randomOf(6);
    const log = Array.from(
      { length: 20_000 },
      (_, i) => `ms=${i * 20} d=1.75 v=35 a=${random()} b=${random()} c=${random()}`,
    ).join('\n');
    writeFileSync(join(folder, 'films'), Buffer.alloc(bavail * bsize - log.length - MB / 2));
    const uploaded = await fetch(`${service.address}/api/recording?name=night.log`, {
      method: 'POST',
      headers: { 'content-type': 'text/plain' },
      body: log,
    });
    expect(uploaded.status).toBe(201);
    await service.send('POST', '/api/recording/start', { startMs: Date.UTC(2021, 0, 1) });
    type State = { phase: string; problem: { title: string; detail: string } | null; runs: number[] };
    let state: State | null = null;
    await expect
      .poll(
        async () => {
          state = await service!.get<State>('/api/recording');
          return state.phase;
        },
        { timeout: 90_000 },
      )
      .toBe('failed');
    expect(state!.problem!.title).toMatch(/full|room|disk/i);
    expect(state!.runs).toStrictEqual([]);
    expect(left(service)).toStrictEqual([]);
    rmSync(join(folder, 'films'));
    expect(await maintenance.check()).toStrictEqual([]);
    expect(service.store.reader.runs()).toHaveLength(1);
  }, 120_000);
});
