import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { SpoolDetail } from '../../server/api/contract.ts';
import type { SpoolJudgement } from '../../server/api/spool-contract.ts';
import { SCENARIOS } from '../../simulator/scenarios/index.ts';
import { type TestService, woundBySimulator } from './test-service.ts';

/** How long the scenario's script leaves the gauge frozen, s. */
const [from, to] = SCENARIOS.get('gauge-frozen')!.script.filter((step) => step.do === 'gauge-fault');
const FROZEN_S = to!.atS - from!.atS;
let service: TestService;

beforeAll(async () => {
  service = await woundBySimulator('gauge-frozen?seed=1', 9000);
}, 60_000);
afterAll(() => service?.stop());

describe('strand that passed a frozen gauge', () => {
  it('is unknown on the spool, from the first repeated reading to the last', async () => {
    const { sections } = await service.get<SpoolDetail>('/api/spools/1');
    const unknown = sections.filter((section) => section.kind === 'unknown');
    expect(unknown).toHaveLength(1);
    const [section] = unknown;
    expect((section!.toTimeMs! - section!.fromTimeMs!) / 1000).toBeCloseTo(FROZEN_S, 0);
    // The scenario's puller runs at 35 mm/s, give or take its swing.
    expect(section!.toSpoolMm! - section!.fromSpoolMm!).toBeGreaterThan(0.9 * 35 * FROZEN_S);
  });

  it('is just as unknown when the spool is judged anew', async () => {
    const { sections: live } = await service.get<SpoolDetail>('/api/spools/1');
    const { sections: anew, totals } = await service.get<SpoolJudgement>('/api/spools/1/judgement');
    expect(anew.map(({ kind, recordedId }) => [kind, recordedId])).toEqual(live.map(({ kind, id }) => [kind, id]));
    expect(totals.unknownMm).toBeGreaterThan(0.9 * 35 * FROZEN_S);
  });
});
