/** The shelf: what is left, which coil fits, and prints; stated by users, never overwritten, and undone one by one. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { CutPlanView } from '../../server/api/contract/cut-plan.ts';
import type {
  PromisesView,
  StockDetail,
  StockFitView,
  StockItem,
  StockView,
  YieldsView,
} from '../../server/api/contract/stock.ts';
import { type TestService, woundBySimulator } from './test-service.ts';

let service: TestService;
let a: StockItem;
const shelf = async () => (await service.get<StockView>('/api/stock')).items;
const itemOf = async (code: string) => (await shelf()).find((one) => one.code === code)!;
const detail = (code: string) => service.get<StockDetail>(`/api/stock/${code}`);
const state = async (code: string, body: object, by = 'Kim') =>
  (await service.send('POST', `/api/stock/${code}/uses`, body, { 'strandward-by': by })) as {
    status: number;
    body: StockDetail & { code: string; title: string; pointer?: string };
  };
const undo = async (code: string, id: number, by = 'Kim') =>
  (await service.send('DELETE', `/api/stock/${code}/uses/${id}`, undefined, { 'strandward-by': by })) as {
    status: number;
    body: StockDetail & { title: string };
  };
const undoAll = async (code: string) => {
  for (const { id } of (await detail(code)).entries) await undo(code, id);
};
const BENCH = { name: 'Bench', hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 0.05 };
const m = (amount: number) => ({ amount, unit: 'metres' });

beforeAll(async () => {
  service = await woundBySimulator('blobs-and-necks?seed=11', 20_000);
  await service.send('PUT', '/api/spools/1/choices', { shortestMm: 1000 });
  await service.send('PUT', '/api/runs/1/lot', {
    name: 'Grey supports',
    preparation: '',
    values: { colour: 'grey', dryingH: 6, fedKg: 0.2 },
  });
}, 60_000);
afterAll(() => service?.stop());

describe('the shelf', () => {
  it('has a spool that was not cut, then its coils and what is left of it', async () => {
    const [spool, ...more] = await shelf();
    expect(more).toEqual([]);
    expect(spool).toMatchObject({ kind: 'spool', material: 'Grey supports', colour: 'grey', usedUpBy: null });
    expect(spool!.leftMm).toBe(spool!.lengthMm);
    expect(await service.get('/api/stock?newest=1')).toEqual({ lowMm: 20_000, items: [spool], isComplete: true });
    const { steps } = await service.get<CutPlanView>('/api/spools/1/cut-plan');
    const second = steps.findIndex(
      (step, i) => step.coil !== null && steps.slice(0, i).some(({ coil }) => coil !== null),
    );
    const pieces = steps
      .slice(0, second + 1)
      .map(({ action, countedMm }) => ({ action: action === 'discard' ? 'discard' : 'keep', countedMm }) as const);
    await service.send('POST', '/api/spools/1/cuts/several', { pieces, cutsBefore: 0 });
    const items = await shelf();
    expect(items.map(({ kind, code }) => [kind, code.slice(-1)])).toEqual([
      ['coil', 'A'],
      ['coil', 'B'],
      ['spool', '1'],
    ]);
    a = items[0]!;
    expect(a).toMatchObject({ leftMm: a.lengthMm, isAtMost: false, isLow: true, lastEntryId: 0 });
    // π/4 · d² · ρ: strand of about 1.75 mm and 1.24 g/cm³ has 2.98 g/m (geometry).
    expect(a.leftGrams! / (a.leftMm / 1000)).toBeGreaterThan(2.8);
    expect(a.leftGrams! / (a.leftMm / 1000)).toBeLessThan(3.2);
  });

  it('takes strand that was used, and puts it back by undo', async () => {
    const { status, body } = await state(a.code, { kind: 'used', used: m(1.5), lastEntryId: 0 });
    expect(status).toBe(201);
    expect(body.item.leftMm).toBe(a.leftMm - 1500);
    expect(body.entries).toMatchObject([{ kind: 'used', used: m(1.5), who: 'Kim' }]);
    expect((await itemOf(a.code)).leftMm).toBe(a.leftMm - 1500);
    const [log] = service.store.reader.logEntries({ runId: 1, limit: 1 });
    expect(log).toMatchObject({ who: 'Kim', what: `Recorded 1.5 m used (${a.name}).` });
    const undone = await undo(a.code, body.entries[0]!.id);
    expect(undone).toMatchObject({ status: 200, body: { item: { leftMm: a.leftMm, lastEntryId: 0 }, entries: [] } });
  });

  it('answers which coil fits, over all of it, with the reserve as the reason where one is just too short', async () => {
    const [longest] = (await shelf()).filter(({ kind }) => kind === 'coil').sort((x, y) => y.leftMm - x.leftMm);
    const asked = (query: string) => service.get<StockFitView>(`/api/stock/fit?${query}`);
    const small = await asked('metres=0.5');
    expect(small.fits.map(({ code }) => code)).toContain(a.code);
    const need = (longest!.leftMm - 200) / 1000;
    const just = await asked(`metres=${need}`);
    expect(just.others.find(({ code }) => code === longest!.code)!.sentence).toMatch(/^Just too short.*in reserve/);
    expect((await service.send('GET', '/api/stock/fit')).body).toMatchObject({ code: 'bad-length' });
    expect((await service.send('GET', '/api/stock/fit?metres=0')).body).toMatchObject({ pointer: '/metres' });
    expect((await service.send('GET', '/api/stock/fit?metres=1&printerId=77')).body).toMatchObject({
      code: 'unknown-printer',
    });
    expect((await asked('metres=0.5&printerId=0')).fits.map(({ code }) => code)).toContain(a.code);
  });
});

describe('a print', () => {
  it('that jams is placed on the strand from the end that feeds, after what was used before', async () => {
    await state(a.code, { kind: 'used', used: m(1) });
    const { id } = (await service.send('POST', '/api/printers', BENCH)).body as { id: number };
    await state(a.code, { kind: 'started', print: m(2), printerId: id });
    const { body } = await state(a.code, { kind: 'jammed', used: { amount: 25, unit: 'percent' } });
    const [print] = body.prints;
    expect(print).toMatchObject({ outcome: 'jammed', isRunning: false, called: a.fitness, needs: m(2) });
    // Also the step that names no printer is on the one of its print.
    expect(body.entries.map(({ printer }) => printer)).toEqual([null, 'Bench', 'Bench']);
    const [mark] = print!.marks;
    expect(mark).toMatchObject({ kind: 'jammed', fromFeedMm: 1500 });
    // Rewinding turned the strand round: the inner end feeds, so places rise with the gauge length.
    const plan = await service.get<CutPlanView>('/api/spools/1/cut-plan');
    const { startGaugeMm } = service.store.reader.spool(1)!;
    expect(mark!.gaugeMm! - startGaugeMm).toBeCloseTo(plan.coils[0]!.fromMm + 1500, -1);
    expect(body.item.leftMm).toBe(a.leftMm - 1500);
    const { rows } = await service.get<PromisesView>('/api/promises');
    expect(rows.find(({ called }) => called === a.fitness)).toMatchObject({ jammed: 1, printedWell: 0 });
    await undoAll(a.code);
  });

  it('finished on the uncut rest uses its amount, and counts as printed well', async () => {
    const rest = (await shelf()).find(({ kind }) => kind === 'spool')!;
    const { body } = await state(rest.code, { kind: 'finished', used: m(1) });
    expect(body.item.leftMm).toBe(rest.leftMm - 1000);
    const { rows } = await service.get<PromisesView>('/api/promises');
    expect(rows.reduce((sum, row) => sum + row.printedWell, 0)).toBe(1);
    // The counts of the cut list would be off by that much.
    const plan = () => service.get<CutPlanView>('/api/spools/1/cut-plan');
    expect((await plan()).warnings[0]).toMatch(/^About 1\.0 m was used from the outer end of this spool\. Before/);
    // Ticked off, it is off the spool, and is not subtracted again.
    await service.send('POST', '/api/spools/1/cuts', { action: 'discard', countedMm: 1000 });
    expect((await plan()).warnings.join()).not.toMatch(/was used from the outer end/);
    expect((await itemOf(rest.code)).leftMm).toBe(rest.leftMm - 1000);
    await service.send('DELETE', '/api/spools/1/cuts/last');
    await undoAll(rest.code);
  });
});

describe('bad input', () => {
  it('refuses a coil used up twice, by name', async () => {
    await state(a.code, { kind: 'used', used: { unit: 'all' } }, 'Ada');
    expect((await itemOf(a.code)).usedUpBy).toBe('Ada');
    expect(await state(a.code, { kind: 'used', used: m(1) })).toMatchObject({
      status: 409,
      body: { code: 'wrong-state', title: `${a.name} is used up: Ada recorded that nothing is left.` },
    });
    await undoAll(a.code);
  });

  it('refuses more than there is, and says how much is left', async () => {
    const { status, body } = await state(a.code, { kind: 'used', used: m(500) });
    expect([status, body.code, body.pointer]).toEqual([400, 'bad-length', '/used/amount']);
    expect(body.title).toMatch(/has about \d+(\.\d)? m left, not 500 m\.$/);
  });

  it('refuses an amount in a unit that is none, or that does not suit it', async () => {
    expect(await state(a.code, { kind: 'used', used: { amount: 3, unit: 'feet' } })).toMatchObject({ status: 400 });
    expect((await state(a.code, { kind: 'used', used: { amount: 3, unit: 'percent' } })).body.code).toBe('bad-length');
    expect((await state(a.code, { kind: 'used', used: { unit: 'grams' } })).body.pointer).toBe('/used/amount');
  });

  it('takes one of two phones at once, and tells the other what happened', async () => {
    const both = await Promise.all(
      ['Kim', 'Ada'].map((who) => state(a.code, { kind: 'used', used: m(1), lastEntryId: 0 }, who)),
    );
    expect(both.map(({ status }) => status).sort()).toEqual([201, 409]);
    const refused = both.find(({ status }) => status === 409)!.body;
    expect(refused.title).toMatch(/^(Kim|Ada) recorded something about .* on another page: Recorded 1 m used\.$/);
    expect((await detail(a.code)).entries).toHaveLength(1);
    await undoAll(a.code);
  });

  it('undoes one’s own entry after a step of someone else, once', async () => {
    const mine = (await state(a.code, { kind: 'used', used: m(1) }, 'Kim')).body.item.lastEntryId;
    await state(a.code, { kind: 'used', used: m(0.5) }, 'Ada');
    expect(await undo(a.code, mine, 'Kim')).toMatchObject({ status: 200, body: { item: { leftMm: a.leftMm - 500 } } });
    expect(await undo(a.code, mine, 'Ada')).toMatchObject({
      status: 409,
      body: { title: 'Kim has undone this entry already.' },
    });
    expect((await undo(a.code, 4711)).body.title).toBe(`${a.name} has no entry 4711.`);
    await undoAll(a.code);
  });

  it('refuses a print on a deleted coil, and keeps what was recorded if it is restored', async () => {
    await state(a.code, { kind: 'used', used: m(1) });
    await service.send('DELETE', '/api/spools/1');
    expect(await shelf()).toEqual([]);
    expect(await state(a.code, { kind: 'started' })).toMatchObject({ status: 404, body: { code: 'unknown-spool' } });
    await service.send('POST', '/api/spools/1/restore');
    const restored = await itemOf(a.code).catch(() => undefined);
    expect(restored?.leftMm).toBe(a.leftMm - 1000);
    await undoAll(a.code);
  });

  it('keeps what was recorded with its strand when a cut is undone and made again', async () => {
    const rest = (await shelf()).find(({ kind }) => kind === 'spool')!;
    const [, b] = await shelf();
    await state(b!.code, { kind: 'used', used: m(0.7) });
    const { done } = await service.get<CutPlanView>('/api/spools/1/cut-plan');
    const last = done.at(-1)!;
    await service.send('DELETE', '/api/spools/1/cuts/last');
    expect((await service.send('GET', `/api/stock/${b!.code}`)).status).toBe(404);
    expect((await itemOf(rest.code)).lastEntryId).toBe(0);
    await service.send('POST', '/api/spools/1/cuts', { action: last.action, countedMm: last.countedMm });
    expect((await itemOf(b!.code)).leftMm).toBe(b!.leftMm - 700);
    await undoAll(b!.code);
  });
});

it('travels with its run in an archive', async () => {
  await state(a.code, { kind: 'finished', used: m(1) });
  const { bytes } = await service.bytes('/api/runs/1/archive');
  const headers = { 'content-type': 'application/vnd.strandward.run' };
  const reply = await fetch(`${service.address}/api/runs/import?again=true`, {
    method: 'POST',
    headers,
    body: Buffer.from(bytes),
  });
  expect(reply.status).toBe(201);
  const { id: runId } = (await reply.json()) as { id: number };
  const copy = (await shelf()).find((one) => one.runId === runId && one.kind === 'coil')!;
  expect(copy.leftMm).toBe(a.leftMm - 1000);
  await service.send('DELETE', `/api/runs/${runId}`);
  await undoAll(a.code);
});

it('yields: kg fed, wound and good by preparation', async () => {
  const { rows } = await service.get<YieldsView>('/api/yields');
  expect(rows).toHaveLength(1);
  const [row] = rows;
  expect(row).toMatchObject({ preparation: 'Grey supports: dried 6 h, grey', runIds: [1], fedKg: 0.2 });
  expect(row!.woundKg).toBeGreaterThan(row!.goodKg);
  expect(row!.goodShare).toBeCloseTo(row!.goodKg / 0.2, 2);
});
