/** Printed names and the codes of labels: unique among houses, valid on other installations, and silent to strangers. */
import { dirname, join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { CutPlanView } from '../../server/api/contract/cut-plan.ts';
import type { HouseView, LabelFacts, LabelledView } from '../../server/api/contract/labels.ts';
import type { SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import { HOUSE_CODE_LETTERS, readCode } from '../../server/entities/house.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { askAs } from '../security/other-device.ts';
import { type TestService, woundBySimulator } from './test-service.ts';

let service: TestService;
let house: HouseView;
const plan = () => service.get<CutPlanView>('/api/spools/1/cut-plan');

beforeAll(async () => {
  service = await woundBySimulator('blobs-and-necks?seed=11', 20_000);
  await service.send('PUT', '/api/spools/1/choices', { shortestMm: 1000 });
  house = await service.get('/api/house');
}, 60_000);
afterAll(() => service?.stop());

describe('the codes on labels', () => {
  it('start with three characters that cannot be confused, made at the first start', () => {
    expect(house.code).toMatch(new RegExp(`^[${HOUSE_CODE_LETTERS}]{3}$`));
    expect(house.linkAddress).toBe(service.address);
    expect(house.linkStated).toBe(false);
  });

  it('are read as printed, and nothing else is', () => {
    expect(readCode('k7m-r3-1-a')).toEqual({ house: 'K7M', run: 3, spool: 1, coil: 'A' });
    expect(readCode('K7M-R3-1 AB')).toEqual({ house: 'K7M', run: 3, spool: 1, coil: 'AB' });
    expect(readCode('K7M-R3-1')?.coil).toBeNull();
    for (const wrong of ['R3-1', 'K7M-R0-1', 'K7M-R3', 'K7M-R3-1-1', '', '../x']) expect(readCode(wrong)).toBeNull();
  });

  it('lead to a coil that was cut, which feeds from the end that was cut last, and to its spool', async () => {
    const { steps } = await plan();
    // Cut up to the second coil in one go.
    const second = steps.findIndex(
      (step, i) => step.coil !== null && steps.slice(0, i).some(({ coil }) => coil !== null),
    );
    const pieces = steps
      .slice(0, second + 1)
      .map(({ action, countedMm }) => ({ action: action === 'discard' ? 'discard' : 'keep', countedMm }) as const);
    const several = { pieces, cutsBefore: 0 };
    expect((await service.send('POST', '/api/spools/1/cuts/several', several)).status).toBe(201);
    // A second phone that sends the same steps changes nothing.
    expect((await service.send('POST', '/api/spools/1/cuts/several', several)).status).toBe(409);
    const { coils, done } = await plan();
    expect(done).toHaveLength(second + 1);
    const [first] = coils;
    expect(first!.code).toBe(`${house.code}-R1-1-A`);
    const all = await service.get<LabelledView>(`/api/labels/${first!.code}/all`);
    expect(all).toMatchObject({ spoolId: 1, runId: 1, code: first!.code });
    expect(all.coil!.coil.lengthMm).toBe(first!.lengthMm);
    expect(all.coil!.toGaugeMm - all.coil!.fromGaugeMm).toBeCloseTo(first!.lengthMm, -1);
    // The outer end came off first, so on the coil it is inside.
    const { spool } = await service.get<SpoolDetail>('/api/spools/1');
    expect(all.coil!.toGaugeMm - spool.startGaugeMm).toBeCloseTo(spool.woundMm, -2);
    expect(all.coil!.printers.map(({ id }) => id)).toEqual([0]);
    expect((await service.get<LabelledView>(`/api/labels/${house.code}-R1-1/all`)).coil).toBeNull();
  });

  it('show a stranger name, material, length and verdict, and nothing else; no other address answers', async () => {
    await service.send('PUT', '/api/runs/1/lot', { name: 'Grey supports', preparation: '' });
    const { coils } = await plan();
    const seen = await askAs(service, 'GET', `/api/labels/${coils[0]!.code}`);
    expect(seen.status).toBe(200);
    const facts = seen.body as LabelFacts;
    expect(Object.keys(facts).sort()).toEqual(['lengthMm', 'material', 'name', 'verdict']);
    expect(facts).toMatchObject({ name: coils[0]!.name, material: 'Grey supports', lengthMm: coils[0]!.lengthMm });
    for (const path of [
      `/api/labels/${coils[0]!.code}/all`,
      '/api/house',
      '/api/state',
      '/api/runs',
      '/api/spools/1',
      '/api/spools/1/coils',
      '/api/spools/1/cut-plan',
      '/api/spools/1/judgement',
      '/api/runs/1/window?axis=length&from=0&to=9&columns=1&signals=d',
      '/live',
    ])
      expect([path, (await askAs(service, 'GET', path)).status]).toEqual([path, 401]);
  });

  it('answer plainly for what is not cut, of another house, or deleted', async () => {
    const { coils } = await plan();
    const ask = async (code: string) => (await askAs(service, 'GET', `/api/labels/${code}`)).body as { title: string };
    const planned = coils.find(({ state }) => state === 'planned')!;
    expect((await ask(planned.code)).title).toMatch(/not cut yet, or its cut was undone/);
    expect((await ask(`${house.code}-R1-1-ZZ`)).title).toMatch(/has no coil ZZ: its cuts have changed/);
    expect((await ask('0AA-R1-1')).title).toMatch(/from another house: its code starts with 0AA/);
    expect((await ask(`${house.code}-R9-1`)).title).toMatch(/not in the record any more/);
    expect((await ask('nonsense')).title).toMatch(/not the code of a label/);
    expect((await service.send('DELETE', '/api/spools/1')).status).toBe(204);
    expect((await ask(coils[0]!.code)).title).toMatch(/was deleted/);
    expect((await service.send('POST', '/api/spools/1/restore')).status).toBeLessThan(300);
    expect((await ask(coils[0]!.code)).title).toBeUndefined();
  });

  it.skipIf(!IS_LONG_CHECK)(
    'stay those of the house that made the run when it travels, and again when it comes home',
    async () => {
      const { store } = service;
      const code = `${house.code}-R1-1`;
      const travel = async (from: TestService['store'], to: TestService['store'], runId: number) => {
        const file = from.maintenance.scratchPath();
        await from.maintenance.writeArchive(runId, file);
        return to.maintenance.readArchive(file);
      };
      const other = await woundBySimulator('blobs-and-necks?seed=12', 5000);
      // New records of tests have the same one.
      const otherRecord = new Sqlite(join(dirname(other.store.maintenance.scratchPath()), DATABASE_FILE));
      otherRecord.prepare('UPDATE house SET code = ?').run(house.code === 'Q4X' ? 'K7M' : 'Q4X');
      otherRecord.close();
      try {
        const id = await travel(store, other.store, 1);
        expect(id).toBe(2);
        const { spools } = await other.get<{ spools: { id: number; name: string; code: string }[] }>(`/api/runs/${id}`);
        expect(spools[0]).toMatchObject({ name: code, code });
        expect((await other.get<LabelledView>(`/api/labels/${code}/all`)).runId).toBe(2);
        const own = await other.get<SpoolDetail>('/api/spools/1');
        expect(own.spool.name).toBe('R1-1');
        expect(own.spool.code).not.toBe(code);
        // Back home it is the same run again, whatever its id.
        await service.send('DELETE', '/api/runs/1');
        const home = await travel(other.store, store, 2);
        expect(store.reader.run(home)?.origin).toEqual({ house: null, number: 1 });
        const labelled = await service.get<LabelledView>(`/api/labels/${code}/all`);
        expect(labelled).toMatchObject({ runId: home, code });
        expect((await service.get<SpoolDetail>(`/api/spools/${labelled.spoolId}`)).spool.name).toBe('R1-1');
      } finally {
        await other.stop();
      }
    },
    60_000,
  );
});
