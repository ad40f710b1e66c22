/** A spool with more sections than are planned between two readings: the built service plans it on its worker. */
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { CutPlanView } from '../../server/api/contract/cut-plan.ts';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { RunningService } from '../service/running-service.ts';
import { windRecording } from '../service/wound-recording.ts';

/** 45 m, a reading a millimetre: settled after 4 m; then a blob every 250 mm, and on the outer 12 m every 6 m. */
const LINES = Array.from({ length: 45_001 }, (_, mm) => {
  const blob = mm < 33_000 ? mm % 250 < 6 && mm > 4000 : mm % 6000 < 6;
  return `ms=${mm * 50} n=${mm} d=${(blob ? 2 : 1.75 + 0.003 * Math.sin(mm * 12.9898)).toFixed(3)} v=20 len=${mm}`;
});

let service: RunningService;
beforeAll(async () => {
  service = await windRecording(LINES);
}, 120_000);
afterAll(() => service?.remove());

const planned = () => service.get<CutPlanView>('/api/spools/1/cut-plan');
const tick = (cut: object) => service.send('POST', '/api/spools/1/cuts', cut);

test('every blob is cut out, the rest is kept in coils, and a step can be ticked off', async () => {
  const { sections, woundMm } = await service.get<SpoolJudgement>('/api/spools/1/judgement');
  expect(sections.length).toBeGreaterThan(100);
  const { coils, totals, steps, fitness } = await planned();
  expect(fitness).toBe('fitAfterCutting');
  expect(totals.keptMm + totals.discardedMm + totals.unknownMm).toBe(totals.woundMm);
  expect(totals.woundMm).toBeCloseTo(woundMm, -1);
  expect(coils.length).toBeGreaterThan(0);
  for (const coil of coils)
    expect(
      sections.filter(({ fromSpoolMm, toSpoolMm }) => toSpoolMm! > coil.fromMm && fromSpoolMm! < coil.toMm),
    ).toEqual([]);
  const { action, countedMm } = steps[0]!;
  const cut = { action: action === 'discard' ? 'discard' : 'keep', countedMm, cutsBefore: 0 };
  expect(await tick({ ...cut, countedMm: 1e9 })).toMatchObject({ status: 400, body: { pointer: '/countedMm' } });
  expect((await tick(cut)).status).toBe(201);
  expect((await planned()).done).toMatchObject([{ countedMm, action: cut.action }]);
});

test('if two users tick off the same step at the same time, the second gets an error', async () => {
  const { done, steps } = await planned();
  const { action, countedMm } = steps[0]!;
  const cut = { action: action === 'discard' ? 'discard' : 'keep', countedMm, cutsBefore: done.length };
  const both = await Promise.all([tick(cut), tick(cut)]);
  expect(both.map(({ status }) => status).sort()).toEqual([201, 409]);
  expect((await planned()).done).toHaveLength(done.length + 1);
});
