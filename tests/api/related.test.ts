import { afterEach, expect, it } from 'vitest';
import type { RelatedReadingsView } from '../../server/api/contract/runs-and-spools.ts';
import { seeded } from '../chance.ts';
import { type TestService, woundFromLines } from './test-service.ts';

const services: TestService[] = [];
afterEach(async () => {
  for (const service of services.splice(0)) await service.stop();
});

const RATE_HZ = 5;
/** Each 20 s the die gets another temperature within 2 K. `umPerK` = how much thicker the strand gets with it. */
async function wound(seconds: number, umPerK: number): Promise<TestService> {
  const [ofDie, ofDamp, ofGauge] = [seeded(1), seeded(2), seeded(3)];
  let [dieK, damp] = [0, 40];
  const lines = Array.from({ length: seconds * RATE_HZ }, (_, i) => {
    if (i % (20 * RATE_HZ) === 0) [dieK, damp] = [2 * ofDie() - 1, 40 + 10 * ofDamp()];
    const d = 1.75 + (umPerK * dieK) / 1000 + 0.01 * (ofGauge() - 0.5);
    return `ms=${(i * 1000) / RATE_HZ} d=${d.toFixed(4)} t1=${(195 + dieK).toFixed(2)} s1=195 p1=0.4 damp=${damp.toFixed(2)} v=20 len=${(i * 20) / RATE_HZ}`;
  });
  const service = await woundFromLines(lines);
  services.push(service);
  return service;
}

const related = (service: TestService) => service.get<RelatedReadingsView>('/api/runs/1/related');

it('lists a signal that moved with the strand, with its unlikelihood, and none that did not', async () => {
  const { found, tried } = await related(await wound(1600, 5));
  expect(tried).toBeGreaterThanOrEqual(2);
  expect(found.map(({ signal }) => signal)).toEqual(['t1']);
  expect(found[0]!.correlation).toBeGreaterThan(0.5);
  expect(found[0]!.chance).toBeLessThanOrEqual(0.01);
});

it('lists nothing where no signal moved with the strand, and tries none in a run that is too short', async () => {
  expect((await related(await wound(1600, 0))).found).toEqual([]);
  expect(await related(await wound(300, 5))).toEqual({ found: [], tried: 0 });
});

it('is refused for a run that is not there', async () => {
  expect((await (await wound(20, 0)).send('GET', '/api/runs/99/related')).body).toMatchObject({ code: 'unknown-run' });
});
