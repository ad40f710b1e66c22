import { afterEach, describe, expect, it, vi } from 'vitest';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { LotsView, RunDetail, RunView, SpoolDetail, SpoolRow } from '../../server/api/contract/runs-and-spools.ts';
import type { Source, SourceListener } from '../../server/source/source.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { startTestService, type TestService, woundFromLines } from './test-service.ts';

const ADA = { 'strandward-by': 'Ada' };

// Each test winds minutes of strand, which is slow on a busy machine.
vi.setConfig({ testTimeout: 60_000 });

/** 50 readings a second at 30 mm/s, with a repeatable noise of ± 10 µm. */
function* strand(fromMm: number, toMm: number, at: (mm: number) => number = () => 1.75): Generator<string> {
  for (let i = Math.ceil(fromMm / 0.6); i * 0.6 < toMm; i++) {
    const mm = i * 0.6;
    const noise = (((i * 7919) % 1009) / 1009 - 0.5) * 0.02;
    yield `ms=${i * 20} len=${mm.toFixed(2)} v=30 d=${(at(mm) + noise).toFixed(4)}`;
  }
}

let service: TestService | undefined;
afterEach(async () => {
  await service?.stop();
  service = undefined;
});
const set = async (settings: object) =>
  expect((await service!.send('PUT', '/api/settings', settings)).status).toBe(200);
const run = () => service!.get<RunDetail>('/api/runs/1');
const judged = () => service!.get<SpoolJudgement>('/api/spools/1/judgement');

