/**
 * A collection of finished runs, checked by DuckDB, which knows nothing of ours: it has what the service answers, follows
 * changes and deletions, and is whole whenever it is interrupted.
 */
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, afterEach, beforeAll, beforeEach, expect, it } from 'vitest';
import type { RunDetail } from '../../server/api/contract/runs-and-spools.ts';
import { collectRuns } from '../../server/collection/collect-runs.ts';
import { type CollectedTable, tablesOfRun } from '../../server/collection/collected-tables.ts';
import { CollectionFolder, type NewFile } from '../../server/collection/collection-folder.ts';
import { type OutsideReader, outsideReader } from '../api/duckdb.ts';
import { type TestService, woundFromLines } from '../api/test-service.ts';
import { disk, MOUNTS, removeDisks } from '../faults/small-disk.ts';

const READINGS = 6000;
let service: TestService;
let duckdb: OutsideReader;
let folder: string;

function* lines(): Generator<string> {
  for (let n = 0; n < READINGS; n++) {
    const isBlob = n % 2000 > 1000 && n % 2000 < 1020;
    const d = isBlob ? 2.1 : 1.75 + 0.004 * Math.sin(n * 12.9898);
    yield `ms=${n * 20} n=${n} d=${d.toFixed(3)} v=40 t1=${(195 + (n % 7) / 10).toFixed(1)}`;
  }
}

beforeAll(async () => {
  [service, duckdb] = await Promise.all([woundFromLines(lines(), { lineName: 'Bench / left' }), outsideReader()]);
}, 60_000);
afterAll(async () => {
  duckdb?.close();
  await service?.stop();
  removeDisks();
});
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'strandward-collection-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const said: string[] = [];
const collect = (into = folder, removesAll = false) =>
  collectRuns({ folder: into, address: service.address, token: null, removesAll }, (what) => said.push(what));
const from = (table: string) => `read_parquet('${folder}/*/*/*/${table}.parquet', hive_partitioning = true)`;
const runs = () => `read_parquet('${folder}/*/runs.parquet', hive_partitioning = true)`;
const lineFolder = () => join(folder, readdirSync(folder)[0]!);
const manifest = () => JSON.parse(readFileSync(join(lineFolder(), 'manifest.json'), 'utf8'));

it('has the readings, sections, alarms and material that the service answers', async () => {
  await service.send('PUT', '/api/runs/1/lot', {
    name: 'Green PLA',
    values: { dryingH: 8, 'Shredder screen [mm]': 4 },
  });
  expect(await collect()).toEqual({ added: 1, changed: 0, removed: 0, total: 1 });
  const detail = await service.get<RunDetail>('/api/runs/1');

  const [all] = await duckdb.rows<Record<string, unknown>>(
    `SELECT count(*)::INTEGER AS n, min("d [mm]") AS least, max("d [mm]") AS most, any_value(line) AS line,
     any_value(run)::INTEGER AS run, epoch_ms(min(time)::TIMESTAMPTZ)::DOUBLE AS fromMs FROM ${from('readings')}`,
  );
  expect(all).toMatchObject({ n: detail.extent!.count, most: 2.1, line: 'Bench / left', run: 1 });
  expect(Math.abs((all!.fromMs as number) - detail.extent!.fromMs)).toBeLessThan(1);
  const [run] = await duckdb.rows<Record<string, unknown>>(
    `SELECT wound_mm, kept_mm, blobs, verdict, epoch_ms(started::TIMESTAMPTZ)::DOUBLE AS startedMs FROM ${runs()}`,
  );
  const { woundMm, keptMm, blobs, verdict, startedMs } = detail.run;
  expect(run).toEqual({
    wound_mm: woundMm,
    kept_mm: keptMm,
    blobs,
    verdict: verdict.quality,
    startedMs: Math.trunc(startedMs),
  });
  const sections = await duckdb.rows(
    `SELECT kind, from_gauge_mm, to_gauge_mm, peak_mm, certainty, verdict FROM ${from('sections')} ORDER BY from_gauge_mm`,
  );
  expect(sections).toEqual(
    detail.sections.map((one) => ({
      kind: one.kind,
      from_gauge_mm: one.fromGaugeMm,
      to_gauge_mm: one.toGaugeMm,
      peak_mm: one.peakMm,
      certainty: one.certainty,
      verdict: one.verdict,
    })),
  );
  expect(sections.length).toBeGreaterThan(1);
  const alarms = await duckdb.rows(`SELECT type, step FROM ${from('alarms')}`);
  expect(alarms).toEqual(detail.alarms.map(({ alarm, step }) => ({ type: alarm.type, step })));
  expect(await duckdb.rows(`SELECT material AS name, drying_h, sieve_mm, own_fields FROM ${runs()}`)).toEqual([
    { name: 'Green PLA', drying_h: 8, sieve_mm: null, own_fields: '{"Shredder screen [mm]":4}' },
  ]);
});

