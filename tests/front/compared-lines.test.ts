/** Runs of several lines compared by one of their services, and what it says of lines that do not answer. */
import { once } from 'node:events';
import { createServer } from 'node:http';
import { type AddressInfo, createServer as createTcpServer, type Socket } from 'node:net';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import type { ComparisonView, MeasureView } from '../../server/api/contract/comparison.ts';
import type { OtherLineView } from '../../server/api/contract/lines.ts';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { MUTE, startTestService, type TestService } from '../api/test-service.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { until } from '../service/running-service.ts';
import { keepRun } from '../store/kept-run.ts';

const START_MS = 1_750_000_000_000;
const DAY_MS = 86_400_000;
let front: TestService;
let other: TestService;
let garage: number;
const ends: (() => void)[] = [];

/** Runs 1, 3 and 5 dried for 4 h, 2, 4 and 6 for 8 h. @param factor of the distance between blobs */
function keepRuns({ store }: TestService, factor: number): void {
  for (let i = 0; i < 6; i++)
    keepRun(store, {
      startMs: START_MS + i * DAY_MS,
      lengthMm: 30_000,
      lot: { name: 'Moss supports', preparation: i % 2 === 0 ? 'dried 4 h' : 'dried 8 h', values: {} },
      blobsEveryMm: factor * (i % 2 === 0 ? 1000 : 2000) * (1 + 0.03 * i),
    });
}

beforeAll(async () => {
  [front, other] = (await Promise.all(
    ['Bench', 'Garage'].map((lineName) => startTestService(MUTE, { lineName, gaugeToWinderMm: 0 })),
  )) as [TestService, TestService];
  keepRuns(front, 1);
  keepRuns(other, 4);
  garage = await add(other.address, await watchToken());
  await until(
    () => front.get<OtherLineView[]>('/api/lines'),
    ([line]) => line?.name === 'Garage',
    'its name',
  );
}, 60_000);
afterAll(async () => {
  for (const end of ends) end();
  await front.stop();
  await other.stop();
});
afterEach(async () => {
  for (const { id } of await front.get<OtherLineView[]>('/api/lines'))
    if (id !== garage) await front.send('DELETE', `/api/lines/${id}`);
});

async function watchToken(): Promise<string> {
  const { body } = await other.send('POST', '/api/tokens', { name: 'front', right: 'watch' });
  return (body as { token: string }).token;
}

async function add(address: string, token = 'token'): Promise<number> {
  const { body } = await front.send('POST', '/api/lines', { address, watchToken: token });
  return (body as { id: number }).id;
}

/** A line of which only an answer is known. */
async function stranger(status: number, text: string): Promise<number> {
  const server = createServer((_request, reply) => reply.writeHead(status).end(text));
  return add(await listening(server));
}

