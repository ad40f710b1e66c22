/** Whether the line is being watched, as a supervisor or another program sees it. */
import { afterEach, expect, it } from 'vitest';
import type { Source, SourceListener } from '../../server/source/source.ts';
import { RecordFailing } from '../../server/store/index.ts';
import { startTestService, type TestService } from '../api/test-service.ts';
import { askAs } from '../security/other-device.ts';

let service: TestService;
afterEach(() => service.stop());

it('is ready once a reading has arrived, and says why when the source is lost', async () => {
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
  const ready = () => service.send('GET', '/ready');
  expect(await ready()).toMatchObject({
    status: 503,
    body: { code: 'not-ready', title: expect.stringMatching(/No reading/) },
  });
  await expect
    .poll(async () => {
      board!.bytes(Buffer.from(`ms=${Math.round(performance.now())} d=1.75 v=35\n`), Date.now());
      return await ready();
    })
    .toEqual({ status: 200, body: { status: 'watching' } });
  board!.status({ phase: 'waiting', text: 'The cable was unplugged.' });
  expect(await ready()).toMatchObject({ status: 503, body: { title: expect.stringMatching(/cable was unplugged/) } });
  // A stranger on the network learns no more than that: reasons name ports, files and addresses.
  expect(await askAs(service, 'GET', '/ready')).toMatchObject({
    status: 503,
    body: { code: 'not-ready', title: 'Strandward is not watching the line.' },
  });
  // A full disk does not keep the line from being watched.
  board!.status({ phase: 'open', text: 'Connected.' });
  Object.assign(service.store.writer, {
    beginRun: () => {
      throw new RecordFailing('full', 'The disk that holds /x is full.', 'Free some space.');
    },
  });
  service.monitor.setStage('winding', 'test');
  await expect
    .poll(async () => {
      board!.bytes(Buffer.from(`ms=${Math.round(performance.now())} d=1.75 v=35\n`), Date.now());
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