it('answers the questions that DEVELOPERS.md gives as they are', async () => {
  await collect();
  const handbook = readFileSync(new URL('../../DEVELOPERS.md', import.meta.url), 'utf8');
  const questions = [...handbook.matchAll(/```sql\n([^`]+)```/g)].map(([, sql]) =>
    sql!.replaceAll('COLLECTION', folder),
  );
  expect(questions).toHaveLength(2);
  const [perDrying, aroundBlobs] = await Promise.all(questions.map((sql) => duckdb.rows<Record<string, unknown>>(sql)));
  const { blobs, woundMm } = (await service.get<RunDetail>('/api/runs/1')).run;
  expect(perDrying).toHaveLength(1);
  expect(perDrying![0]!.blobs_per_100_m).toBeCloseTo((1e5 * blobs) / woundMm, 6);
  expect(aroundBlobs!.length).toBeGreaterThan(50);
  expect(Math.max(...aroundBlobs!.map((row) => row.diameter_mm as number))).toBe(2.1);
});

it('stays as it is if nothing has changed, and takes only the small tables of a run that was changed', async () => {
  await collect();
  const readings = join(lineFolder(), readdirSync(lineFolder()).find((name) => name.startsWith('month='))!, 'run=1');
  const before = [statSync(join(readings, 'sections.parquet')).ino, manifest()];
  expect(await collect()).toEqual({ added: 0, changed: 0, removed: 0, total: 1 });
  expect([statSync(join(readings, 'sections.parquet')).ino, manifest()]).toEqual(before);

  await service.send('PUT', '/api/runs/1/note', { note: 'Hopper ran empty once.' });
  // That is in the table of all runs.
  expect(await collect()).toEqual({ added: 0, changed: 0, removed: 0, total: 1 });
  expect(await duckdb.rows(`SELECT note FROM ${runs()}`)).toEqual([{ note: 'Hopper ran empty once.' }]);
  await service.send('POST', '/api/spools/1/sections', { fromSpoolMm: 500, toSpoolMm: 600, verdict: 'doubtful' });
  expect(await collect()).toEqual({ added: 0, changed: 1, removed: 0, total: 1 });
  expect(await duckdb.rows(`SELECT verdict FROM ${from('sections')} WHERE origin = 'user'`)).toEqual([
    { verdict: 'doubtful' },
  ]);
  expect(manifest().runs[0].files['readings.parquet']).toEqual(
    (before[1] as ReturnType<typeof manifest>).runs[0].files['readings.parquet'],
  );
});

it('follows a deletion, and a new name of the line', async () => {
  await collect();
  await service.send('DELETE', '/api/runs/1');
  expect(await collect()).toEqual({ added: 0, changed: 0, removed: 1, total: 0 });
  expect(manifest().runs).toEqual([]);
  await service.send('POST', '/api/runs/1/restore');
  expect(await collect()).toMatchObject({ added: 1, total: 1 });

  await service.send('PUT', '/api/settings', { lineName: 'By the window' });
  expect(await collect()).toMatchObject({ added: 0, total: 1 });
  expect(readdirSync(folder)).toEqual(['line=By%20the%20window']);
  expect(await duckdb.rows(`SELECT DISTINCT line FROM ${runs()}`)).toEqual([{ line: 'By the window' }]);
  await service.send('PUT', '/api/settings', { lineName: 'Bench / left' });
});

it('is whole after an interruption at any step', async () => {
  await collect();
  const month = readdirSync(lineFolder()).find((name) => name.startsWith('month='))!;
  const place = join(lineFolder(), month, 'run=1');
  // Killed while a changed run was written, and between moving the old one away and the new one in.
  mkdirSync(join(lineFolder(), '.unfinished'));
  renameSync(place, join(lineFolder(), '.replaced'));
  expect(await collect()).toEqual({ added: 0, changed: 0, removed: 0, total: 1 });
  expect(existsSync(place)).toBe(true);
  // And between moving it in under another date and naming it.
  const { runs } = manifest();
  const startedMs = runs[0].startedMs - 40 * 86_400_000;
  const other = join(lineFolder(), `month=${new Date(startedMs).toISOString().slice(0, 7)}`, 'run=1');
  mkdirSync(dirname(other));
  renameSync(place, other);
  mkdirSync(place);
  writeFileSync(join(place, 'sections.parquet'), '');
  writeFileSync(
    join(lineFolder(), 'manifest.json'),
    JSON.stringify({ ...manifest(), runs: [{ ...runs[0], startedMs }] }),
  );
  expect(await collect()).toEqual({ added: 0, changed: 1, removed: 0, total: 1 });
  expect(existsSync(join(place, 'readings.parquet'))).toBe(true);
  expect(existsSync(other)).toBe(false);
  expect(readdirSync(lineFolder()).filter((name) => name.startsWith('.'))).toEqual([]);
});

it.skipIf(!MOUNTS)('says so if the disk is full, leaves nothing half, and goes on when there is space', async () => {
  const small = disk(1);
  const filler = join(small, 'filler');
  writeFileSync(filler, Buffer.alloc(1024 * 1024 - 4 * 1024));
  await expect(collect(small)).rejects.toMatchObject({ code: 'collection-failed', exitCode: 4 });
  const [line] = readdirSync(small).filter((name) => name.startsWith('line='));
  expect(readdirSync(join(small, line!)).filter((name) => name.startsWith('month='))).toEqual([]);
  rmSync(filler);
  expect(await collect(small)).toMatchObject({ added: 1, total: 1 });
});

it('never shows a run whose files are not as they must be', async () => {
  const collection = await CollectionFolder.open(folder, 'K7M', 'Bench');
  const [{ bytes, rows }] = tablesOfRun(await service.get<RunDetail>('/api/runs/1')) as [CollectedTable];
  const put = (content: NewFile) => collection.put(1, 0, new Map([['sections.parquet', content]]));
  for (const bad of [
    { bytes: [bytes], rows: rows + 1 },
    { bytes: [bytes.subarray(0, bytes.length / 2)], rows },
    { bytes: [], rows },
  ])
    await expect(put(bad)).rejects.toMatchObject({ code: 'collection-failed' });
  expect(readdirSync(lineFolder()).filter((name) => name.startsWith('month='))).toEqual([]);
  expect(collection.runs.size).toBe(0);
  await put({ bytes: [bytes], rows });
  expect(existsSync(join(lineFolder(), 'month=1970-01', 'run=1', 'sections.parquet'))).toBe(true);
});

it('refuses another line of the same name, a damaged list of runs, and an address that is no Strandward', async () => {
  await collect();
  const file = join(lineFolder(), 'manifest.json');
  writeFileSync(file, JSON.stringify({ ...manifest(), house: 'ZZZ' }));
  await expect(collect()).rejects.toThrow('another line called “Bench / left”');
  writeFileSync(file, '{"format":1,');
  await expect(collect()).rejects.toThrow('manifest.json cannot be read');
  const at = (address: string) => collectRuns({ folder, address, token: null, removesAll: false }, () => {});
  await expect(at('http://127.0.0.1:9')).rejects.toMatchObject({ code: 'line-failed' });
  await expect(at('bench')).rejects.toMatchObject({ code: 'bad-setting' });
});

it('is not emptied because a backup was restored, unless that is asked for', async () => {
  await collect();
  const file = join(lineFolder(), 'manifest.json');
  const [run] = manifest().runs;
  const runs = [run, ...[2, 3, 4, 5].map((id) => ({ ...run, id }))];
  writeFileSync(file, JSON.stringify({ ...manifest(), runs }));
  await expect(collect()).rejects.toThrow('4 of 5 runs');
  expect(await collect(folder, true)).toMatchObject({ removed: 4, total: 1 });
});