describe('a spool that was wound under other limits than the current ones', () => {
  const OLD = { nominalMm: 1.75, toleranceMm: 0.05, hotendLimitMm: 1.9, smallestFeedableMm: 1.6 };

  it('is shown with those it was wound under, and judged by the current ones', async () => {
    service = await woundFromLines(strand(0, 20_000, (mm) => (mm > 8000 && mm < 8030 ? 1.95 : 1.75)));
    expect((await judged()).sections.filter(({ kind }) => kind === 'blob')).toHaveLength(1);
    await set({ hotendLimitMm: 2.1, toleranceMm: 0.04, strandPresentMm: 0.7 });
    const { limits, spools } = await run();
    expect(limits).toEqual({ ...OLD, strandPresentMm: 0.5 });
    expect(spools[0]).toMatchObject({ limits: { ...OLD, strandPresentMm: 0.5 }, limitsChanged: false });
    const now = await judged();
    expect(now.limits).toMatchObject({ hotendLimitMm: 2.1, toleranceMm: 0.04 });
    expect(now.sections.filter(({ kind }) => kind === 'blob')).toEqual([]);
  });

  it.skipIf(!IS_LONG_CHECK)('keeps its nominal diameter and density when those of the line change', async () => {
    service = await woundFromLines(strand(0, 20_000));
    const before = await judged();
    await set({ nominalMm: 2.85, hotendLimitMm: 3.1, smallestFeedableMm: 2.6, densityGPerCm3: 1.04 });
    const after = await judged();
    expect(after.verdict).toEqual(before.verdict);
    expect(after.limits).toMatchObject(OLD);
    expect(after.mass.grams).toBe(before.mass.grams);
    // ρ·π/4·d²·L by hand: 1.24 g/cm³ of 1.75 mm are 2.98 g a metre.
    expect(after.mass.grams / 20).toBeCloseTo(2.98, 1);
  });

  it('has the spread of its diameter, and a name and a mark that users give it', async () => {
    service = await woundFromLines(strand(0, 20_000));
    const listed = async () => (await service!.get<RunView[]>('/api/runs?newest=1'))[0]!;
    // A uniform distribution has a standard deviation of its width/√12 (textbook).
    expect((await listed()).diameterSdMm).toBeCloseTo(0.02 / Math.sqrt(12), 4);
    expect(await listed()).toMatchObject({ title: '', isTest: false });
    expect((await service.send('PUT', '/api/runs/1/title', { title: ' New die ' }, ADA)).status).toBe(200);
    expect((await service.send('PUT', '/api/runs/1/test', { isTest: true }, ADA)).status).toBe(200);
    expect(await listed()).toMatchObject({ title: 'New die', isTest: true });
    expect((await run()).log.slice(0, 2)).toMatchObject([
      { who: 'Ada', what: 'Marked run 1 as a test.' },
      { who: 'Ada', what: 'Named run 1 “New die”.' },
    ]);
    // Still winding, and a test: no night yet.
    expect(await service.get('/api/trends')).toMatchObject({ needed: 13, nights: [] });
    expect((await service.send('PUT', '/api/runs/1/title', { title: 'x'.repeat(81) })).status).toBe(400);
    expect((await service.send('PUT', '/api/runs/9/test', { isTest: true })).status).toBe(404);

    // The same for its spool.
    const spools = async () => service!.get<SpoolRow[]>('/api/spools?newest=1');
    const { diameterSdMm, woundMm } = await listed();
    expect(await spools()).toMatchObject([
      { id: 1, runId: 1, name: 'R1-1', title: '', diameterSdMm, woundMm, blobs: 0, fitness: 'fit' },
    ]);
    const named = await service.send('PUT', '/api/spools/1/title', { title: ' For the lamp ' }, ADA);
    expect(named).toMatchObject({ status: 200, body: { name: 'R1-1', title: 'For the lamp' } });
    expect((await spools())[0]!.title).toBe('For the lamp');
    expect((await run()).log[0]).toMatchObject({ who: 'Ada', what: 'Named spool 1 “For the lamp”.' });
    expect((await service.send('PUT', '/api/spools/9/title', { title: 'No' })).status).toBe(404);
  });

  it('says if they changed during winding, and keeps the path on which its positions depend', async () => {
    let listener: SourceListener | undefined;
    const source: Source = {
      title: 'lines of a test',
      timing: 'recorded',
      resumable: false,
      start: (given) => {
        listener = given;
        given.opened();
      },
      stop: async () => {},
    };
    const send = (lines: Iterable<string>) =>
      listener!.bytes(Buffer.from([...lines].map((line) => `${line}\n`).join(''), 'latin1'), null);
    service = await startTestService(source, { gaugeToWinderMm: 300 });
    service.monitor.setStage('winding', 'test');
    service.monitor.start();
    send(strand(0, 5000));
    await set({ hotendLimitMm: 1.85, gaugeToWinderMm: 900, strandPresentMm: 0.7 });
    send(strand(5000, 9000));
    const state = await service.get<LiveState>('/api/state');
    expect(state.limits).toMatchObject({ hotendLimitMm: 1.85, gaugeToWinderMm: 300, strandPresentMm: 0.7 });
    const { spools, limits } = await run();
    expect(spools[0]).toMatchObject({ limits: { ...OLD, hotendLimitMm: 1.85 }, limitsChanged: true });
    expect(limits.hotendLimitMm).toBe(1.85);
    expect(
      service.store.reader.runSettings(1).map((one) => [one.gaugeToWinderMm, Math.round(one.fromGaugeMm / 10)]),
    ).toEqual([
      [300, 0],
      [900, 500],
    ]);
  });
});

