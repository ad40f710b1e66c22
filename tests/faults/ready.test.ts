/** Whether the line is being watched, as a supervisor or another program sees it. */
import { afterEach, expect, it } from 'vitest';
import type { Source, SourceListener } from '../../server/source/source.ts';
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
  // The service itself works all the same.
  expect((await service.send('GET', '/health')).status).toBe(200);
});
