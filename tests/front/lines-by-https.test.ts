/** Lines of one house that speak HTTPS: those with the authority of the house are trusted, others are not. */
import { afterAll, beforeAll, expect, it } from 'vitest';
import type { LinesFrame, SeenLineView } from '../../server/api/contract/lines.ts';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';

let front: RunningService;
let other: RunningService;
let stranger: RunningService;

beforeAll(async () => {
  const house = newDataFolder();
  const start = (https: readonly string[]) =>
    startService({ source: 'simulator:steady?pace=20', args: ['--log', 'warn', ...https] });
  const ofHouse = ['--https', 'own-ca', '--https-ca-folder', house];
  // The first one makes the authority that the second one uses.
  front = await start(ofHouse);
  [other, stranger] = await Promise.all([start(ofHouse), start(['--https', 'own-ca'])]);
}, 60_000);
afterAll(async () => {
  await Promise.all([front, other, stranger].map((service) => service?.remove()));
});

async function added(line: RunningService, protocol: string): Promise<number> {
  const { body } = await line.send('POST', '/api/tokens', { name: 'front', right: 'watch' });
  const address = `${protocol}://127.0.0.1:${new URL(line.address).port}`;
  const reply = await front.send('POST', '/api/lines', { address, watchToken: body.token });
  expect(reply.status).toBe(201);
  return reply.body.id;
}

const seen = (id: number, wanted: (line: SeenLineView) => boolean, what: string) =>
  until(
    async () => (await front.get<LinesFrame>('/live/lines')).lines.find((line) => line.id === id),
    (line) => line !== undefined && wanted(line),
    what,
  ) as Promise<SeenLineView>;

it('watches a line with the authority of the house, also for its runs', async () => {
  const id = await added(other, 'https');
  const line = await seen(id, ({ trace }) => trace.max.some((mm) => mm !== null && mm > 1), 'its strand');
  expect(line).toMatchObject({ connection: 'open' });
  const runs = await front.get<RunView[]>(`/api/lines/${id}/runs`);
  expect(runs).toMatchObject([{ id: 1 }]);
});

it('trusts no other authority, and says what to do', async () => {
  const id = await added(stranger, 'https');
  const line = await seen(id, ({ connection }) => connection === 'lost', 'that it is not trusted');
  expect(line.sentence).toMatch(/certificate of 127\.0\.0\.1:\d+ is not trusted\. Use the same authority of the house/);
});
