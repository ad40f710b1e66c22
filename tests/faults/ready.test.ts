/** Whether the line is being watched, as a supervisor or another program sees it. */
import { afterEach, expect, it } from 'vitest';
import type { Source, SourceListener } from '../../server/source/source.ts';
import { RecordFailing } from '../../server/store/index.ts';
import { startTestService, type TestService } from '../api/test-service.ts';
import { askAs } from '../security/other-device.ts';

let service: TestService;
afterEach(() => service.stop());

/** A service with a board that prints what the test gives it. */
async function connected(): Promise<SourceListener> {
  let board: SourceListener | null = null;
  const source: Source = {
    title: 'a board',
    timing: 'live',
    resumable: false,
    start(listener) {
      board = listener;
      listener.opened();
      listener.status({ phase: 'open', text: 'Connected.' });
    },
    stop: async () => {},
  };
  service = await startTestService(source);
  service.monitor.start();
  return board!;
}

it('is ready once a reading has arrived, and says why when the source is lost', async () => {
  const board = await connected();
  const ready = () => service.send('GET', '/ready');
  expect(await ready()).toMatchObject({
    status: 503,
    body: { code: 'not-ready', title: expect.stringMatching(/No reading/) },
  });
  await expect
    .poll(async () => {
      board.bytes(Buffer.from(`ms=${Math.round(performance.now())} d=1.75 v=35\n`), Date.now());
      return await ready();
    })
    .toEqual({ status: 200, body: { status: 'watching' } });
  board.status({ phase: 'waiting', text: 'The cable was unplugged.' });
  expect(await ready()).toMatchObject({ status: 503, body: { title: expect.stringMatching(/cable was unplugged/) } });
  // A stranger on the network learns no more than that: reasons name ports, files and addresses.
  expect(await askAs(service, 'GET', '/ready')).toMatchObject({
    status: 503,
    body: { code: 'not-ready', title: 'Strandward is not watching the line.' },
  });
  // A full disk does not keep the line from being watched.
  board.status({ phase: 'open', text: 'Connected.' });
  Object.assign(service.store.writer, {
    beginRun: () => {
      throw new RecordFailing('full', 'The disk that holds /x is full.', 'Free some space.');
    },
  });
  service.monitor.setStage('winding', 'test');
  await expect
    .poll(async () => {
      board.bytes(Buffer.from(`ms=${Math.round(performance.now())} d=1.75 v=35\n`), Date.now());
      return (await ready()).body;
    })
    .toMatchObject({
      title: 'The line is watched, but nothing is recorded. The disk that holds /x is full.',
      detail: 'Check the disk. Readings wait in memory until then.',
    });
  expect((await askAs(service, 'GET', '/ready')).body).toMatchObject({
    title: 'The line is watched, but nothing is recorded.',
  });
  // The service itself works all the same.
  expect((await service.send('GET', '/health')).status).toBe(200);
});

/** Prints a line with these names and asks whether the service is ready. */
function readyWith(board: SourceListener, ...names: readonly [string, string]) {
  let printed = 0;
  return () => {
    const [d, t] = [1.75, 200].map((value) => (value + (++printed % 7) / 1000).toFixed(3));
    board.bytes(Buffer.from(`${names[0]}=${d} ${names[1]}=${t}\n`), Date.now());
    return service.send('GET', '/ready');
  };
}
const LEARNT = { timeout: 10_000 };

it('is not ready as long as no name in the lines is understood', async () => {
  const board = await connected();
  await expect.poll(readyWith(board, 'aa', 'bb'), LEARNT).toMatchObject({
    status: 503,
    body: { title: expect.stringMatching(/aa, bb.*nothing is watched/), detail: expect.stringMatching(/Set-up/) },
  });
});

it('is no longer ready when the names change and none is understood', async () => {
  const board = await connected();
  await expect.poll(readyWith(board, 'd', 't1'), LEARNT).toMatchObject({ status: 200 });
  await expect.poll(readyWith(board, 'aa', 'bb'), LEARNT).toMatchObject({
    status: 503,
    body: { title: expect.stringMatching(/none is understood/) },
  });
});

it('is ready while heat alone is watched', async () => {
  const board = await connected();
  await expect.poll(readyWith(board, 'foo', 't1'), LEARNT).toMatchObject({ status: 200 });
});