describe('what a user enters about a run and its spools', () => {
  it('names its material, any number of times; the log keeps each entry', async () => {
    service = await woundFromLines(strand(0, 3000));
    expect((await run()).run.lot).toBeNull();
    const lot = { name: 'Grey supports', preparation: 'dried 8 h at 50 °C', values: {} };
    const first = await service.send('PUT', '/api/runs/1/lot', { name: ' Grey supports ' }, ADA);
    expect(first).toMatchObject({ status: 200, body: { lot: { name: 'Grey supports', preparation: '' } } });
    await service.send('PUT', '/api/runs/1/lot', lot);
    expect((await service.get<RunView[]>('/api/runs'))[0]!.lot).toEqual(lot);
    expect((await service.get<SpoolDetail>('/api/spools/1')).run.lot).toEqual(lot);
    const { log } = await run();
    expect(log.slice(0, 2).map(({ who, what }) => [who, what])).toEqual([
      ['someone who gave no name', 'Entered the material of run 1: “Grey supports: dried 8 h at 50 °C”.'],
      ['Ada', 'Entered the material of run 1: “Grey supports”.'],
    ]);
    await service.send('PUT', '/api/runs/1/lot', { name: '', preparation: '  ' });
    expect((await run()).run.lot).toBeNull();
    expect((await service.send('PUT', '/api/runs/9/lot', lot)).status).toBe(404);
    expect((await service.send('PUT', '/api/runs/1/lot', { name: 'x'.repeat(61) })).status).toBe(400);
  });

  it('has fields with values; a value in another unit is converted or refused', async () => {
    service = await woundFromLines(strand(0, 3000));
    const put = (values: object) => service!.send('PUT', '/api/runs/1/lot', { name: 'Grey', values }, ADA);
    const first = await put({ dryingH: '480 min', dryingC: 50, magnet: false, 'Shredder screen [mm]': 6 });
    const values = { dryingH: 8, dryingC: 50, magnet: false, 'Shredder screen [mm]': 6 };
    expect(first).toMatchObject({ status: 200, body: { lot: { values } } });
    expect(await put({ dryingH: '8 kg' })).toMatchObject({
      status: 400,
      body: { code: 'bad-request', pointer: '/values/dryingH', detail: 'Give a number in h.' },
    });
    // A program that knows no fields leaves them as they are.
    await service.send('PUT', '/api/runs/1/lot', { name: 'Grey 2' });
    const { run: now, log } = await run();
    expect(now.lot).toEqual({ name: 'Grey 2', preparation: '', values });
    expect(log[1]!.what).toBe(
      'Entered the material of run 1: “Grey: dried 8 h at 50 °C, no magnet, shredder screen 6 mm”.',
    );
  });

  it('is read from old words for confirmation, and changed for several runs at once', async () => {
    service = await woundFromLines(strand(0, 3000));
    await service.send('PUT', '/api/runs/1/lot', { name: 'Grey', preparation: 'Sorted, not dried, about 30 % new' });
    const lots = () => service!.get<LotsView>('/api/lots');
    expect((await lots()).runs).toMatchObject([{ runId: 1, lot: { values: {} }, proposed: { dryingH: 0 } }]);
    const change = (body: object) => service!.send('POST', '/api/lots', body, ADA);
    expect((await change({ runIds: [1], confirm: true })).body).toMatchObject({
      runs: [{ lot: { preparation: 'Sorted, about 30 % new', values: { dryingH: 0 } }, proposed: {} }],
    });
    await change({ runIds: [1, 1], values: { dryingH: null, sieveMm: '4' }, name: 'Grey 3' });
    expect((await lots()).runs[0]!.lot).toEqual({
      name: 'Grey 3',
      preparation: 'Sorted, about 30 % new',
      values: { sieveMm: 4 },
    });
    const refused = await change({ runIds: [1, 99], values: { sieveMm: 2 } });
    expect(refused).toMatchObject({ status: 404, body: { code: 'unknown-run', pointer: '/runIds' } });
    expect((await change({ runIds: [1], values: { sieveMm: 900 } })).body).toMatchObject({
      pointer: '/values/sieveMm',
    });
    expect((await lots()).runs[0]!.lot!.values).toEqual({ sieveMm: 4 });
  });

  it('appears at once in the live state of the current run', async () => {
    service = await startTestService('simulator:steady');
    service.monitor.setStage('winding', 'test');
    await service.send('PUT', '/api/runs/1/lot', { name: 'Clear PETG' });
    await service.send('PUT', '/api/spools/1/note', { note: 'green core' });
    const state = await service.get<LiveState>('/api/state');
    expect(state.run!.lot).toEqual({ name: 'Clear PETG', preparation: '', values: {} });
    expect((await service.get<SpoolDetail>('/api/spools/1')).spool.note).toBe('green core');
  });

  it('is a note on a spool; a note that it replaces is kept in the log', async () => {
    service = await woundFromLines(strand(0, 3000));
    expect(await service.send('PUT', '/api/spools/1/note', { note: ' in box 4 ' })).toMatchObject({
      status: 200,
      body: { id: 1, note: 'in box 4' },
    });
    await service.send('PUT', '/api/spools/1/note', { note: '' }, ADA);
    expect((await service.get<SpoolDetail>('/api/spools/1')).spool.note).toBe('');
    expect((await run()).log.slice(0, 2).map(({ what }) => what)).toEqual([
      'Removed the note of spool 1.',
      'Noted on spool 1: “in box 4”',
    ]);
    expect((await service.send('PUT', '/api/spools/9/note', { note: 'x' })).status).toBe(404);
  });
});
