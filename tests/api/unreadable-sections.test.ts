/** A recorded section that cannot be read: run and spool give one answer, which is never better than what is known. */
import { rmSync } from 'node:fs';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { afterEach, beforeEach, expect, it } from 'vitest';
import type { RunDetail, RunView, SpoolDetail, SpoolRow } from '../../server/api/contract/runs-and-spools.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { newRecord } from '../store/new-record.ts';
import { MUTE, sourceOf, startTestService, type TestService } from './test-service.ts';

let dataFolder: string;
let service: TestService;
beforeEach(() => {
  dataFolder = newRecord('strandward-sections-');
});
afterEach(async () => {
  await service.stop();
  rmSync(dataFolder, { recursive: true, force: true });
});

const BLOBS = 4;
/** A blob in the middle of each ten metres of a spool. */
function* lines(): Generator<Uint8Array> {
  for (let i = 0; i < BLOBS * 2000; i++) {
    const diameterMm = i % 2000 > 1000 && i % 2000 < 1010 ? 2.1 : 1.75 + (i % 7) / 1000;
    yield Buffer.from(`ms=${i * 100} len=${i * 5} v=50 d=${diameterMm.toFixed(3)}\n`);
  }
}

async function wound(): Promise<void> {
  const { source, over } = sourceOf(lines());
  service = await startTestService(source, { gaugeToWinderMm: 0 }, undefined, null, { dataFolder });
  service.monitor.setStage('winding', 'test');
  service.monitor.start();
  await over;
}

async function again(sql: string): Promise<void> {
  await service.stop();
  const db = new Sqlite(join(dataFolder, DATABASE_FILE));
  db.exec(sql);
  db.close();
  service = await startTestService(MUTE, { gaugeToWinderMm: 0 }, undefined, null, { dataFolder });
}

async function answers() {
  const list = await service.get<RunView[]>('/api/runs');
  const run = await service.get<RunDetail>('/api/runs/1');
  const spool = await service.get<SpoolDetail>('/api/spools/1');
  const [row] = await service.get<SpoolRow[]>('/api/spools');
  const placesOf = (sections: RunDetail['sections']) =>
    sections.map(({ kind, fromGaugeMm, toGaugeMm, peakMm }) => ({ kind, fromGaugeMm, toGaugeMm, peakMm }));
  return {
    places: { run: placesOf(run.sections), spool: placesOf(spool.sections) },
    blobs: [list[0]!.blobs, run.run.blobs, spool.run.blobs, row!.blobs],
    coils: [list[0]!.coils, run.run.coils, spool.run.coils, row!.coils],
    unreadable: [list[0]!.unreadableRows, run.run.unreadableRows, spool.run.unreadableRows],
    quality: run.run.verdict.quality,
    row: row!,
  };
}

it.each([
  ['judged by the limits of its run', ''],
  [
    'judged from its readings, as if another version of the detector had found the sections',
    `UPDATE run_set SET payload = json_set(payload, '$.detectorVersion', 1);`,
  ],
])('is found again in the readings by run and spool alike, where the spool is %s', async (_, more) => {
  await wound();
  const before = await answers();
  expect(before.blobs).toStrictEqual([BLOBS, BLOBS, BLOBS, BLOBS]);
  await again(`${more} UPDATE measured_section SET payload = '{}' WHERE ordinal = 2`);
  const after = await answers();
  expect(after.unreadable).toStrictEqual([1, 1, 1]);
  expect([after.blobs, after.coils]).toStrictEqual([before.blobs, before.coils]);
  expect(after.places.run).toStrictEqual(after.places.spool);
  expect(after.places.run.filter(({ kind }) => kind === 'blob')).toHaveLength(BLOBS);
});

it('counts as not measured where single readings were deleted', async () => {
  await wound();
  const before = await answers();
  const { maintenance } = service.store;
  while (maintenance.thinStep(Date.now() + 86_400_000, Date.now()) !== null);
  await again(`UPDATE measured_section SET payload = '{}' WHERE ordinal = 2; DELETE FROM examination`);
  const after = await answers();
  expect(after.unreadable).toStrictEqual([1, 1, 1]);
  expect(after.places.run).toStrictEqual(after.places.spool);
  expect(after.places.run.map(({ kind }) => kind)).toStrictEqual(['blob', 'unknown', 'blob', 'blob']);
  expect(after.places.run[1]).toMatchObject({
    fromGaugeMm: before.places.run[1]!.fromGaugeMm,
    toGaugeMm: before.places.run[1]!.toGaugeMm,
  });
  expect(after.coils[0]).toBe(before.coils[0]);
});

it.each([
  ['with spools', ''],
  ['without any', 'DELETE FROM spool'],
])('counts settings that cannot be read in the first list of runs, of a run %s', async (_, more) => {
  await wound();
  await again(`UPDATE run_set SET payload = '{}'; ${more}`);
  expect((await service.get<RunView[]>('/api/runs')).map(({ unreadableRows }) => unreadableRows)).toStrictEqual([1]);
});