async function listening(server: ReturnType<typeof createServer | typeof createTcpServer>): Promise<string> {
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  ends.push(() => server.close());
  return `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
}

const comparisonOf = (groups: string, more = '') =>
  front.get<ComparisonView>(`/api/comparison?groups=${groups}${more}`);
const measure = (view: ComparisonView, key: MeasureView['key']) => view.measures.find((one) => one.key === key)!;

describe('runs of two lines', () => {
  it('are compared with the figures of each, and the line may be the cause', async () => {
    const view = await comparisonOf(`1;${garage}:2`);
    expect(view.groups).toEqual([
      { name: 'run 1 of Bench', runs: ['1'] },
      { name: 'run 2 of Garage', runs: [`${garage}:2`] },
    ]);
    expect(view.runs.map(({ address, runId, ref }) => [address, runId, ref])).toEqual([
      ['', 1, '1'],
      [other.address, 2, `${garage}:2`],
    ]);
    const there = await other.get<ComparisonView>('/api/comparison?groups=2;1');
    for (const { key, runs } of view.measures)
      expect(runs[1]).toEqual({ ...measure(there, key).runs[0], name: 'run 2 of Garage', group: 1 });
    const here = view.runs[1]!.histogram!;
    expect(here.shares.reduce((sum, share) => sum + share, here.outsideShare)).toBeCloseTo(1, 3);
    expect(view.differences[0]).toEqual({ name: 'Line', values: ['Bench', 'Garage'], from: 'user' });
    expect(view.conclusion.preparation).toContain('drying time 8 h in run 2 of Garage, 4 h in run 1 of Bench.');
    expect(view.conclusion.limitations[0]).toMatch(/^Run 2 of Garage was not wound on the same line as run 1 of Bench/);
    expect(measure(view, 'blobsAndNecks').comparisons[0]).toMatchObject({ basis: 'counts', finding: 'differs' });
    expect(view.notAnswered).toEqual([]);
  });

  it('are judged for a printer of this line', async () => {
    const printer = { name: 'Heron', hotendLimitMm: 2.2, smallestFeedableMm: 1.2, toleranceMm: 0.35 };
    const { body } = await front.send('POST', '/api/printers', printer);
    const view = await comparisonOf(`1;${garage}:1`, `&printer=${(body as { id: number }).id}`);
    expect(view.runs.map(({ blobsAndNecks }) => blobsAndNecks)).toEqual([0, 0]);
    expect(measure(view, 'within').runs.map(({ value }) => value)).toEqual([1, 1]);
  });

  it('form groups that are compared within each line', async () => {
    // Garage has a fourth of the blobs, and more of its runs are in the second group.
    const view = await comparisonOf(`1,3,5,${garage}:1;2,${garage}:2,${garage}:4,${garage}:6`);
    const { groups, comparisons } = measure(view, 'blobsAndNecks');
    expect(comparisons[0]).toMatchObject({ basis: 'runs', finding: 'differs' });
    expect(comparisons[0]!.difference).toBeCloseTo(0.5, 1);
    expect(groups[1]!.value! / groups[0]!.value!).toBeCloseTo(comparisons[0]!.difference!, 6);
    expect(view.differences.map(({ name }) => name)).toEqual(['Drying time']);
    expect(view.conclusion.limitations.join(' ')).not.toContain('the same line');
  });

  it('are listed to be chosen', async () => {
    const runs = await front.get<RunView[]>(`/api/lines/${garage}/runs`);
    expect(runs).toEqual(await other.get('/api/runs'));
    expect(runs.map(({ id }) => id)).toEqual([6, 5, 4, 3, 2, 1]);
  });

  it('are told apart where the lines have one name', async () => {
    await front.send('PUT', '/api/settings', { lineName: 'Garage' });
    const { host } = new URL(other.address);
    try {
      expect((await comparisonOf(`1;${garage}:1`)).groups.map(({ name }) => name)).toEqual([
        'run 1 of Garage',
        `run 1 of Garage (${host})`,
      ]);
      expect(await front.get('/api/lines')).toMatchObject([{ name: 'Garage', title: `Garage (${host})` }]);
    } finally {
      await front.send('PUT', '/api/settings', { lineName: 'Bench' });
    }
  });
});

describe('what is missing is named, and the rest is compared', () => {
  it('where a run was deleted there', async () => {
    await other.send('DELETE', '/api/runs/3');
    try {
      const view = await comparisonOf(`1;${garage}:3,${garage}:5`);
      expect(view.notAnswered).toEqual([expect.stringMatching(/^run 3 of Garage: .*run 3.* bin/i)]);
      expect(view.groups[1]).toEqual({ name: 'run 5 of Garage', runs: [`${garage}:5`] });
    } finally {
      await other.send('POST', '/api/runs/3/restore');
    }
  });

  it.each([
    ['does not know the token', 401, '{}', /refuses the token/],
    ['is older', 404, JSON.stringify({ code: 'not-found', title: 'Nothing is here.' }), /another version/],
    ['answers something else', 200, '{"runId":1}', /another version/],
    ['fails', 500, '', /answered with status 500/],
    ['refuses with too many words', 404, JSON.stringify({ code: 'unknown-run', title: 'x'.repeat(9000) }), /x{300}$/],
  ])('where a line %s', async (_what, status, text, why) => {
    const id = await stranger(status, text);
    const view = await comparisonOf(`1;2;${id}:1,${id}:7`);
    expect(view.groups).toHaveLength(2);
    expect(view.notAnswered).toEqual([expect.stringMatching(/^run 1 of 127\.0\.0\.1:\d+ and run 7 of 127/)]);
    expect(view.notAnswered[0]).toMatch(why);
  });

  it('where nothing answers, or the line was removed', async () => {
    const gone = await add('http://127.0.0.1:9');
    const { notAnswered, groups } = await comparisonOf(`1;2;${gone}:1;4000:1`);
    expect(groups).toHaveLength(2);
    expect(notAnswered.toSorted()).toEqual([
      expect.stringMatching(/^run 1 of 127\.0\.0\.1:9: Nothing answers/),
      'run 1 of line 4000: There is no other line 4000.',
    ]);
  });

  it.skipIf(!IS_LONG_CHECK)(
    'where a line is silent',
    async () => {
      const sockets: Socket[] = [];
      const id = await add(await listening(createTcpServer((socket) => sockets.push(socket))));
      const { notAnswered } = await comparisonOf(`1;2;${id}:1,${id}:2,${id}:3`);
      for (const socket of sockets) socket.destroy();
      expect(notAnswered).toEqual([expect.stringMatching(/^run 1 of .* and run 3 of .* does not answer in time\.$/)]);
    },
    // It is asked once, and given up after 30 s.
    45_000,
  );

  it('or refused, where nothing else is left', async () => {
    const refused = await front.send('GET', '/api/comparison?groups=1;4000:1');
    expect(refused).toMatchObject({ status: 502, body: { code: 'line-failed' } });
    expect((refused.body as { title: string }).title).toBe(
      'Nothing is left to compare without run 1 of line 4000: There is no other line 4000.',
    );
  });
});

it.each(['1;0:1', `1;2:`, '1;:2', '1;2:3:4', '1;1234567:1', '1;-1:2'])('refuses the runs %s', async (groups) => {
  expect(await front.send('GET', `/api/comparison?groups=${encodeURIComponent(groups)}`)).toMatchObject({
    status: 400,
  });
});

it.each(['1.9,1.6', '1.9,1.6,x', '1.5,1.6,0.05', '9999,1,1'])(
  'refuses to judge a run by the limits %s',
  async (limits) => {
    expect(await other.send('GET', `/api/runs/1/summary?limits=${limits}`)).toMatchObject({ status: 400 });
  },
);
