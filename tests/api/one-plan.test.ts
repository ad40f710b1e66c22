import { afterAll, beforeAll, expect, it, vi } from 'vitest';
import type { CutPlanView } from '../../server/api/contract/cut-plan.ts';
import { type TestService, woundBySimulator } from './test-service.ts';

const planned = vi.hoisted(() => ({ times: 0 }));
vi.mock('../../server/strand/plan/cut-plan.ts', async (original) => {
  const module = await original<typeof import('../../server/strand/plan/cut-plan.ts')>();
  const planCuts: typeof module.planCuts = (...given) => {
    planned.times += 1;
    return module.planCuts(...given);
  };
  return { ...module, planCuts };
});

let service: TestService;
beforeAll(async () => {
  service = await woundBySimulator('blobs-and-necks?seed=11', 20_000);
  await service.send('PUT', '/api/spools/1/choices', { shortestMm: 1000 });
}, 60_000);
afterAll(() => service?.stop());

it('plans once when a step is ticked off, and not again for later requests', async () => {
  const { steps } = await service.get<CutPlanView>('/api/spools/1/cut-plan');
  planned.times = 0;
  const step = steps[0]!;
  const cut = { action: step.action === 'discard' ? 'discard' : 'keep', countedMm: step.countedMm, cutsBefore: 0 };
  const { status, body } = await service.send('POST', '/api/spools/1/cuts', cut);
  expect([status, planned.times]).toEqual([201, 1]);
  expect(await service.get<CutPlanView>('/api/spools/1/cut-plan')).toEqual(body);
  // The report of a run has a cut list by the limits in force while it was made.
  for (const path of ['/judgement', '/reel', '/print-fit?metres=1']) await service.get(`/api/spools/1${path}`);
  expect(planned.times).toBe(1);
});
