/** Which choices of users are kept, and what happens to them when printers, settings and lengths change. */
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { CutPlanView, PrintFitView } from '../../server/api/contract/cut-plan.ts';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { PrinterProfile } from '../../server/api/contract/printers.ts';
import { type TestService, woundFromLines } from './test-service.ts';

/** 30 m, 1 mm a reading, with a blob at 5, 15 and 25 m. */
const LINES = Array.from({ length: 30_001 }, (_, mm) => {
  const blob = mm % 10_000 >= 5000 && mm % 10_000 < 5010;
  return `ms=${mm * 50} n=${mm} d=${(blob ? 2 : 1.75 + 0.003 * Math.sin(mm * 12.9898)).toFixed(3)} v=20 len=${mm}`;
});
const NARROW = { name: 'Narrow', hotendLimitMm: 1.85, smallestFeedableMm: 1.65, toleranceMm: 0.04, note: '' };

let service: TestService;
beforeAll(async () => {
  service = await woundFromLines(LINES, { shortestCoilMm: 1000 });
}, 60_000);
afterAll(() => service?.stop());

const plan = () => service.get<CutPlanView>('/api/spools/1/cut-plan');
const choose = (change: object) => service.send('PUT', '/api/spools/1/choices', change);
const addPrinter = async (printer: object) =>
  ((await service.send('POST', '/api/printers', printer)).body as PrinterProfile).id;

test('falls back to the limits of the line when a printer is removed, and keeps the other choices', async () => {
  const id = await addPrinter(NARROW);
  expect((await choose({ printerId: id, doubtful: 'keep' })).status).toBe(200);
  await service.send('DELETE', `/api/printers/${id}`);
  expect(await plan()).toMatchObject({ printer: { id: 0 }, choices: { printerId: 0, doubtful: 'keep' } });
  expect(await choose({ doubtful: 'cut' })).toMatchObject({ status: 200, body: { printerId: 0, doubtful: 'cut' } });
});

test('refuses a printer that feeds what counts as no strand, and names it when the settings cause that later', async () => {
  const id = await addPrinter({ ...NARROW, name: 'Thin', smallestFeedableMm: 0.9 });
  await choose({ printerId: id });
  expect(await plan()).toMatchObject({ printer: { id, hotendLimitMm: 1.85 }, warnings: [] });
  await service.send('PUT', '/api/settings', { strandPresentMm: 1 });
  const instead = await plan();
  expect(instead.printer.id).toBe(0);
  expect(instead.warnings.join(' ')).toMatch(/instead of Thin’s.*0\.9 mm/);
  expect((await choose({ printerId: id })).status).toBe(400);
  await service.send('PUT', '/api/settings', { strandPresentMm: 0.5 });
  await choose({ printerId: 0 });
});

test('keeps two choices made at the same time', async () => {
  await Promise.all([choose({ objective: 'fewestCuts' }), choose({ unknown: 'keep' })]);
  expect((await plan()).choices).toMatchObject({ objective: 'fewestCuts', unknown: 'keep' });
  await choose({ objective: 'mostLength', unknown: 'cut' });
});

test('ignores a name for a coil that the cut list does not have', async () => {
  service.store.spoolStatements.nameCoil(1, { coil: 99, name: 'Lost', place: null }, 1, 'somebody');
  expect((await plan()).coils.map(({ name }) => name)).not.toContain('Lost');
  const changed = await service.send('POST', '/api/spools/1/split', { atGaugeMm: 29_000 });
  expect(JSON.stringify(changed.body)).not.toContain('Take the names off');
});

test('cuts for a list of prints, and says so if that is longer than the spool', async () => {
  const chosen = async (prints: readonly object[]) =>
    service.send('PUT', '/api/spools/1/choices', { prints, objective: 'prints' });
  const { woundMm } = (await plan()).totals;
  expect(
    (
      await chosen([
        { amount: 1, unit: 'metres' },
        { amount: 2.982, unit: 'grams' },
      ])
    ).status,
  ).toBe(200);
  const both = await plan();
  expect(both.choices.prints).toEqual([
    { amount: 1, unit: 'metres' },
    { amount: 2.982, unit: 'grams' },
  ]);
  // A metre of 1.75 mm at 1.24 g/cm³ weighs 2.982 g. 3 % and 500 mm in reserve, and 2 % since no tape measured the lengths.
  for (const { needMm } of both.prints) expect(Math.abs(needMm - 1530 / 0.98)).toBeLessThan(1);
  expect(both.explanation).toContain('There is a coil for every print on the list.');
  await chosen([
    { amount: 1, unit: 'metres' },
    { amount: 10, unit: 'grams' },
    { amount: woundMm / 1000, unit: 'metres' },
  ]);
  const long = await plan();
  expect(long.prints.map(({ coil }) => coil !== null)).toEqual([true, true, false]);
  expect(long.explanation).toMatch(
    /The prints need .* with reserve, more than the .* on the spool\. There is a coil for 2 of the 3 prints\./,
  );
  expect((await chosen([{ amount: 0, unit: 'metres' }])).status).toBe(400);
  expect((await chosen(Array.from({ length: 11 }, () => ({ amount: 1, unit: 'metres' })))).status).toBe(400);
  await service.send('PUT', '/api/spools/1/choices', { prints: [], objective: 'mostLength' });
});

test('converts the grams of a print with the density of this strand, not the current setting', async () => {
  const needed = () => service.get<PrintFitView>('/api/spools/1/print-fit?grams=10');
  const before = (await needed()).needMm;
  const { settings } = await service.get<{ settings: { densityGPerCm3: number } }>('/api/settings');
  await service.send('PUT', '/api/settings', { densityGPerCm3: 1.04 });
  expect((await needed()).needMm).toBe(before);
  await service.send('PUT', '/api/settings', { densityGPerCm3: settings.densityGPerCm3 });
});

test('a tape measurement changes positions, not the length that was counted and cut off', async () => {
  const before = await service.get<SpoolJudgement>('/api/spools/1/judgement');
  const { steps } = await plan();
  const first = steps[0]!;
  expect(first.action).toBe('unwindAndKeep');
  await service.send('POST', '/api/spools/1/cuts', { action: 'keep', countedMm: first.countedMm });
  expect((await plan()).done[0]).toMatchObject({ condition: 'clean' });
  // The strand is 5 % shorter than the line counted: the length cut off contains the blob that would have come next.
  await service.send('PUT', '/api/spools/1/length-correction', {
    measuredMm: 9500,
    indicatedMm: 10_000,
    uncertaintyMm: 5,
  });
  const { done } = await plan();
  expect(done[0]!.toOuterMm - done[0]!.fromOuterMm).toBeCloseTo(first.countedMm, -1);
  expect(done[0]).toMatchObject({ condition: 'spoilt' });
  const { woundMm } = await service.get<SpoolJudgement>('/api/spools/1/judgement');
  expect(woundMm).toBeCloseTo(0.95 * before.woundMm, 0);
});
